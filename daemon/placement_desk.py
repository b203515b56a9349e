"""Reads from the journal what each place would have been for a clutch, and who lies there already.

Temperatures come from the roll-ups (`daemon/series.py`), so seven days of a channel are a thousand rows. The humidity
of a shelf is not that of a lidded box on it, so places are not compared by it.
"""

import sqlite3
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from config.places import Places
from config.site import Site
from config.species import SpeciesProfile
from daemon.alarms.limits import Occupant
from daemon.alarms.silence import window_ms
from daemon.clutches import register
from daemon.clutches.values import Clutch, is_venomous
from daemon.heat_now import HeatReader
from daemon.heat_totals import HeatTotals
from daemon.occupancy import Occupancy
from daemon.overview_clutch import stage_begins_now
from daemon.placement.advice import Advice, Needs, Option, band_of, conflicts_with, needs_of, sorted_options
from daemon.placement.course import course_of
from daemon.placement.outside import Course, stay_of
from daemon.placement_text import days_text
from daemon.series import series
from daemon.storage.journal import Journal
from daemon.thermometers import AirChannels

USUAL_DAYS, MOST_DAYS = 7, 60
STRETCH_MS = 600_000
"""Means of ten minutes; of an hour where more than `_FINE_DAYS` are asked for."""
_FINE_DAYS, _COARSE_MS = 8, 3_600_000
_DAY_MS, _DAY_H = 86_400_000, 24
NEW_CLUTCH = "to be set up"
"""What a clutch is called that is not on record yet."""


@dataclass(frozen=True, slots=True)
class _Ground:
    """One moment of the journal."""

    conn: sqlite3.Connection
    now_ms: int
    days: int
    lying: tuple[Clutch, ...]
    stages: Mapping[int, int | None]
    occupancy: Occupancy
    air: AirChannels
    courses: dict[str, Course]
    behind: list[bool]


