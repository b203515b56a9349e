"""The mirror: how far each target has got, what it refused, and what it was sent of derived values."""

MIRROR: tuple[str, ...] = (
    # How it goes with a target, as the service saw it last. `target` stands for its address and bucket. `progress_ms`:
    # when it took something last. `trouble` is a sentence for people, empty where all is well.
    """CREATE TABLE mirror_target (
        target TEXT PRIMARY KEY,
        address TEXT NOT NULL,
        begun_ms INTEGER NOT NULL,
        progress_ms INTEGER,
        trouble TEXT NOT NULL,
        trouble_since_ms INTEGER) WITHOUT ROWID""",
    # Points that a target will not have, so that they do not hold up the others. `source` and `number` say which row of
    # the journal it is: a reading by its sequence number, an alarm event by its own; derived values have the number 0.
    """CREATE TABLE mirror_parked (
        parked_id INTEGER PRIMARY KEY,
        target TEXT NOT NULL,
        source TEXT NOT NULL,
        number INTEGER NOT NULL,
        line TEXT NOT NULL,
        reason TEXT NOT NULL,
        at_ms INTEGER NOT NULL,
        UNIQUE (target, line))""",
    # Hours of heat that a target has, up to the start of the last one; `digest` is of all of them as they were sent.
    """CREATE TABLE mirror_heat (
        target TEXT NOT NULL,
        clutch_id INTEGER NOT NULL,
        through_ms INTEGER NOT NULL,
        digest TEXT NOT NULL,
        PRIMARY KEY (target, clutch_id)) WITHOUT ROWID""",
)
