"""Sends batches to a target, and puts aside in the journal what it will not have."""

import logging
from collections.abc import Callable

from daemon.mirror.answers import Answer, Meaning, meaning, settle
from daemon.mirror.points import Batch, Origin
from daemon.mirror_client import MirrorClient
from daemon.storage import mirror
from daemon.storage.journal import Journal
from daemon.storage.mirror import Parked

log = logging.getLogger("clutchwarden.mirror")

MOST_PARKED = 10_000
"""A target that refuses more than this has something else wrong than a bad point, and the journal is no place for it
all. Project choice."""


class Delivery:
    """Delivers to one target, from one thread."""

    def __init__(self, journal: Journal, client: MirrorClient, origin: Origin, now_ms: Callable[[], int]) -> None:
        self._journal = journal
        self._client = client
        self._origin = origin
        self._now_ms = now_ms

    @property
    def target(self) -> str:
        """What stands for the target in the journal."""
        return self._client.target.key

    def check(self) -> Answer | None:
        """Write one point that cannot be wrong; None where it is taken, else the answer."""
        answer = self._client.check(self._origin, self._now_ms())
        return None if meaning(answer) is Meaning.TAKEN else answer

    def deliver(self, batch: Batch) -> Answer | None:
        """Send a batch; None where it is done, else the answer that has to be waited for. Raises JournalError."""
        if not batch.lines:
            return None
        settled = settle(len(batch.lines), lambda first, end: self._client.write(batch.lines[first:end]))
        if settled.wait is not None or not settled.refused:
            return settled.wait
        first = settled.refused[0]
        # Where nothing at all was taken, one point that cannot be wrong tells bad lines from a target that takes none.
        if not settled.any_taken and self.check() is not None:
            return Answer(400, first.reason)
        points = [
            Parked(batch.measurement, batch.numbers[each.place], batch.lines[each.place], each.reason, self._now_ms())
            for each in settled.refused
        ]
        with self._journal.read() as conn:
            full = mirror.count_parked(conn, self.target) + len(points) > MOST_PARKED
        if full:
            return Answer(400, f"it has refused {MOST_PARKED:,} points, the last because: {first.reason}")
        self._journal.write(lambda conn: mirror.park(conn, self.target, points))
        told = "The mirror refused %d of %d points; they are put aside: %s"
        log.warning(told, len(points), len(batch.lines), first.reason)
        return None
