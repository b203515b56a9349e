"""What happened, after an outage."""
