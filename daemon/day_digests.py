"""Makes the daily digests of readings. A job of the service, and nothing waits for it.

It reads beside the thread that writes, which gets one row for each day. A kill costs the day that was being read.
"""

import logging
from collections.abc import Callable

from daemon.storage import day_digests
from daemon.storage.journal import Journal, JournalError

log = logging.getLogger("clutchwarden.chain")

DIGEST_EVERY_S = 60.0
"""So often it looks whether a day is over, which is two look-ups by number where none is."""


class DayDigests:
    """Digests whatever day is over. One thread at a time may run it."""

    def __init__(self, journal: Journal, now_ms: Callable[[], int]) -> None:
        self._journal = journal
        self._now_ms = now_ms
        self._is_closing = False

    def run(self) -> None:
        """Make all that are due. An error is logged and never raised; the next run makes what is missing."""
        try:
            while self.step():
                pass
        except JournalError as error:
            log.warning("The daily digest of readings is not made this time: %s", error)
        except ValueError:
            log.exception("The daily digest of readings cannot be made: `clutchwarden verify` says more.")

    def stop(self) -> None:
        """Let a run that is under way end soon."""
        self._is_closing = True

    def step(self) -> bool:
        """Make the next one; False where none is due. Raises JournalError."""
        now_ms = self._now_ms()
        with self._journal.read() as conn:
            digest = day_digests.due(conn, now_ms, lambda: self._is_closing)
        return digest is not None and self._journal.write(lambda conn: day_digests.add(conn, digest, now_ms))
