"""Indexes by which a page of a list is found that grows with the years."""

PAGING: tuple[str, ...] = (
    # Those that were closed last come first; what was entered by mistake is not among them.
    """CREATE INDEX clutch_closed ON clutch (closed_at_ms, clutch_id)
        WHERE closed_at_ms IS NOT NULL AND withdrawn_at_ms IS NULL""",
)
