"""Who is on duty, who is away, and who has accepted."""

from daemon.storage.schema import append_only

DUTY: tuple[str, ...] = (
    # What somebody planned: a duty of `person`, or that they are away. `end_ms` is NULL where nobody follows.
    """CREATE TABLE rota_entry (
        entry_id INTEGER PRIMARY KEY,
        kind TEXT NOT NULL CHECK (kind IN ('duty', 'absence')),
        person TEXT NOT NULL,
        second TEXT NOT NULL,
        start_ms INTEGER NOT NULL,
        end_ms INTEGER,
        planned_ms INTEGER NOT NULL,
        who TEXT NOT NULL,
        why TEXT NOT NULL)""",
    # What became of it. A correction is a cancellation and a new entry.
    """CREATE TABLE rota_change (
        change_id INTEGER PRIMARY KEY,
        entry_id INTEGER NOT NULL REFERENCES rota_entry,
        what TEXT NOT NULL CHECK (what IN ('accepted', 'cancelled')),
        at_ms INTEGER NOT NULL,
        who TEXT NOT NULL,
        why TEXT NOT NULL,
        UNIQUE (entry_id, what))""",
    # What people were told of a hand-over, so that each is told once.
    """CREATE TABLE rota_told (
        entry_id INTEGER NOT NULL REFERENCES rota_entry,
        what TEXT NOT NULL,
        at_ms INTEGER NOT NULL,
        PRIMARY KEY (entry_id, what)) WITHOUT ROWID""",
    # What the link of such a message is good for: for this person to take over this duty.
    """CREATE TABLE rota_link (
        token_hash TEXT PRIMARY KEY,
        entry_id INTEGER NOT NULL REFERENCES rota_entry,
        person TEXT NOT NULL,
        created_at_ms INTEGER NOT NULL,
        expires_at_ms INTEGER NOT NULL) WITHOUT ROWID""",
    *append_only("rota_entry"),
    *append_only("rota_change"),
    *append_only("rota_told"),
)
