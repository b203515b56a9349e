"""One way through the journal to a target: readings, then what is derived of them, alarm events, hours of heat."""

import time
from collections.abc import Callable
from types import MappingProxyType
from typing import Self

from config.mirror import MirrorSettings
from config.site import Site
from daemon.clutches.values import Clutch
from daemon.mirror.answers import Answer
from daemon.mirror.former import Former
from daemon.mirror.points import Origin
from daemon.mirror_client import MirrorClient
from daemon.mirror_delivery import Delivery
from daemon.mirror_source import MirrorSource
from daemon.storage import identity, mirror
from daemon.storage.journal import Journal

HEAT_EVERY_S = 600.0
"""Hours of heat are looked through so often; of a season with 60 clutches that takes a fraction of a second."""


class Pass:
    """Copies step by step, from where the target is or from `done`. Belongs to one thread.

    `done`: numbers of the last reading and of the last alarm event that the target has. `former`: see `MirrorSource`.
    """

    def __init__(
        self,
        journal: Journal,
        site: Site,
        settings: MirrorSettings,
        now_ms: Callable[[], int],
        done: tuple[int, int] | None = None,
        former: Former = MappingProxyType({}),
    ) -> None:
        self._journal = journal
        self._now_ms = now_ms
        self._batch_size = settings.batch_size
        self._client = MirrorClient(settings)
        with journal.read() as conn:
            self.origin = Origin(site.name, identity.journal_id(conn))
            self.done = mirror.cursors(conn, self.target) if done is None else done
        self._delivery = Delivery(journal, self._client, self.origin, now_ms)
        self._source = MirrorSource(site, self.origin.journal, former)
        self._failed = False
        self._heat_s = float("-inf")
        self._heat_due: list[Clutch] = []
        self._follows = done is None

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._client.close()

    @property
    def target(self) -> str:
        """What stands for the target in the journal."""
        return self._client.target.key

    @property
    def address(self) -> str:
        """Where the target is, for people."""
        return self._client.target.address

    def step(self) -> tuple[Answer | None, bool]:
        """Copy the next batch of each kind; gives the answer to wait for, and whether there is more to copy at once.

        Raises JournalError.
        """
        if self._follows:
            # Somebody may have filled the mirror by hand meanwhile.
            with self._journal.read() as conn:
                self.done = max(self.done[0], mirror.cursors(conn, self.target)[0]), self.done[1]
        if self._failed:
            # One small point first: whoever is away, or asks for fewer requests, is not sent thousands of lines.
            answer = self._delivery.check()
            if answer is not None:
                return answer, False
        self._failed, more = False, False
        for part in (self._readings, self._events, self._heat):
            answer, is_more = part()
            if answer is not None:
                self._failed = True
                return answer, False
            more = more or is_more
        return None, more

    def _readings(self) -> tuple[Answer | None, bool]:
        with self._journal.read() as conn:
            rows = mirror.samples_after(conn, self.done[0], self._batch_size)
            batch, climate = self._source.readings(conn, rows), self._source.climate(conn, rows)
        answer = self._delivery.deliver(batch) or self._delivery.deliver(climate)
        if answer is None and rows:
            self.done = rows[-1][0], self.done[1]
        return answer, len(rows) == self._batch_size

    def _events(self) -> tuple[Answer | None, bool]:
        with self._journal.read() as conn:
            rows = mirror.events_after(conn, self.done[1], self._batch_size)
        answer = self._delivery.deliver(self._source.events(rows))
        if answer is None and rows:
            self.done = self.done[0], rows[-1][0]
        return answer, len(rows) == self._batch_size

    def _heat(self) -> tuple[Answer | None, bool]:
        """The hours of one clutch at a time, so that a season of many is no long step."""
        if not self._heat_due:
            if time.monotonic() - self._heat_s < HEAT_EVERY_S:
                return None, False
            self._heat_s = time.monotonic()
            with self._journal.read() as conn:
                self._heat_due = self._source.heat_due(conn)
        if not self._heat_due:
            return None, False
        clutch = self._heat_due[-1]
        with self._journal.read() as conn:
            found = self._source.heat(conn, self.target, clutch, self._now_ms())
        if found is not None:
            answer = self._delivery.deliver(found.batch)
            if answer is not None:
                self._source.forget_heat(clutch)
                return answer, False
            what = (found.clutch_id, found.through_ms, found.digest)
            self._journal.write(lambda conn: mirror.mark_heat(conn, self.target, *what))
        self._heat_due.pop()
        return None, bool(self._heat_due)
