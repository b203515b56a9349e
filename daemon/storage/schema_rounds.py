"""Rounds through the boxes: who, where, from when to when."""

ROUNDS: tuple[str, ...] = (
    # `ended_ms` is NULL while it goes on. What was found in each box belongs in a table of its own, by `round_id`.
    """CREATE TABLE round (
        round_id INTEGER PRIMARY KEY,
        incubator TEXT NOT NULL,
        who TEXT NOT NULL,
        started_ms INTEGER NOT NULL,
        stated_ms INTEGER NOT NULL,
        settle_ms INTEGER NOT NULL,
        ended_ms INTEGER,
        ended_by TEXT NOT NULL DEFAULT '',
        note TEXT NOT NULL DEFAULT '',
        CHECK (stated_ms > 0 AND settle_ms >= 0),
        CHECK (ended_ms >= started_ms))""",
    "CREATE UNIQUE INDEX round_going_on ON round (incubator) WHERE ended_ms IS NULL",
    "CREATE INDEX round_ended ON round (ended_ms)",
    "CREATE INDEX round_of_incubator ON round (incubator, ended_ms)",
    """CREATE TRIGGER round_is_ended_once BEFORE UPDATE ON round
        WHEN OLD.ended_ms IS NOT NULL OR NEW.ended_ms IS NULL
        OR (NEW.round_id, NEW.incubator, NEW.who, NEW.started_ms, NEW.stated_ms, NEW.settle_ms)
        IS NOT (OLD.round_id, OLD.incubator, OLD.who, OLD.started_ms, OLD.stated_ms, OLD.settle_ms)
        BEGIN SELECT RAISE(ABORT, 'a round is ended once; nothing else of it is ever changed'); END""",
    """CREATE TRIGGER round_refuses_delete BEFORE DELETE ON round
        BEGIN SELECT RAISE(ABORT, 'round rows are never removed'); END""",
)
