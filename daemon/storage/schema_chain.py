"""The chain over events and the daily digests of readings: what shows that nothing was changed afterwards."""

from daemon.storage.schema import append_only

CHAIN: tuple[str, ...] = (
    # What the chain covers: one row for each table, and a new one where a table gets more columns. `happening`: whether
    # a row is sealed when it is written or when it is ended. `key_columns` and `covered`: JSON, names of columns.
    """CREATE TABLE chain_source (
        source_id INTEGER PRIMARY KEY,
        of_table TEXT NOT NULL,
        happening TEXT NOT NULL CHECK (happening IN ('insert', 'update')),
        key_columns TEXT NOT NULL,
        covered TEXT NOT NULL,
        time_column TEXT NOT NULL,
        followed_ms INTEGER NOT NULL)""",
    *append_only("chain_source"),
    # What was written and has no link yet. Triggers fill it, the end of each transaction empties it. `row_key` has no
    # type, so that a number stays one and a text as well.
    "CREATE TABLE unsealed (place INTEGER PRIMARY KEY, source_id INTEGER NOT NULL, row_key NOT NULL)",
    # `at_ms` is the time that the row itself gives for its writing, where it gives one. How the hashes are made:
    # `daemon/chain_rules.py`.
    """CREATE TABLE chain_link (
        link INTEGER PRIMARY KEY,
        at_ms INTEGER NOT NULL,
        source_id INTEGER NOT NULL REFERENCES chain_source,
        row_key NOT NULL,
        row_hash BLOB NOT NULL,
        hash BLOB NOT NULL)""",
    *append_only("chain_link"),
    # Readings that were stored one after another on one UTC day. A day has several where the clock was set meanwhile.
    """CREATE TABLE sample_day (
        digest_id INTEGER PRIMARY KEY,
        day TEXT NOT NULL,
        first_seq INTEGER NOT NULL,
        last_seq INTEGER NOT NULL,
        readings INTEGER NOT NULL,
        sha256 TEXT NOT NULL,
        made_ms INTEGER NOT NULL)""",
    *append_only("sample_day"),
    # The number of a channel stands for it in every reading.
    *append_only("channel"),
    # The files that a keeper writes, as they were when they were last looked at, without the addresses and secrets in
    # them. `digest` is a slow hash of the whole file, so that nobody reads a secret out of it; `salt` is drawn.
    """CREATE TABLE stated_file (
        name TEXT PRIMARY KEY,
        digest TEXT NOT NULL,
        salt TEXT NOT NULL,
        text TEXT NOT NULL) WITHOUT ROWID""",
)
