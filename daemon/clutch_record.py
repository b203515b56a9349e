"""The read side of the page of one clutch, and of clutches that the first page does not have."""

import sqlite3
import threading
from collections.abc import Callable, Hashable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import accumulate

from config.places import Places
from config.site import Site
from config.species import SpeciesProfile
from config.words import Quantity
from daemon.alarms.limits import Limits
from daemon.clutch_checks import ClutchChecks
from daemon.clutch_climate import ClutchClimates, Lain
from daemon.clutch_events import alarm_events, other_events
from daemon.clutch_record_values import (
    AlsoStated,
    ClosedClutch,
    ClutchRecord,
    EggsAndCheck,
    HeatPoint,
    OtherClutch,
    Stay,
)
from daemon.clutches import register
from daemon.clutches.register import Clutch
from daemon.clutches.values import is_venomous
from daemon.development.heat_interval import HeatPiece
from daemon.development.heat_since_laying import interval_ch, since_laying
from daemon.development.window import NoWindow
from daemon.heat_course import HeatCourse
from daemon.heat_ledger import HOUR_MS, heat_over, heat_rule, laying_of
from daemon.heat_now import HeatNow, HeatReader, kept_before
from daemon.occupancy import FOR_EVER_MS, Occupancy, stays
from daemon.overview import ClutchNow
from daemon.overview_clutch import clutch_now
from daemon.overview_past import Past
from daemon.overview_past_reader import PastReader
from daemon.round_sooner import SoonerChecks
from daemon.stage_begins import StageBegins
from daemon.storage import clutch_history, heat, photos
from daemon.storage.clutch_history import HeatDay
from daemon.storage.journal import Journal
from daemon.thermometers import AirChannels

_CLOSED = NoWindow("It is closed: no date is told any more.")
_CLOSED_KEPT_MS = 6 * HOUR_MS
"""What a closed clutch came to is worked out again after so long: readings of its last hour may have come in late."""


