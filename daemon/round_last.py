"""Reads the round that was ended last, for the first page and the sheet of a hand-over. Raises JournalError."""

import sqlite3
import threading
from collections.abc import Hashable, Mapping, Sequence
from types import MappingProxyType
from typing import NamedTuple

from config.places import Places
from config.site import Site
from config.species import SpeciesProfile
from daemon.clutches import register
from daemon.clutches.values import Clutch, is_venomous
from daemon.rounds.last import LastRound, RoundCount, ended_together, last_round
from daemon.rounds.last_said import BoxFound
from daemon.rounds.state import state_of
from daemon.rounds.stops import place_of, stop_of, stops
from daemon.rounds.values import Finding, Stop
from daemon.rounds.whose import Whose, shared_out, whose_stop
from daemon.storage import findings, photos, rounds
from daemon.storage.rounds import RoundOnRecord

_LOOKED_BACK = 30
"""So many rounds are looked back through for one in which a box was seen. Project choice."""


class _Kept(NamedTuple):
    key: Hashable
    found: LastRound | None


class LastRounds:
    """Of one site. Safe to use from any thread; what was read is kept until something of it changes."""

    def __init__(self, site: Site, profiles: Mapping[str, SpeciesProfile] = MappingProxyType({})) -> None:
        self._places = Places(site)
        self._profiles = profiles
        self._names = {each.id: each.name for each in site.incubators}
        self._people = {each.id: each.name for each in site.people}
        self._lock = threading.Lock()
        self._kept: _Kept | None = None

    def read(self, conn: sqlite3.Connection, now_ms: int) -> LastRound | None:
        """Give it; None where in no round a box was seen. The first time some milliseconds, later some look-ups.

        A round in which no box was seen hides none before it, nor does one that was ended by a clock that was ahead.
        """
        ended = rounds.newest_ended(conn, len(self._names) + _LOOKED_BACK, now_ms)
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
        left = list(ended)
        while left:
            together = ended_together(left[: max(1, len(self._names))])
            if any(_saw_a_clutch(findings.of_round(conn, each.number)) for each in together):
                return [self._counted(conn, one, alone=len(together) == 1) for one in together]
            left = [each for each in left if each not in together]
        return []

    def _counted(self, conn: sqlite3.Connection, each: RoundOnRecord, *, alone: bool) -> RoundCount:
        """Read one; `alone`: its places need no name of their incubator, since the round has it."""
        at_ms = each.round.started_ms if each.round.ended_ms is None else each.round.ended_ms
        said = shared_out(findings.of_round(conn, each.number))
        shown = photos.of_round(conn, each.number)
        lying = register.clutches(conn, include_closed=True)
        here = stops(self._places, self._profiles, lying, at_ms, [each.round.incubator])
        about: dict[Whose, Stop] = {whose_stop(stop): stop for stop in here if not stop.is_empty}
        # What was taken away during the round counts with what was found in it.
        on_record = {each.clutch_id: each for each in lying}
        for one, found in said.items():
            if isinstance(one, int) and one not in about and one in on_record:
                about[one] = self._gone(on_record[one], found)
        boxes = [_found(stop, said.get(one, ()), alone=alone) for one, stop in about.items()]
        return RoundCount(each, boxes, sum(map(len, shown.values())))

    def _gone(self, clutch: Clutch, found: Sequence[Finding]) -> Stop:
        """Give where it was found, for a clutch that was taken away while the round went on."""
        place, _ = place_of(found[-1].entry.box)
        if self._places.exists(place):
            return stop_of(self._places, self._profiles, place, clutch)
        profile = self._profiles.get(clutch.species_id)
        venomous = is_venomous(clutch, profile is not None and profile.venomous)
        return Stop(place, place, place, place, "", "", clutch.clutch_id, clutch.label, venomous=venomous)


def _found(stop: Stop, said: Sequence[Finding], *, alone: bool) -> BoxFound:
    state = state_of(said[-1].entry.box, said) if said else None
    return BoxFound(stop.name if alone else stop.whole_name, stop.label, stop.venomous, state)


def _saw_a_clutch(said: Mapping[str, Sequence[Finding]]) -> bool:
    return any(
        isinstance(whose, int) and state_of(found[-1].entry.box, found).is_seen
        for whose, found in shared_out(said).items()
    )
