"""Pure: limits, conditions, wording. Edge: the outbox and delivery."""