class ClutchRecords:
    """Answers for the pages of clutches. Safe to use from any thread; every call reads one moment of the journal."""

    def __init__(
        self,
        journal: Journal,
        site: Site,
        profiles: Mapping[str, SpeciesProfile],
        longest_bridge_s: float,
        sooner: SoonerChecks | None = None,
    ) -> None:
        self._journal = journal
        self._site = site
        self._profiles = profiles
        self._places = Places(site)
        self._bridge_ms = int(longest_bridge_s * 1000)
        self._checks = ClutchChecks(site, sooner or SoonerChecks(site, profiles, longest_bridge_s))
        self._climates = ClutchClimates(site, self._bridge_ms)
        self._pasts = PastReader(site, profiles, self._bridge_ms, None)
        self._lock = threading.Lock()
        self._closed: dict[int, tuple[Hashable, OtherClutch]] = {}

    def others(self, now_ms: int, include_closed: bool = True) -> tuple[OtherClutch, ...]:
        """Give the clutches that no incubator holds now: closed, or in a place that is gone. Raises JournalError.

        A sum over the stored hours of each: about 1 ms for a season of a clutch, and of a closed one only where
        something of it has changed since it was asked for.
        """
        with self._journal.read() as conn:
            air = self._air(conn)
            closed = self._closed_ones(conn, air, now_ms)
            return tuple(
                self._other(conn, one, air, now_ms) if one.closed_at_ms is None else closed(one)
                for one in register.clutches(conn, include_closed)
                if one.closed_at_ms is not None or not self._places.exists(_place_at(one, now_ms))
            )

    def closed(self, now_ms: int, before: tuple[int, int] | None, limit: int) -> list[ClosedClutch]:
        """Give those closed last, or before one: its moment of closing and its number. Raises JournalError."""
        with self._journal.read() as conn:
            found = register.closed_page(conn, before, limit)
            closed = self._closed_ones(conn, self._air(conn), now_ms)
            told = self._checks.read(conn, (), now_ms, [one.clutch_id for one in found])
            return [
                ClosedClutch(closed(one), told.get(one.clutch_id, EggsAndCheck()), self._also(one)) for one in found
            ]

    def stated(self) -> dict[int, AlsoStated]:
        """Give what else the register has of every open clutch, by its number. Raises JournalError."""
        with self._journal.read() as conn:
            return {one.clutch_id: self._also(one) for one in register.clutches(conn)}

    def _closed_ones(self, conn: sqlite3.Connection, air: AirChannels, now_ms: int) -> Callable[[Clutch], OtherClutch]:
        changes, version = heat.changes(conn), (air.version(conn), now_ms // _CLOSED_KEPT_MS)

        def one(clutch: Clutch) -> OtherClutch:
            key = (clutch, changes.get(clutch.clutch_id), version)
            with self._lock:
                kept = self._closed.get(clutch.clutch_id)
            if kept is None or kept[0] != key:
                kept = key, self._other(conn, clutch, air, now_ms)
                with self._lock:
                    self._closed[clutch.clutch_id] = kept
            return kept[1]

        return one

    def _other(self, conn: sqlite3.Connection, clutch: Clutch, air: AirChannels, now_ms: int) -> OtherClutch:
        name = self.name(clutch.placements[-1].place)
        return OtherClutch(self._shown(conn, clutch, air, now_ms), name, clutch.closed_at_ms)

    def told(self, now_ms: int, include_closed: bool = False) -> dict[int, EggsAndCheck]:
        """Give of every open clutch how its eggs are and when they are looked at next. Raises JournalError.

        With `include_closed` of closed ones too; that costs more with every season.
        """
        with self._journal.read() as conn:
            lying = register.clutches(conn)
            of = None if include_closed else [each.clutch_id for each in lying]
            return self._checks.read(conn, lying, now_ms, of)

    def one(self, clutch_id: int, now_ms: int) -> ClutchRecord | None:
        """Give everything on the page of a clutch, open or closed; None where there is none. Raises JournalError."""
        with self._journal.read() as conn:
            known = register.clutches(conn, include_closed=True)
            clutch = next((each for each in known if each.clutch_id == clutch_id), None)
            return None if clutch is None else self._record(conn, clutch, known, now_ms)

    def name(self, place: str) -> str:
        """Give the name of a place for people; one that the site has no more keeps the name of the register."""
        return self._places.name(place) if self._places.exists(place) else place

    def _record(self, conn: sqlite3.Connection, clutch: Clutch, known: Sequence[Clutch], now_ms: int) -> ClutchRecord:
        shown_ms = _shown_ms(clutch, now_ms)
        air = self._air(conn)
        now = self._shown(conn, clutch, air, now_ms)
        occupancy = self._occupancy(conn, clutch, known)
        lain = [Lain(stay.place, stay.from_ms, min(end_ms, shown_ms)) for stay, end_ms in stays(clutch)]
        lain = [each for each in lain if each.from_ms < each.end_ms]
        climates = {
            quantity: self._climates.read(conn, lain, quantity, occupancy, air.calibrations)
            for quantity in (Quantity.AIR_TEMPERATURE, Quantity.RELATIVE_HUMIDITY)
        }
        alarms, left_out = alarm_events(
            conn,
            self._subjects(lain, clutch),
            lain,
            self.name,
            fahrenheit=self._site.temperature_unit == "F",
            time_zone=self._site.time_zone,
            now_ms=now_ms,
        )
        events = (*other_events(conn, clutch, lain, self.name), *alarms)
        limits_ms = shown_ms if clutch.closed_at_ms is None else shown_ms - 1
        return ClutchRecord(
            site_name=self._site.name,
            time_zone=self._site.time_zone,
            fahrenheit=self._site.temperature_unit == "F",
            now_ms=now_ms,
            shown_ms=shown_ms,
            closed_at_ms=clutch.closed_at_ms,
            clutch=now,
            place_name=self.name(now.place),
            note=clutch.note,
            population=clutch.population,
            heat=tuple(self._heat_points(conn, clutch, now, shown_ms)),
            limits=occupancy.limits(now.place, limits_ms) if self._places.exists(now.place) else Limits(),
            temperature=climates[Quantity.AIR_TEMPERATURE],
            humidity=climates[Quantity.RELATIVE_HUMIDITY],
            stays=tuple(self._stays(clutch)),
            events=tuple(sorted(events, key=lambda each: each.at_ms)),
            alarms_left_out=left_out,
            changes=tuple(clutch_history.changes(conn, clutch.clutch_id)),
            told=self._checks.one(conn, clutch, known, now_ms),
            also=self._also(clutch),
            photos=tuple(photos.of_clutch(conn, clutch.clutch_id)),
        )

    def _also(self, clutch: Clutch) -> AlsoStated:
        profile = self._profiles.get(clutch.species_id)
        venomous = is_venomous(clutch, profile is not None and profile.venomous)
        return AlsoStated(venomous, clutch.protected, clutch.dam, clutch.sire, clutch.found_ms, clutch.tags)

    def _air(self, conn: sqlite3.Connection) -> AirChannels:
        air = AirChannels(self._site)
        air.load(conn)
        return air

    def _shown(self, conn: sqlite3.Connection, clutch: Clutch, air: AirChannels, now_ms: int) -> ClutchNow:
        """The clutch as it is now; a closed one as it was when it was closed."""
        profile, shown_ms = self._profiles.get(clutch.species_id), _shown_ms(clutch, now_ms)
        if clutch.closed_at_ms is None:
            reader = HeatReader(conn, self._site, self._profiles, air, self._bridge_ms, shown_ms, clutch.clutch_id)
            past = self._pasts.read(conn, [clutch], reader, air, shown_ms).get(clutch.clutch_id, Past())
            return clutch_now(clutch, profile, reader.heat_of(clutch), shown_ms, past)
        heat_then = self._heat_then(conn, clutch, air, shown_ms)
        return replace(clutch_now(clutch, profile, heat_then, shown_ms), window=_CLOSED)

    def _heat_then(self, conn: sqlite3.Connection, clutch: Clutch, air: AirChannels, end_ms: int) -> HeatNow | None:
        """The heat that a closed clutch had in the end; None where nothing is known of its species."""
        rule = heat_rule(self._profiles.get(clutch.species_id))
        if rule is None:
            return None
        days = clutch_history.heat_days(conn, clutch.clutch_id, end_ms)
        from_ms = days[-1].end_ms if days else clutch.placements[0].from_ms
        course = HeatCourse(conn, air, self._bridge_ms)
        whole = sum((day.piece for day in days), HeatPiece()) + heat_over(course, clutch, from_ms, end_ms, rule)
        so_far = since_laying(laying_of(clutch), kept_before(self._site, clutch), whole, rule, end_ms)
        return HeatNow(
            so_far,
            *interval_ch(so_far),
            is_measured=whole.covered_ms > 0,
            hours_missing=whole.missing_ms / HOUR_MS,
            hours_above_cap=whole.above_cap_ms / HOUR_MS,
            hours_below_zero=whole.below_zero_ms / HOUR_MS,
            rate_now_k=None,
            recent_rate_k=None,
            recent_mean_c=None,
            future=None,
        )

    def _heat_points(
        self, conn: sqlite3.Connection, clutch: Clutch, now: ClutchNow, shown_ms: int
    ) -> Iterator[HeatPoint]:
        """From laying to the moment that is shown, a point for each day; none where no heat is counted."""
        rule, laying = heat_rule(self._profiles.get(clutch.species_id)), laying_of(clutch)
        if rule is None or now.degree_hours_ch is None:
            return
        kept = kept_before(self._site, clutch)
        days = clutch_history.heat_days(conn, clutch.clutch_id, shown_ms)
        sums = accumulate((day.piece for day in days), initial=HeatPiece())
        yield HeatPoint(round(laying.middle_ms), 0.0, 0.0, 0.0)
        for day, piece in zip([HeatDay(laying.set_up_ms, HeatPiece()), *days], sums, strict=True):
            so_far = since_laying(laying, kept, piece, rule, day.end_ms)
            yield HeatPoint(day.end_ms, *interval_ch(so_far))
        if now.degree_hours_low_ch is not None and now.degree_hours_high_ch is not None:
            yield HeatPoint(shown_ms, now.degree_hours_low_ch, now.degree_hours_ch, now.degree_hours_high_ch)

    def _occupancy(self, conn: sqlite3.Connection, clutch: Clutch, known: Sequence[Clutch]) -> Occupancy:
        """Who lay with it: the limits of its place follow from them, each at its stage."""
        mine = [(stay.place, stay.from_ms, end_ms) for stay, end_ms in stays(clutch)]
        with_it = [
            other
            for other in known
            if any(
                _touches(stay.place, place) and stay.from_ms < until_ms and from_ms < end_ms
                for stay, end_ms in stays(other)
                for place, from_ms, until_ms in mine
            )
        ]
        begins = StageBegins(self._profiles)
        for other in with_it:
            if begins.is_staged(other):
                begins.take(other.clutch_id, heat.hours(conn, other.clutch_id))
        stages = {one.clutch_id: begins.begins(one, kept_before(self._site, one)) for one in with_it}
        return Occupancy(with_it, self._places, self._profiles, stages)

    def _subjects(self, lain: Sequence[Lain], clutch: Clutch) -> dict[str, list[Lain]]:
        """What an alarm may be about that concerns the clutch, each with the stays in which it does."""
        whole = [Lain("", clutch.placements[0].from_ms, FOR_EVER_MS)]
        subjects: dict[str, list[Lain]] = {f"clutch-{clutch.clutch_id}": whole}
        for stay in lain:
            if self._places.exists(stay.place):
                for part in self._places.chain(stay.place):
                    names = [
                        f"{probe.id}/{each.name}" for probe in self._places.probes_at(part) for each in probe.channels
                    ]
                    for name in (part, *names):
                        subjects.setdefault(name, []).append(stay)
        return subjects

    def _stays(self, clutch: Clutch) -> Iterator[Stay]:
        for stay, end_ms in stays(clutch):
            yield Stay(stay.place, self.name(stay.place), stay.from_ms, None if end_ms == FOR_EVER_MS else end_ms)


def _shown_ms(clutch: Clutch, now_ms: int) -> int:
    """Now, or when it was closed; a clock that was set back must not show a clutch before there was one."""
    return max(clutch.placements[0].from_ms, now_ms if clutch.closed_at_ms is None else clutch.closed_at_ms)


def _place_at(clutch: Clutch, now_ms: int) -> str:
    return next((one.place for one in reversed(clutch.placements) if one.from_ms <= now_ms), "")


def _touches(other: str, mine: str) -> bool:
    """True where what lies in `other` lies in `mine` as well."""
    return other == mine or other.startswith(f"{mine}/")
