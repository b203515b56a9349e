"""Readings that came long after they were measured, or whose time is not known yet."""

LATE: tuple[str, ...] = (
    # What was gathered of those that come in at the moment, until people are told of it; at most one row.
    "CREATE TABLE late_gathering (only INTEGER PRIMARY KEY CHECK (only = 1), state TEXT NOT NULL)",
    # How often late readings of a channel came: whoever keeps a figure of its past sees by it whether that holds.
    "CREATE TABLE late_change (channel TEXT PRIMARY KEY, changes INTEGER NOT NULL) WITHOUT ROWID",
    # Messages whose time is not known, in the order in which they came. The number is never given twice.
    """CREATE TABLE held_message (
        held_id INTEGER PRIMARY KEY AUTOINCREMENT,
        topic TEXT NOT NULL,
        payload BLOB NOT NULL,
        retained INTEGER NOT NULL,
        boot TEXT NOT NULL,
        steady_ms INTEGER NOT NULL)""",
)
