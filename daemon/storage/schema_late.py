"""Readings that came long after they were measured."""

LATE: tuple[str, ...] = ()
