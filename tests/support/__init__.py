"""What tests share: real services, receivers, checks."""