class PlacementDesk:
    """Advises for one site. Safe to use from any thread. Every method raises JournalError."""

    def __init__(
        self,
        journal: Journal,
        site: Site,
        profiles: Mapping[str, SpeciesProfile],
        longest_bridge_s: float,
        now_ms: Callable[[], int],
    ) -> None:
        self._journal = journal
        self._site = site
        self._places = Places(site)
        self._profiles = profiles
        self._bridge_ms = int(longest_bridge_s * 1000)
        self._now_ms = now_ms
        self._heat = HeatTotals()
        self._windows_ms = {probe.id: window_ms(probe.interval_s) for probe in site.probes}
        self._place_of = {probe.id: probe.place for probe in site.probes}

    @property
    def species(self) -> tuple[tuple[str, str], ...]:
        """Every species that is known, as id and name, by name."""
        named = ((one.id, f"{one.common_name} ({one.scientific_name})") for one in self._profiles.values())
        return tuple(sorted(named, key=lambda each: each[1].casefold()))

    def of_clutch(self, clutch_id: int, days: int = USUAL_DAYS) -> Advice | None:
        """Advise for a clutch that lies somewhere, at its present stage; None where there is none, or no profile."""
        with self._journal.read() as conn:
            ground = self._ground(conn, days)
            clutch = next((each for each in ground.lying if each.clutch_id == clutch_id), None)
            profile = None if clutch is None else self._profiles.get(clutch.species_id)
            if clutch is None or profile is None:
                return None
            needs = needs_of(clutch.label, profile, ground.stages.get(clutch_id))
            return self._advice(ground, needs, profile, clutch)

    def of_species(self, species_id: str, days: int = USUAL_DAYS) -> Advice | None:
        """Advise for a clutch that is not entered yet, on its first day; None where no profile has this id."""
        profile = self._profiles.get(species_id)
        if profile is None:
            return None
        begun = [n for n, each in enumerate(profile.stages) if each.from_day == 0 or each.from_share == 0]
        with self._journal.read() as conn:
            needs = needs_of(NEW_CLUTCH, profile, begun[-1] if begun else None)
            return self._advice(self._ground(conn, days), needs, profile, None)

    def _ground(self, conn: sqlite3.Connection, days: int) -> _Ground:
        now_ms, air = self._now_ms(), AirChannels(self._site)
        air.load(conn)
        lying = tuple(each for each in register.clutches(conn) if each.placements[0].from_ms <= now_ms)
        stages = self._stages(conn, lying, air, now_ms)
        occupancy = Occupancy(lying, self._places, self._profiles)
        return _Ground(conn, now_ms, min(max(days, 1), MOST_DAYS), lying, stages, occupancy, air, {}, [])

    def _stages(
        self, conn: sqlite3.Connection, lying: Sequence[Clutch], air: AirChannels, now_ms: int
    ) -> dict[int, int | None]:
        """Give the stage of each clutch whose profile has stages; heat is read for those alone."""
        staged = [
            each for each in lying if each.species_id in self._profiles and self._profiles[each.species_id].stages
        ]
        if not staged:
            return {}
        totals = self._heat.read(conn, [each.clutch_id for each in staged], now_ms)
        reader = HeatReader(conn, self._site, self._profiles, air, self._bridge_ms, now_ms, totals=totals)
        found: dict[int, int | None] = {}
        for each in staged:
            begins = stage_begins_now(each, self._profiles[each.species_id], reader.heat_of(each), now_ms)
            found[each.clutch_id] = max((n for n, begin_ms in enumerate(begins) if begin_ms <= now_ms), default=None)
        return found

    def _advice(self, ground: _Ground, needs: Needs, profile: SpeciesProfile, clutch: Clutch | None) -> Advice:
        here = "" if clutch is None else _place_now(clutch, ground.now_ms)
        number = None if clutch is None else clutch.clutch_id
        options = [self._option(ground, needs, number, place, here) for place in self._candidates(ground, here)]
        return Advice(
            site_name=self._site.name,
            time_zone=self._site.time_zone,
            fahrenheit=self._site.temperature_unit == "F",
            now_ms=ground.now_ms,
            days=ground.days,
            clutch_id=number,
            label=needs.occupant.label if clutch is not None else "",
            needs=needs,
            here=self._places.name(here) if self._places.exists(here) else here,
            options=sorted_options(options, needs),
            venomous=profile.venomous if clutch is None else is_venomous(clutch, profile.venomous),
            caution=profile.caution or "",
            behind=any(ground.behind),
        )

    def _candidates(self, ground: _Ground, here: str) -> list[str]:
        """Give every shelf, or incubator without shelves, and each box with a thermometer of its own that is free."""
        found = []
        for incubator in self._site.incubators:
            within = self._places.within(incubator.id)
            shelves = [each for each in within if each.count("/") == 1]
            found += shelves or [incubator.id]
            found += [
                each
                for each in within
                if each in ground.air.channel_at
                and each in self._places.boxes
                and (each == here or self._is_free(ground, each))
            ]
        return found

    def _option(self, ground: _Ground, needs: Needs, number: int | None, place: str, here: str) -> Option:
        is_box = place in self._places.boxes
        shelf = place.rpartition("/")[0] if is_box else place
        own = {each for each in self._places.within(shelf) if each in ground.air.channel_at and each != shelf}
        is_here = here == place or (not is_box and here not in own and here.startswith(f"{place}/"))
        others = [each for each in ground.occupancy.lying_in(shelf, ground.now_ms) if each.clutch_id != number]
        neighbours = [
            Occupant(each.label, self._profiles[each.species_id], ground.stages.get(each.clutch_id))
            for each in others
            if each.species_id in self._profiles
        ]
        channel, course = self._best(ground, place)
        stay = None if course is None else stay_of(course, needs.bounds, _asked_h(ground.days))
        probe = "" if channel is None else channel.partition("/")[0]
        return Option(
            place=place,
            name=self._places.name(place),
            is_here=is_here,
            stay=stay,
            unknown="" if stay is not None else self._why_unknown(ground, channel),
            measured_by=probe,
            measured_at=self._places.name(self._place_of[probe]) if probe else "",
            free=self._free(ground, place, own),
            neighbours=tuple(each.label for each in others),
            conflicts=conflicts_with(needs.occupant, neighbours),
            band_c=band_of(needs.occupant, neighbours),
        )

    def _best(self, ground: _Ground, place: str) -> tuple[str | None, Course | None]:
        """Give the channel that speaks for a place, the nearest that has readings, and its course."""
        channels = ground.air.channels_for.get(place, ())
        for channel in channels:
            course = self._course(ground, channel)
            if course.at_ms:
                return channel, course
        return (channels[0], None) if channels else (None, None)

    def _course(self, ground: _Ground, channel: str) -> Course:
        if channel not in ground.courses:
            # Stretches that are full of rows of the roll-ups cost no reading of readings.
            width_ms = _width_ms(ground.days)
            until_ms = ground.now_ms // width_ms * width_ms
            from_ms = until_ms - ground.days * _DAY_MS
            bridge_ms = max(self._bridge_ms, self._windows_ms[channel.partition("/")[0]])
            pieces = ground.air.calibrations.straight(channel, from_ms, until_ms - 1)
            found = series(ground.conn, channel, from_ms, until_ms, (until_ms - from_ms) // width_ms, pieces, bridge_ms)
            ground.behind.append(found.is_behind)
            ground.courses[channel] = course_of(found.columns)
        return ground.courses[channel]

    def _why_unknown(self, ground: _Ground, channel: str | None) -> str:
        if channel is None:
            return "Unknown: no probe measures the air there."
        course = ground.courses.get(channel)
        said = "has no good reading" if course is None or not course.at_ms else "has too few good readings"
        return f"Unknown: probe {channel.partition('/')[0]} {said} of the last {days_text(ground.days)}."

    def _free(self, ground: _Ground, place: str, own: set[str]) -> tuple[tuple[str, str], ...]:
        """Give what takes a clutch there: free boxes; a shelf without boxes itself."""
        boxes = [each for each in self._places.within(place) if each in self._places.boxes]
        if not boxes:
            return ((place, self._places.name(place)),)
        free = (each for each in boxes if (each == place or each not in own) and self._is_free(ground, each))
        return tuple((each, self._places.name(each).removeprefix(f"{self._places.name(place)}, ")) for each in free)

    def _is_free(self, ground: _Ground, box: str) -> bool:
        return not ground.occupancy.lying_in(box, ground.now_ms)


def _asked_h(days: int) -> float:
    """Lines lead from the middle of the first stretch to the middle of the last one."""
    return days * _DAY_H - _width_ms(days) / 3_600_000


def _width_ms(days: int) -> int:
    return _COARSE_MS if days > _FINE_DAYS else STRETCH_MS


def _place_now(clutch: Clutch, now_ms: int) -> str:
    return next(each.place for each in reversed(clutch.placements) if each.from_ms <= now_ms)
