"""Least, mean and most of stretches of time, so that a chart of a year need not walk through every reading."""

ROLLUPS: tuple[str, ...] = (
    # Derived from readings; can be thrown away and made again. Values are as the probe said them, not corrected.
    """CREATE TABLE rollup (
        level_ms INTEGER NOT NULL,
        channel_id INTEGER NOT NULL REFERENCES channel,
        start_ms INTEGER NOT NULL,
        good INTEGER NOT NULL,
        total REAL NOT NULL,
        least REAL,
        most REAL,
        first_ms INTEGER,
        last_ms INTEGER,
        longest_step_ms INTEGER NOT NULL,
        suspect INTEGER NOT NULL,
        suspect_least REAL,
        suspect_most REAL,
        PRIMARY KEY (level_ms, channel_id, start_ms)) WITHOUT ROWID""",
)
