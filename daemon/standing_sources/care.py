"""What people have to do on certain days, from rounds, register and hatch windows."""

import math
from collections.abc import Iterator, Mapping
from zoneinfo import ZoneInfo

from config.places import Places
from config.site import Site
from config.species import SpeciesProfile
from config.words import AlarmKind, Quantity
from daemon.alarms.round_suppression import Round
from daemon.clutches.register import Clutch
from daemon.development.basis import development_basis
from daemon.heat_now import HeatReader
from daemon.overview_clutch import clutch_now
from daemon.round_seen import seen_by_incubator
from daemon.standing import care
from daemon.standing.found import Found
from daemon.standing.last_seen import round_overdue
from daemon.standing_sources.source import Moment
from daemon.storage import rounds

_ROUNDS_EVERY_MS = 30_000
_HATCHING_EVERY_MS = 15_000
_TURNS = 60
"""Looks in which every clutch has had its turn: a quarter of an hour."""


class Rounds:
    """Rounds that are overdue or not ended, and clutches that do not suit each other.

    A look costs 0.1 ms and 50 µs for each clutch: indexed queries, and limits that the occupancy keeps. After a move
    these cost some ms.
    """

    kinds = frozenset({AlarmKind.NO_COMMON_RANGE, AlarmKind.ROUND_NOT_ENDED, AlarmKind.ROUND_OVERDUE})
    every_ms = _ROUNDS_EVERY_MS

    def __init__(self, site: Site) -> None:
        self._site = site
        self._zone = ZoneInfo(site.time_zone)
        places = Places(site)
        # A zone has one temperature for all its boxes. Whatever else is shared is measured: boxes have lids.
        self._shared = {place: _measured(places, place) for place in places.all}
        for place in (each for each in self._shared if each.count("/") == 1):
            self._shared[place] |= {Quantity.AIR_TEMPERATURE}

    def found(self, moment: Moment) -> Iterator[Found]:
        """Everything that holds at this moment."""
        yield from care.no_common_range(
            {
                place: [each.reason for each in limits.conflicts if each.quantity in shared]
                for place, shared in self._shared.items()
                if shared and (limits := moment.occupancy.limits(place, moment.now_ms)).conflicts
            }
        )
        here = {incubator.id for incubator in self._site.incubators}
        known = (each for each in rounds.not_settled(moment.conn, moment.now_ms) if each.incubator in here)
        going_on = {each.incubator: each for each in known if each.ended_ms is None}
        yield from care.rounds_not_ended(going_on.values(), moment.now_ms, self._zone)
        yield from self._overdue(moment, going_on)

    def _overdue(self, moment: Moment, going_on: Mapping[str, Round]) -> Iterator[Found]:
        here = (moment.occupancy.lying_in(each.id, moment.now_ms) for each in self._site.incubators)
        lying = [clutch for inside in here for clutch in inside]
        for incubator, seen in seen_by_incubator(moment.conn, self._site, lying, moment.now_ms).items():
            found = round_overdue(
                incubator,
                seen,
                self._site.care.round_every_days,
                moment.now_ms,
                self._zone,
                is_on=moment.is_on(AlarmKind.ROUND_OVERDUE, incubator),
                goes_on=incubator in going_on,
            )
            if found is not None:
                yield found


def _measured(places: Places, place: str) -> set[Quantity]:
    return {channel.quantity for probe in places.climate_probes_at(place) for channel in probe.channels}


class Hatching:
    """Clutches that are near pipping, or should have hatched.

    Each look asks for some of the clutches in turn, all of them within a quarter of an hour, and remembers the answers
    for the others. It costs about 2 ms for each clutch that it asks for, however many there are: the stored hours of
    heat of that clutch from its set-up on, and the readings since the last of them.
    """

    kinds = frozenset({AlarmKind.NEAR_PIPPING, AlarmKind.HATCH_OVERDUE})
    every_ms = _HATCHING_EVERY_MS

    def __init__(self, site: Site, profiles: Mapping[str, SpeciesProfile], longest_bridge_s: float) -> None:
        self._site = site
        self._places = Places(site)
        self._profiles = profiles
        self._bridge_ms = int(longest_bridge_s * 1000)
        self._zone = ZoneInfo(site.time_zone)
        self._answers: dict[int, tuple[Found, ...]] = {}
        self._waiting: list[int] = []

    def found(self, moment: Moment) -> Iterator[Found]:
        """Everything that holds at this moment, and the clutches of which no date can be told just now."""
        datable = {each.clutch_id: each for each in moment.occupancy.clutches if self._has_dates(each, moment.now_ms)}
        self._answers = {number: known for number, known in self._answers.items() if number in datable}
        self._waiting = [each for each in self._waiting if each in datable] or sorted(datable)
        count = math.ceil(len(datable) / _TURNS)
        now, self._waiting = self._waiting[:count], self._waiting[count:]
        for number in now:
            self._answers[number] = tuple(self._of(datable[number], moment))
        for number in datable:
            yield from self._answers[number] if number in self._answers else self._not_asked(number)

    def _not_asked(self, number: int) -> Iterator[Found]:
        """After a start nothing is known of a clutch until its turn: what is on stays on."""
        yield from (Found(kind, _subject(number), "not looked at yet", known=False) for kind in sorted(self.kinds))

    def _has_dates(self, clutch: Clutch, now_ms: int) -> bool:
        """Tell whether a clutch lies at a place of the site now and its species has a date at all."""
        place = next((each.place for each in reversed(clutch.placements) if each.from_ms <= now_ms), "")
        if not self._places.exists(place):
            return False
        profile = self._profiles.get(clutch.species_id)
        lies = clutch.placements[0].from_ms <= now_ms and clutch.closed_at_ms is None
        return lies and profile is not None and profile.pause == "none" and development_basis(profile) is not None

    def _of(self, clutch: Clutch, moment: Moment) -> Iterator[Found]:
        number, now_ms = clutch.clutch_id, moment.now_ms
        reader = HeatReader(moment.conn, self._site, self._profiles, moment.air, self._bridge_ms, now_ms, number)
        now = clutch_now(clutch, self._profiles[clutch.species_id], reader.heat_of(clutch), now_ms)
        near_days = self._site.care.near_pipping_days
        at = (_subject(number), clutch.label, now.place, now.window)
        near_on, overdue_on = (
            moment.is_on(kind, _subject(number)) for kind in (AlarmKind.NEAR_PIPPING, AlarmKind.HATCH_OVERDUE)
        )
        near = care.near_pipping(*at, near_days, now_ms, self._zone, is_on=near_on)
        overdue = care.hatch_overdue(*at, now_ms, self._zone, is_on=overdue_on)
        yield from (each for each in (near, overdue) if each is not None)


def _subject(number: int) -> str:
    return f"clutch-{number}"
