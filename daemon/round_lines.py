"""What the rounds of the last day came to, and when the next ones are due, as sentences for the digest."""

import sqlite3
from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from config.site import Incubator, Site
from daemon.answer_values import person_name
from daemon.clutches import register
from daemon.rounds.state import state_of
from daemon.rounds.summary import digest_line, eggs_lost, eggs_put_on_watch
from daemon.rounds.whose import shared_out
from daemon.rounds_now import due_by
from daemon.standing.care import day_text
from daemon.storage import findings, rounds


class RoundLines:
    """Of one site. To be called with a moment of the journal and the present, UTC ms."""

    def __init__(self, site: Site) -> None:
        self._site = site
        self._names = {each.id: each.name for each in site.incubators}
        self._people = {each.id: each.name for each in site.people}
        self._zone = ZoneInfo(site.time_zone)

    def __call__(self, conn: sqlite3.Connection, now_ms: int) -> Sequence[str]:
        """Give a sentence for each round that was ended in the last day, and for each incubator with eggs in it."""
        due_ms = due_by(conn, self._site, register.clutches(conn), now_ms).rounds_ms
        due = [self._of(each, due_ms[each.id], now_ms) for each in self._site.incubators if each.id in due_ms]
        return [*self._ended(conn, now_ms), *due]

    def _ended(self, conn: sqlite3.Connection, now_ms: int) -> Iterator[str]:
        """Say what each round came to that was ended in the last day."""
        # A day by the clock on the wall, as the digest is sent: in the nights of its change it has 23 or 25 hours.
        now = datetime.fromtimestamp(now_ms / 1000, self._zone)
        since_ms = round((now - timedelta(days=1)).timestamp() * 1000)
        for each in rounds.ended_since(conn, since_ms):
            name = self._names.get(each.round.incubator)
            said = findings.of_round(conn, each.number)
            if name is None or not said:
                continue
            states = [state_of(found[-1].entry.box, found) for found in shared_out(said).values()]
            seen = sum(state.is_seen for state in states)
            who = person_name(self._people, each.round.who)
            yield digest_line(who, name, seen, eggs_lost(states), eggs_put_on_watch(states))

    def _of(self, incubator: Incubator, due_ms: int, now_ms: int) -> str:
        day = day_text(due_ms, self._zone)
        return f"{incubator.name}: round {'was due' if due_ms <= now_ms else 'due'} {day}."
