"""What was found in each box during a round."""

FINDINGS: tuple[str, ...] = ()
