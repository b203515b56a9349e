"""A scenario of its own, invented throughout, that shows the whole way from a probe to a phone."""
