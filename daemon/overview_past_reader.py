"""Reads from the journal what the record of each clutch tells of sex and of exposure, and keeps it for a while.

Sex is worked out again once an hour of heat was stored, exposure every ten minutes; a page that asks every second costs
a look-up, and no page waits for more than a few clutches.
"""

import sqlite3
import threading
from collections.abc import Callable, Hashable, Mapping, Sequence
from typing import Generic, NamedTuple, TypeVar

from config.site import Site
from config.species import SpeciesProfile
from daemon.clutches.register import Clutch
from daemon.exposure_course import CELL_MS, Stretch, course_of, stretches_of
from daemon.heat_ledger import laying_of
from daemon.heat_now import HeatReader, kept_before
from daemon.overview_past import Past, exposure_told, says_of_sex, sex_so_far
from daemon.storage import heat
from daemon.thermometers import AirChannels

MOST_AT_ONCE = 2
"""So many clutches at the most are worked out anew for one page; the others keep theirs for a moment longer."""
_HOUR_MS = 3_600_000
_SEX_COUNTS_MS = 3 * _HOUR_MS
_EXPOSURE_COUNTS_MS = 3 * CELL_MS
"""So old sentences at the most are given while their turn has not come."""
_Told = TypeVar("_Told")


class _Kept(NamedTuple, Generic[_Told]):
    key: Hashable
    made_ms: int
    told: _Told


class _Turns(Generic[_Told]):
    """Keeps what was worked out for as long as its key stays the same, and works out a few at once."""

    def __init__(self, most_at_once: int | None, counts_ms: int) -> None:
        self._most_at_once = most_at_once
        self._counts_ms = counts_ms
        self._kept: dict[int, _Kept[_Told]] = {}

    def give(self, keys: Mapping[int, Hashable], make: Callable[[int], _Told], now_ms: int) -> dict[int, _Told]:
        """Give what is known of each; those go first that have waited longest, and those unknown before all.

        What has the same key is the same, and made once.
        """
        self._kept = {one: kept for one, kept in self._kept.items() if one in keys}
        due = [one for one, key in keys.items() if one not in self._kept or self._kept[one].key != key]
        due.sort(key=lambda one: (one in self._kept, self._kept[one].made_ms if one in self._kept else 0))
        known = {kept.key: kept for kept in self._kept.values()} if due else {}
        made = 0
        for one in due:
            key = keys[one]
            if key not in known and (self._most_at_once is None or made < self._most_at_once):
                known[key] = _Kept(key, now_ms, make(one))
                made += 1
            if key in known:
                self._kept[one] = known[key]
        return {
            one: kept.told
            for one, kept in self._kept.items()
            if kept.key == keys[one] or abs(now_ms - kept.made_ms) <= self._counts_ms
        }


class PastReader:
    """Safe to use from any thread. Without `most_at_once` all clutches are worked out at once."""

    def __init__(
        self,
        site: Site,
        profiles: Mapping[str, SpeciesProfile],
        longest_bridge_ms: int,
        most_at_once: int | None = MOST_AT_ONCE,
    ) -> None:
        self._site = site
        self._sexed = {species_id: one for species_id, one in profiles.items() if says_of_sex(one)}
        self._limited = {species_id: one for species_id, one in profiles.items() if one.exposure}
        self._bridge_ms = longest_bridge_ms
        self._lock = threading.Lock()
        self._sex = _Turns[str](most_at_once, _SEX_COUNTS_MS)
        self._exposure = _Turns[tuple[str, ...]](most_at_once, _EXPOSURE_COUNTS_MS)

    def read(
        self,
        conn: sqlite3.Connection,
        clutches: Sequence[Clutch],
        heats: HeatReader,
        air: AirChannels,
        now_ms: int,
    ) -> dict[int, Past]:
        """Give what is told of each clutch by its number; one whose turn has not come is left out until the next call.

        `air` is loaded from the same moment of the journal.
        """
        by_id = {clutch.clutch_id: clutch for clutch in clutches}
        with self._lock:
            sex = self._sex.give(
                {
                    one: (one, clutch.laid_from_ms, clutch.laid_to_ms, clutch.placements, heats.stored(one))
                    for one, clutch in by_id.items()
                    if clutch.species_id in self._sexed
                },
                lambda one: self._sex_of(conn, by_id[one]),
                now_ms,
            )
            version = air.version(conn)
            stretches = {
                one: tuple(
                    stretches_of(clutch, self._limited[clutch.species_id].exposure, air, self._bridge_ms, now_ms)
                )
                for one, clutch in by_id.items()
                if clutch.species_id in self._limited
            }
            exposure = self._exposure.give(
                {one: (now_ms // CELL_MS, version, by_id[one].species_id, lay) for one, lay in stretches.items()},
                lambda one: self._exposure_of(conn, by_id[one], stretches[one], air, now_ms),
                now_ms,
            )
        return {one: Past(sex.get(one, ""), exposure.get(one, ())) for one in sex.keys() | exposure.keys()}

    def _sex_of(self, conn: sqlite3.Connection, clutch: Clutch) -> str:
        hours = heat.hours(conn, clutch.clutch_id)
        profile = self._sexed[clutch.species_id]
        return sex_so_far(profile, laying_of(clutch), kept_before(self._site, clutch), hours)

    def _exposure_of(
        self,
        conn: sqlite3.Connection,
        clutch: Clutch,
        lay: Sequence[Stretch],
        air: AirChannels,
        now_ms: int,
    ) -> tuple[str, ...]:
        course = course_of(conn, lay, air, now_ms)
        return exposure_told(self._limited[clutch.species_id].exposure, course, self._bridge_ms, now_ms)
