"""Calendar feeds with what is in them, and what the keeper states for the sheet of a hand-over."""

from daemon.storage.schema import append_only

CALENDAR: tuple[str, ...] = (
    # `token_hash` is SHA-256 of what was drawn at random; who has the token may read the calendar and nothing else.
    """CREATE TABLE calendar_feed (
        feed_id INTEGER PRIMARY KEY,
        name TEXT NOT NULL COLLATE NOCASE,
        token_hash TEXT NOT NULL UNIQUE,
        made_ms INTEGER NOT NULL,
        made_by TEXT NOT NULL,
        seen_ms INTEGER,
        withdrawn_ms INTEGER)""",
    "CREATE UNIQUE INDEX calendar_feed_in_use ON calendar_feed (name) WHERE withdrawn_ms IS NULL",
    # What a calendar shows, as it was when it last changed: a program knows an entry by its `uid`, and that it was
    # moved by `sequence`. `key` says what it is about. One that is over stays, so that it never begins anew from 0.
    """CREATE TABLE calendar_entry (
        key TEXT PRIMARY KEY,
        uid TEXT NOT NULL UNIQUE,
        sequence INTEGER NOT NULL,
        created_ms INTEGER NOT NULL,
        modified_ms INTEGER NOT NULL,
        entry TEXT NOT NULL,
        gone_ms INTEGER) WITHOUT ROWID""",
    """CREATE TABLE hand_over_note (
        note_id INTEGER PRIMARY KEY,
        at_ms INTEGER NOT NULL,
        who TEXT NOT NULL,
        text TEXT NOT NULL)""",
    *append_only("hand_over_note"),
)
