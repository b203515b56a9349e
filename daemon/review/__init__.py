"""Pure: what happened, after an outage."""
