"""Exposure limits of the clutches: one clutch is worked out at a time, the one that has waited longest.

A clutch costs what one reading a minute over its longest limit costs, two days at the most; a season of history and a
probe that sends every second cost no more. With 60 clutches whose species has such limits each is looked at once in
five minutes, which is soon enough for what adds up over a day.
"""

import math
from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import NamedTuple

from config.places import Places
from config.site import Site
from config.species import SpeciesProfile
from config.words import AlarmKind
from daemon.clutches.register import Clutch
from daemon.development.exposure import judge_course
from daemon.exposure_course import course_of, stretches_of
from daemon.occupancy import stays
from daemon.standing.exposure import exposed_too_long, not_looked_at_yet
from daemon.standing.found import Found
from daemon.standing_sources.source import Moment

COUNTS_MS = 60_000
"""So long a clutch is not worked out again."""


class _Kept(NamedTuple):
    made_ms: int
    found: Found | None


class Exposures:
    """Looks at the clutches of one site, of those species whose profile states exposure limits."""

    kinds = frozenset({AlarmKind.EXPOSURE})
    every_ms = 5_000

    def __init__(self, site: Site, profiles: Mapping[str, SpeciesProfile], longest_bridge_s: float) -> None:
        self._places = Places(site)
        self._limits = {species_id: one.exposure for species_id, one in profiles.items() if one.exposure}
        self._bridge_ms = int(longest_bridge_s * 1000)
        self._fahrenheit = site.temperature_unit == "F"
        self._kept: dict[int, _Kept] = {}

    def found(self, moment: Moment) -> Iterator[Found]:
        """Everything that holds now of clutches that lie somewhere."""
        lying = dict(self._lying(moment)) if self._limits else {}
        clutches = {clutch.clutch_id: clutch for clutch in moment.occupancy.clutches if clutch.clutch_id in lying}
        self._kept = {one: kept for one, kept in self._kept.items() if one in clutches}
        due = self._due(clutches, moment.now_ms)
        if due is not None:
            found = self._work_out(clutches[due], lying[due], moment)
            self._kept[due] = _Kept(moment.now_ms, found)
        for one, clutch in clutches.items():
            kept = self._kept.get(one)
            if kept is not None and kept.found is not None:
                yield replace(kept.found, place=lying[one])
            elif kept is None and moment.is_on(AlarmKind.EXPOSURE, f"clutch-{one}"):
                yield not_looked_at_yet(one, clutch.label, lying[one])

    def _lying(self, moment: Moment) -> Iterator[tuple[int, str]]:
        for clutch in moment.occupancy.clutches:
            if clutch.species_id in self._limits:
                for stay, end_ms in stays(clutch):
                    if stay.from_ms <= moment.now_ms < end_ms and self._places.exists(stay.place):
                        yield clutch.clutch_id, stay.place

    def _due(self, clutches: Mapping[int, Clutch], now_ms: int) -> int | None:
        """The clutch that has waited longest; None where all are fresh."""
        waiting = [
            one for one in clutches if one not in self._kept or abs(now_ms - self._kept[one].made_ms) >= COUNTS_MS
        ]

        def age_ms(one: int) -> float:
            """By the clock of now; what was made in its future is from before the clock was set back, and oldest."""
            age = now_ms - self._kept[one].made_ms if one in self._kept else math.inf
            return math.inf if age < 0 else age

        return max(waiting, key=age_ms, default=None)

    def _work_out(self, clutch: Clutch, place: str, moment: Moment) -> Found | None:
        limits = self._limits[clutch.species_id]
        lay = tuple(stretches_of(clutch, limits, moment.air, self._bridge_ms, moment.now_ms))
        course = course_of(moment.conn, lay, moment.air, moment.now_ms)
        return exposed_too_long(
            clutch.clutch_id,
            clutch.label,
            place,
            judge_course(limits, course, self._bridge_ms, moment.now_ms),
            is_on=moment.is_on(AlarmKind.EXPOSURE, f"clutch-{clutch.clutch_id}"),
            fahrenheit=self._fahrenheit,
        )
