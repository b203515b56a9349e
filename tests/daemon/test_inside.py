"""What the daemon knows of itself for its metrics, from a real journal."""

import contextlib
import sqlite3

from daemon.inside import Inside, InsideReader
from daemon.standing.machine import DiskRoom
from daemon.storage import heat, messages, outbox
from daemon.storage.journal import Journal
from daemon.storage.outbox import OutboxMessage
from sensors.reading import Outcome, Reading
from tests.daemon.kept import AIR, START_MS, Kept
from tests.support.household import MINUTE_MS


def at(minute: float) -> int:
    return START_MS + round(minute * MINUTE_MS)


def reading(minute: float) -> Reading:
    return Reading(AIR, at(minute), at(minute), 28.0, 0)


def looked(kept: Kept, now_ms: int, disk: DiskRoom | None = None) -> Inside:
    return InsideReader(kept.journal, "1.2.3", lambda: now_ms, lambda: disk).look()


def test_an_empty_journal_is_known_to_hold_nothing(kept: Kept) -> None:
    found = looked(kept, at(0))
    assert (found.version, found.unevaluated, found.evaluation_lag_s) == ("1.2.3", 0, 0.0)
    assert found.messages == {}
    assert found.alerts == {"waiting": 0, "delivered": 0, "abandoned": 0, "superseded": 0}


def test_readings_that_wait_are_counted_and_the_oldest_gives_the_lag(kept: Kept) -> None:
    kept.put([reading(minute) for minute in range(5)])
    kept.journal.write(lambda conn: heat.set_cursor(conn, 2))
    found = looked(kept, at(10))
    # The third of five, which came at minute 2, is the oldest that waits.
    assert (found.unevaluated, found.evaluation_lag_s) == (3, 8 * 60.0)
    kept.journal.write(lambda conn: heat.set_cursor(conn, 5))
    assert (looked(kept, at(10)).unevaluated, looked(kept, at(10)).evaluation_lag_s) == (0, 0.0)


def test_a_clock_that_was_set_back_gives_no_lag_below_zero(kept: Kept) -> None:
    kept.put([reading(5)])
    assert looked(kept, at(0)).evaluation_lag_s == 0.0


def test_messages_and_alerts_are_counted_by_what_became_of_them(kept: Kept) -> None:
    def fill(conn: sqlite3.Connection) -> None:
        messages.record(conn, {Outcome.STORED: 7, Outcome.MALFORMED: 1}, [])
        sent = [OutboxMessage(f"m{n}", "ana/0", 2, at(0), "{}") for n in range(3)]
        outbox.enqueue(conn, sent)
        outbox.record_attempt(conn, "m0", "delivered", at(1), None, "")

    kept.journal.write(fill)
    found = looked(kept, at(2))
    assert found.messages == {Outcome.STORED: 7, Outcome.MALFORMED: 1}
    assert (found.alerts["waiting"], found.alerts["delivered"]) == (2, 1)


def test_the_size_is_that_of_the_file_and_an_unknown_disk_stays_unknown(kept: Kept) -> None:
    """Once all is merged into it."""
    size = looked(kept, at(0)).journal_bytes
    kept.journal.close()
    with contextlib.closing(sqlite3.connect(kept.journal.path)) as conn:
        conn.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    assert size == kept.journal.path.stat().st_size
    with Journal.open(kept.journal.path) as journal:
        reader = InsideReader(journal, "", lambda: at(0), lambda: None)
        assert reader.look().disk_free_bytes is None
        reader = InsideReader(journal, "", lambda: at(0), lambda: DiskRoom(5, 10))
        assert reader.look().disk_free_bytes == 5
