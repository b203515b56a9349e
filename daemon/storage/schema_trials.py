"""Test messages to people, and whether they were confirmed."""

from daemon.storage.schema import append_only

TRIALS: tuple[str, ...] = (
    # One row for each test message to each contact. `occasion` is the week that it belongs to. `token_hash` is that of
    # the link in it, empty where it has none.
    """CREATE TABLE trial (
        message_id TEXT PRIMARY KEY,
        contact TEXT NOT NULL,
        person TEXT NOT NULL,
        occasion TEXT NOT NULL,
        sent_at_ms INTEGER NOT NULL,
        token_hash TEXT NOT NULL) WITHOUT ROWID""",
    "CREATE INDEX trial_of_contact ON trial (contact, sent_at_ms)",
    "CREATE UNIQUE INDEX trial_of_token ON trial (token_hash) WHERE token_hash != ''",
    *append_only("trial"),
    # That it arrived, as somebody said. `how` is the way in which they said so.
    """CREATE TABLE trial_confirmed (
        message_id TEXT PRIMARY KEY REFERENCES trial,
        at_ms INTEGER NOT NULL,
        who TEXT NOT NULL,
        how TEXT NOT NULL) WITHOUT ROWID""",
    *append_only("trial_confirmed"),
)
