"""Reads the round that was ended last, for the first page and the sheet of a hand-over. Raises JournalError."""

import sqlite3
import threading
from collections.abc import Hashable, Mapping, Sequence
from typing import NamedTuple

from config.places import Places
from config.site import Site
from daemon.clutches import register
from daemon.rounds.last import LastRound, RoundCount, ended_together, last_round
from daemon.rounds.state import state_of
from daemon.rounds.stops import stops
from daemon.rounds.values import Finding
from daemon.rounds.whose import shared_out, whose_stop
from daemon.storage import findings, photos, rounds
from daemon.storage.rounds import RoundOnRecord

_LOOKED_BACK = 30
"""So many rounds are looked back through for one in which a box was seen. Project choice."""


class _Kept(NamedTuple):
    key: Hashable
    found: LastRound | None


class LastRounds:
    """Of one site. Safe to use from any thread; what was read is kept until something of it changes."""

    def __init__(self, site: Site) -> None:
        self._places = Places(site)
        self._names = {each.id: each.name for each in site.incubators}
        self._people = {each.id: each.name for each in site.people}
        self._lock = threading.Lock()
        self._kept: _Kept | None = None

    def read(self, conn: sqlite3.Connection) -> LastRound | None:
        """Give it; None where in no round a box was seen. The first time some milliseconds, later some look-ups.

        A round in which no box was seen hides none before it.
        """
        ended = rounds.newest_ended(conn, len(self._names) + _LOOKED_BACK)
        numbers = [each.number for each in ended]
        # Entries and photos may come after the end, and clutches may be said to have been moved before it.
        came = findings.newest(conn, numbers), photos.count(conn, numbers)
        key = (tuple(ended), came, register.version(conn))
        with self._lock:
            kept = self._kept
        if kept is None or kept.key != key:
            kept = _Kept(key, last_round(self._last(conn, ended), self._names, self._people))
            with self._lock:
                self._kept = kept
        return kept.found

    def _last(self, conn: sqlite3.Connection, ended: Sequence[RoundOnRecord]) -> list[RoundCount]:
        """Count the last round in which a box was seen, with those that were ended together with it."""
        for at, each in enumerate(ended):
            if _saw_a_clutch(findings.of_round(conn, each.number)):
                together = ended_together(ended[at : at + max(1, len(self._names))])
                return [self._counted(conn, one) for one in together]
        return []

    def _counted(self, conn: sqlite3.Connection, each: RoundOnRecord) -> RoundCount:
        at_ms = each.round.started_ms if each.round.ended_ms is None else each.round.ended_ms
        said = shared_out(findings.of_round(conn, each.number))
        shown = photos.of_round(conn, each.number)
        lying = register.clutches(conn, include_closed=True)
        here = stops(self._places, {}, lying, at_ms, [each.round.incubator])
        # What was taken away during the round counts with what was found in it.
        about = {whose_stop(stop) for stop in here if not stop.is_empty} | {one for one in said if isinstance(one, int)}
        states = [state_of(found[-1].entry.box, found) for whose, found in said.items() if whose in about]
        return RoundCount(each, states, len(about), sum(map(len, shown.values())))


def _saw_a_clutch(said: Mapping[str, Sequence[Finding]]) -> bool:
    return any(
        isinstance(whose, int) and state_of(found[-1].entry.box, found).is_seen
        for whose, found in shared_out(said).items()
    )
