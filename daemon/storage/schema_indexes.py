"""Indexes that the read side needs."""

INDEXES: tuple[str, ...] = ()
