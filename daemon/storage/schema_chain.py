"""The chain over events and the daily digests of readings: what shows that nothing was changed afterwards."""

CHAIN: tuple[str, ...] = ()
