"""Who changed what, from where and why: one table for every change that has no journal of its own."""

from daemon.storage.schema import append_only

AUDIT: tuple[str, ...] = (
    # `old` and `new` are JSON without secrets. `from_where`: the address of a browser, or "host" for a command.
    """CREATE TABLE audit_event (
        event_id INTEGER PRIMARY KEY,
        at_ms INTEGER NOT NULL,
        who TEXT NOT NULL,
        from_where TEXT NOT NULL,
        what TEXT NOT NULL,
        about TEXT NOT NULL,
        old TEXT NOT NULL,
        new TEXT NOT NULL,
        why TEXT NOT NULL)""",
    "CREATE INDEX audit_about ON audit_event (about, event_id)",
    *append_only("audit_event"),
)
