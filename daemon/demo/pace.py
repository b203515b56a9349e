"""How fast the clock of the demo runs: in real time as long as somebody goes through boxes, else fast."""

import contextlib

from daemon.clock import AcceleratedClock
from daemon.storage import rounds
from daemon.storage.journal import Journal, JournalError

REAL_TIME = 1.0


class Pace:
    """Looks whether a round goes on that is not past its hard end, and sets the clock by it."""

    def __init__(self, journal: Journal, clock: AcceleratedClock) -> None:
        self._journal = journal
        self._clock = clock
        self._fast = clock.rate

    @property
    def is_fast(self) -> bool:
        """True while nobody goes through boxes."""
        return self._clock.rate == self._fast

    def look(self) -> bool:
        """Set the clock; True where it has just changed its pace. An unreadable journal leaves it as it is."""
        before = self._clock.rate
        with contextlib.suppress(JournalError):
            with self._journal.read() as conn:
                going_on = rounds.all_going_on(conn)
            now_ms = self._clock.now_ms()
            # One that nobody ends must not hold the demo for ever: once its time is over it is called overdue.
            is_walked = any(now_ms < each.round.hard_end_ms for each in going_on)
            self._clock.run_at(REAL_TIME if is_walked else self._fast)
        return self._clock.rate != before
