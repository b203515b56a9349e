"""Keeps the roll-ups of the readings up to date. A job of the service, and nothing waits for it.

A stretch of time that got a new reading, were it a late one, is worked out again from all that is in it. So doing the
same work twice does no harm, and a kill in the middle of it costs nothing but the time. What a new reading costs is
bounded by the readings of ten minutes, whatever the history.
"""

import logging
import sqlite3
from collections.abc import Sequence

from daemon.storage import rollups, samples
from daemon.storage.journal import Journal, JournalError
from daemon.storage.rollups import LEVELS_MS, Part, Touched

log = logging.getLogger("clutchwarden.rollups")

ROLL_UP_EVERY_S = 60.0
AT_ONCE = 10_000
"""So many readings are taken in one go: the thread that writes is busy for a few hundredths of a second with them."""

_Rows = list[tuple[int, list[Part]]]


class RollUps:
    """Rolls up what was stored since the last time. One thread at a time may run it."""

    def __init__(self, journal: Journal) -> None:
        self._journal = journal
        self._is_closing = False

    def run(self) -> None:
        """Take all that is new. An error is logged and never raised; the next run begins where the last one ended."""
        try:
            while not self._is_closing and self.step():
                pass
        except JournalError as error:
            log.warning("Readings are not rolled up for charts this time: %s", error)
        except Exception:
            log.exception("Readings are not rolled up for charts this time: a fault in the program.")

    def stop(self) -> None:
        """Let a run that is under way end after its present step."""
        self._is_closing = True

    def step(self, at_once: int = AT_ONCE) -> bool:
        """Take at most so many of the readings that are new; False where none is. Raises JournalError."""
        with self._journal.read() as conn:
            before, newest = rollups.rolled_up_to(conn), samples.count(conn)
            if before >= newest:
                return False
            until = min(before + at_once, newest)
            spans = rollups.touched(conn, before, until)
        below_ms: int | None = None
        for level_ms in LEVELS_MS:
            spans = rollups.widened(spans, level_ms)
            with self._journal.read() as conn:
                rows = _rows(conn, level_ms, below_ms, spans)
            self._store(level_ms, rows)
            below_ms = level_ms
        self._journal.write(lambda conn: rollups.set_rolled_up_to(conn, until))
        return True

    def _store(self, level_ms: int, rows: _Rows) -> None:
        def work(conn: sqlite3.Connection) -> None:
            for number, parts in rows:
                rollups.put(conn, level_ms, number, parts)

        self._journal.write(work)


def _rows(conn: sqlite3.Connection, level_ms: int, below_ms: int | None, spans: Sequence[Touched]) -> _Rows:
    if below_ms is None:
        return [
            (number, rollups.of_samples(conn, number, start_ms, end_ms, 0, level_ms))
            for number, start_ms, end_ms in spans
        ]
    return [
        (number, rollups.of_rollups(conn, below_ms, number, start_ms, end_ms, 0, level_ms))
        for number, start_ms, end_ms in spans
    ]
