"""The tables of the journal. Times are UTC milliseconds since the epoch; values are in the unit of their quantity."""


def append_only(table: str) -> tuple[str, ...]:
    """Triggers that let a table grow and nothing else."""
    return tuple(
        f"CREATE TRIGGER {table}_refuses_{action} BEFORE {action} ON {table}"
        f" BEGIN SELECT RAISE(ABORT, '{table} rows are never changed or removed'); END"
        for action in ("update", "delete")
    )


def _raises_version(table: str, action: str) -> str:
    raising = "UPDATE register_version SET version = version + 1"
    return f"CREATE TRIGGER {table}_{action}_raises_version AFTER {action} ON {table} BEGIN {raising}; END"


_READINGS = (
    """CREATE TABLE channel (
        channel_id INTEGER PRIMARY KEY,
        channel TEXT NOT NULL UNIQUE,
        probe TEXT NOT NULL,
        quantity TEXT NOT NULL)""",
    # The sequence number is the order of storing. It has no gaps, because nothing is removed.
    """CREATE TABLE sample (
        seq INTEGER PRIMARY KEY,
        channel_id INTEGER NOT NULL REFERENCES channel,
        measured_at_ms INTEGER NOT NULL,
        received_at_ms INTEGER NOT NULL,
        value REAL NOT NULL,
        quality INTEGER NOT NULL,
        UNIQUE (channel_id, measured_at_ms))""",
    *append_only("sample"),
    """CREATE TABLE kept_message (
        id INTEGER PRIMARY KEY,
        topic TEXT NOT NULL,
        payload BLOB NOT NULL,
        retained INTEGER NOT NULL,
        received_at_ms INTEGER NOT NULL,
        outcome TEXT NOT NULL,
        reason TEXT NOT NULL)""",
    "CREATE TABLE message_count (outcome TEXT PRIMARY KEY, n INTEGER NOT NULL) WITHOUT ROWID",
    """CREATE TABLE probe_status (
        probe TEXT PRIMARY KEY,
        online INTEGER NOT NULL,
        at_ms INTEGER NOT NULL) WITHOUT ROWID""",
)

_REGISTER = (
    """CREATE TABLE clutch (
        clutch_id INTEGER PRIMARY KEY,
        label TEXT NOT NULL COLLATE NOCASE,
        species_id TEXT NOT NULL,
        population TEXT,
        laid_from_ms INTEGER NOT NULL,
        laid_to_ms INTEGER NOT NULL,
        egg_count INTEGER NOT NULL,
        note TEXT NOT NULL,
        closed_at_ms INTEGER,
        CHECK (egg_count >= 1),
        CHECK (laid_from_ms <= laid_to_ms))""",
    "CREATE UNIQUE INDEX clutch_open_label ON clutch (label) WHERE closed_at_ms IS NULL",
    # Of rows with the same start the newest counts; the older ones show what was believed before.
    """CREATE TABLE placement (
        placement_id INTEGER PRIMARY KEY,
        clutch_id INTEGER NOT NULL REFERENCES clutch,
        place TEXT NOT NULL,
        from_ms INTEGER NOT NULL,
        recorded_at_ms INTEGER NOT NULL)""",
    "CREATE INDEX placement_of_clutch ON placement (clutch_id, from_ms, placement_id)",
    *append_only("placement"),
    """CREATE TABLE register_change (
        change_id INTEGER PRIMARY KEY,
        at_ms INTEGER NOT NULL,
        who TEXT NOT NULL,
        clutch_id INTEGER NOT NULL REFERENCES clutch,
        what TEXT NOT NULL,
        why TEXT NOT NULL,
        old TEXT NOT NULL,
        new TEXT NOT NULL)""",
    *append_only("register_change"),
    "CREATE TABLE register_version (version INTEGER NOT NULL)",
    "INSERT INTO register_version (version) VALUES (0)",
    _raises_version("clutch", "insert"),
    _raises_version("clutch", "update"),
    _raises_version("clutch", "delete"),
    _raises_version("placement", "insert"),
)

_DECISIONS = (
    "CREATE TABLE alarm_state (alarm_key TEXT PRIMARY KEY, state TEXT NOT NULL) WITHOUT ROWID",
    """CREATE TABLE alarm_event (
        event_id INTEGER PRIMARY KEY,
        at_ms INTEGER NOT NULL,
        recorded_at_ms INTEGER NOT NULL,
        alarm_key TEXT NOT NULL,
        occurrence TEXT NOT NULL,
        event TEXT NOT NULL,
        value REAL,
        limit_value REAL,
        reason TEXT NOT NULL)""",
    *append_only("alarm_event"),
    """CREATE TABLE outbox (
        message_id TEXT PRIMARY KEY,
        contact TEXT NOT NULL,
        priority INTEGER NOT NULL,
        created_at_ms INTEGER NOT NULL,
        body TEXT NOT NULL,
        state TEXT NOT NULL DEFAULT 'waiting' CHECK (state IN ('waiting', 'delivered', 'abandoned', 'superseded')),
        attempts INTEGER NOT NULL DEFAULT 0,
        last_attempt_at_ms INTEGER,
        next_attempt_at_ms INTEGER,
        error TEXT NOT NULL DEFAULT '')""",
    "CREATE INDEX outbox_state ON outbox (state, priority, created_at_ms)",
    """CREATE TABLE heat_hour (
        clutch_id INTEGER NOT NULL REFERENCES clutch,
        hour_start_ms INTEGER NOT NULL,
        degree_hours_ch REAL NOT NULL,
        covered_ms INTEGER NOT NULL,
        PRIMARY KEY (clutch_id, hour_start_ms)) WITHOUT ROWID""",
    "CREATE TABLE heat_basis (clutch_id INTEGER PRIMARY KEY REFERENCES clutch, basis TEXT NOT NULL)",
    "CREATE TABLE cursor (name TEXT PRIMARY KEY, seq INTEGER NOT NULL) WITHOUT ROWID",
    """CREATE TABLE service_run (
        id INTEGER PRIMARY KEY,
        started_at_ms INTEGER NOT NULL,
        last_alive_ms INTEGER NOT NULL,
        ended_at_ms INTEGER,
        version TEXT NOT NULL)""",
)

FIRST: tuple[str, ...] = (*_READINGS, *_REGISTER, *_DECISIONS)
