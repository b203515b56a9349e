"""The steps after the first schema: heat as an interval, calibration, cooling curves, the alarm desk."""

from daemon.storage.schema import append_only

HEAT_INTERVAL: tuple[str, ...] = (
    # Heat is derived from readings, so the old hours are thrown away and computed again.
    "DROP TABLE heat_hour",
    "DELETE FROM heat_basis",
    """CREATE TABLE heat_hour (
        clutch_id INTEGER NOT NULL REFERENCES clutch,
        hour_start_ms INTEGER NOT NULL,
        low_ch REAL NOT NULL,
        degree_hours_ch REAL NOT NULL,
        high_ch REAL NOT NULL,
        colder_ch REAL NOT NULL,
        warmer_ch REAL NOT NULL,
        covered_ch REAL NOT NULL,
        temperature_ch REAL NOT NULL,
        linear_ms INTEGER NOT NULL,
        covered_ms INTEGER NOT NULL,
        missing_ms INTEGER NOT NULL,
        above_cap_ms INTEGER NOT NULL,
        below_zero_ms INTEGER NOT NULL,
        PRIMARY KEY (clutch_id, hour_start_ms)) WITHOUT ROWID""",
    # How warm the eggs lay between laying and set-up, as somebody stated it.
    "ALTER TABLE clutch ADD COLUMN before_c REAL",
    "ALTER TABLE clutch ADD COLUMN before_u_k REAL",
)

CALIBRATION: tuple[str, ...] = (
    # Of rows with the same channel and start the newest counts; the older ones show what was believed before.
    """CREATE TABLE calibration (
        calibration_id INTEGER PRIMARY KEY,
        channel TEXT NOT NULL,
        valid_from_ms INTEGER NOT NULL,
        gain REAL NOT NULL,
        shift REAL NOT NULL,
        method TEXT NOT NULL,
        points TEXT NOT NULL,
        due_at_ms INTEGER,
        recorded_at_ms INTEGER NOT NULL,
        who TEXT NOT NULL,
        note TEXT NOT NULL)""",
    "CREATE INDEX calibration_of_channel ON calibration (channel, valid_from_ms, calibration_id)",
    *append_only("calibration"),
)

COOLING: tuple[str, ...] = (
    # Derived from readings; can be thrown away and found again.
    """CREATE TABLE cooling_curve (
        incubator_id TEXT NOT NULL,
        channel TEXT NOT NULL,
        started_at_ms INTEGER NOT NULL,
        ended_at_ms INTEGER NOT NULL,
        time_constant_h REAL NOT NULL,
        time_constant_u_h REAL NOT NULL,
        room_c REAL NOT NULL,
        room_measured INTEGER NOT NULL,
        PRIMARY KEY (channel, started_at_ms)) WITHOUT ROWID""",
)

ALARM_DESK: tuple[str, ...] = (
    # What is remembered of alarms, incidents and ladders, as text by name.
    "CREATE TABLE alarm_desk (name TEXT PRIMARY KEY, state TEXT NOT NULL) WITHOUT ROWID",
    # Every step of every alarm: what people, time, consequences and conditions did, and what was refused.
    """CREATE TABLE alarm_record (
        record_id INTEGER PRIMARY KEY,
        at_ms INTEGER NOT NULL,
        recorded_at_ms INTEGER NOT NULL,
        alarm_key TEXT NOT NULL,
        occurrence TEXT NOT NULL,
        priority INTEGER NOT NULL,
        event TEXT NOT NULL,
        before TEXT NOT NULL,
        after TEXT NOT NULL,
        shown TEXT NOT NULL,
        who TEXT NOT NULL,
        reason TEXT NOT NULL,
        annunciated INTEGER NOT NULL,
        accepted INTEGER NOT NULL)""",
    "CREATE INDEX alarm_record_time ON alarm_record (at_ms)",
    *append_only("alarm_record"),
    # The incident that a message calls for, so that it goes no further once that is over.
    "ALTER TABLE outbox ADD COLUMN incident TEXT NOT NULL DEFAULT ''",
    # What the link in a message is good for. `alarms`: JSON, a list of [key, occurrence, version].
    """CREATE TABLE alarm_link (
        token_hash TEXT PRIMARY KEY,
        person TEXT NOT NULL,
        alarms TEXT NOT NULL,
        created_at_ms INTEGER NOT NULL,
        expires_at_ms INTEGER NOT NULL) WITHOUT ROWID""",
)
