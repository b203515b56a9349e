"""When the next round through each incubator with eggs is due, as sentences for the digest."""

import sqlite3
from collections.abc import Iterator, Sequence
from zoneinfo import ZoneInfo

from config.site import Incubator, Site
from daemon.clutches import register
from daemon.clutches.register import Clutch
from daemon.standing import care
from daemon.storage import rounds


class RoundLines:
    """Of one site. To be called with a moment of the journal and the present, UTC ms."""

    def __init__(self, site: Site) -> None:
        self._site = site
        self._zone = ZoneInfo(site.time_zone)

    def __call__(self, conn: sqlite3.Connection, now_ms: int) -> Sequence[str]:
        """Give a sentence for each incubator with eggs in it."""
        last_ms, lying = rounds.last_ended_ms(conn), register.clutches(conn)
        return [line for each in self._site.incubators for line in self._of(each, lying, last_ms.get(each.id), now_ms)]

    def _of(self, incubator: Incubator, lying: Sequence[Clutch], last_ms: int | None, now_ms: int) -> Iterator[str]:
        since_ms = care.eggs_since_ms(lying, incubator.id, now_ms)
        if since_ms is None:
            return
        due_ms = care.next_round_ms(last_ms, since_ms, self._site.care.round_every_days)
        day = care.day_text(due_ms, self._zone)
        yield f"{incubator.name}: round {'was due' if due_ms <= now_ms else 'due'} {day}."
