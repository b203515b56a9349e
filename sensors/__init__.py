"""From a probe to a trustworthy reading."""
