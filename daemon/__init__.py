"""From a reading to a decision: the service."""
