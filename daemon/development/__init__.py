"""Pure: how far a clutch has come."""
