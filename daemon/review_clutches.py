"""What a period did to each clutch that lay somewhere in it, read from one moment of the journal.

Heat is that of the heat ledger: its stored hours up to the period, and the same counting within it. What was measured
or may have been is asked once for each place and stretch, however many clutches share it.
"""

import sqlite3
from collections.abc import Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from config.places import Places
from config.site import Site
from config.species import SpeciesProfile
from daemon.clutches import register
from daemon.clutches.register import Clutch
from daemon.clutches.values import is_venomous
from daemon.development.basis import development_basis
from daemon.development.heat_interval import HeatPiece, HeatRule
from daemon.development.heat_since_laying import interval_ch, since_laying
from daemon.development.stages import Share, ranges_in_force, stage_in_force
from daemon.development.window import HeatSoFar, NoWindow
from daemon.heat_course import HeatCourse
from daemon.heat_ledger import HOUR_MS, heat_over, heat_rule, laying_of
from daemon.heat_now import kept_before
from daemon.occupancy import stays
from daemon.review.clutch import ClutchReview, Lain, Stage, most_urgent_first
from daemon.review.clutch_air import BoxAir, humidity_wanted
from daemon.review.clutch_exposure import (
    Course,
    Exposure,
    Extremes,
    Period,
    Tolerance,
    courses_of,
    exposure,
    extremes,
    longest_look_back_ms,
    tolerances,
    unknown_course,
)
from daemon.review.clutch_heat import BEFORE_DAYS, HatchShift, HeatLoss, before_of, hatch_shift, heat_loss, narrowed
from daemon.review.course import GapCourse, GapKind
from daemon.review.record import PlaceRecord
from daemon.review.values import Span
from daemon.review_humidity import BoxAirs
from daemon.review_records import PlaceRecords
from daemon.storage import heat_past
from daemon.storage.heat import HeatTotal
from daemon.thermometers import AirChannels

DAY_MS = 24 * HOUR_MS
_NO_HEAT = HeatSoFar(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
NO_PROFILE = "There is no profile for this species."
UNKNOWN_SPECIES = "Nothing is known of how fast this species develops."


class _Then(NamedTuple):
    """The heat of a clutch at the beginning of a period, and over the days before."""

    at_start: HeatPiece
    before: HeatPiece
    gained: HeatPiece


@dataclass(slots=True)
class ClutchReviews:
    """Looks at periods in one moment of the journal. Not to be kept: what was read stays read.

    `records` are those that the places are reviewed by, of the same moment, so that nothing is read twice.
    """

    conn: sqlite3.Connection
    site: Site
    profiles: Mapping[str, SpeciesProfile]
    air: AirChannels
    bridge_ms: int
    records: PlaceRecords
    _places: Places = field(init=False)
    _heat: HeatCourse = field(init=False)
    _airs: BoxAirs = field(init=False)
    _courses: dict[tuple[str, int, int], tuple[Course, ...]] = field(default_factory=dict)
    _of_records: dict[int, tuple[PlaceRecord, tuple[Course, ...]]] = field(default_factory=dict)
    _exposures: dict[tuple[Hashable, ...], Exposure] = field(default_factory=dict)
    _found: dict[tuple[Hashable, ...], Extremes | None] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._places = Places(self.site)
        self._heat = HeatCourse(self.conn, self.air, self.bridge_ms)
        self._airs = BoxAirs(self.conn, self.site, self.air)

    def of(self, span: Span, now_ms: int) -> tuple[ClutchReview, ...]:
        """Give what the period did to each clutch that lay somewhere in it, closed ones too, the most urgent first.

        Raises ValueError for a period that ends before it begins.
        """
        period = Period(span.from_ms, min(span.until(now_ms), now_ms))
        if period.from_ms >= period.to_ms:
            raise ValueError(f"The period from {period.from_ms} to {period.to_ms} ms has no length by {now_ms} ms.")
        known = register.clutches(self.conn, include_closed=True)
        lain = {one.clutch_id: self._lain(one, period) for one in known}
        there = [one for one in known if lain[one.clutch_id]]
        ids = [one.clutch_id for one in there]
        stored = heat_past.between(self.conn, ids, None, period.from_ms)
        days = heat_past.between(self.conn, ids, period.from_ms - BEFORE_DAYS * DAY_MS, period.from_ms)
        return most_urgent_first(
            [
                self._one(one, lain[one.clutch_id], stored.get(one.clutch_id), days.get(one.clutch_id), now_ms)
                for one in there
            ]
        )

    def _lain(self, clutch: Clutch, period: Period) -> tuple[Lain, ...]:
        return tuple(
            Lain(
                stay.place,
                self._places.name(stay.place) if self._places.exists(stay.place) else stay.place,
                max(stay.from_ms, period.from_ms),
                min(end_ms, period.to_ms),
            )
            for stay, end_ms in stays(clutch)
            if max(stay.from_ms, period.from_ms) < min(end_ms, period.to_ms)
        )

    def _one(
        self,
        clutch: Clutch,
        lain: tuple[Lain, ...],
        stored: HeatTotal | None,
        days: HeatTotal | None,
        now_ms: int,
    ) -> ClutchReview:
        profile = self.profiles.get(clutch.species_id)
        rule = heat_rule(profile)
        then = None if rule is None else self._then(clutch, lain, rule, stored, days)
        stage, index = self._stage(clutch, profile, rule, then, lain[0].from_ms)
        loss = self._loss(rule, then, stage)
        mine = Period(lain[0].from_ms, lain[-1].to_ms)
        courses, whole = self._lay(clutch, profile, mine)
        return ClutchReview(
            clutch_id=clutch.clutch_id,
            label=clutch.label,
            species_name=profile.common_name if profile else clutch.species_id,
            egg_count=clutch.egg_count,
            venomous=is_venomous(clutch, profile is not None and profile.venomous),
            caution=(profile.caution or "") if profile else "",
            is_open=clutch.is_open and self._places.exists(clutch.placements[-1].place),
            lain=lain,
            stage=stage,
            heat=loss,
            no_heat="" if loss is not None else UNKNOWN_SPECIES if profile else NO_PROFILE,
            shift=self._shift(clutch, profile, rule, then, loss, mine.to_ms, now_ms),
            exposures=tuple(self._exposed(one, whole, mine) for one in (tolerances(profile) if profile else ())),
            extremes=self._extremes(courses, mine),
            air=self._air(lain, profile, index),
        )

    def _then(
        self, clutch: Clutch, lain: Sequence[Lain], rule: HeatRule, stored: HeatTotal | None, days: HeatTotal | None
    ) -> _Then:
        """Stored hours up to the period, and what lies between the last of them and its beginning."""
        start_ms, end_ms = lain[0].from_ms, lain[-1].to_ms
        tail_ms = clutch.set_up_ms if stored is None else stored.last_hour_ms + HOUR_MS
        tail = heat_over(self._heat, clutch, min(tail_ms, start_ms), start_ms, rule)
        return _Then(
            (HeatPiece() if stored is None else stored.piece) + tail,
            (HeatPiece() if days is None else days.piece) + tail,
            narrowed(heat_over(self._heat, clutch, start_ms, end_ms, rule), self._gaps(lain), rule),
        )

    def _gaps(self, lain: Sequence[Lain]) -> list[GapCourse]:
        """What no probe covers of where it lay; of a place that is gone nothing but the ledger knows."""
        if not all(self._places.exists(one.place) for one in lain):
            return []
        records = [self.records.temperature(one.place, one.from_ms, one.to_ms) for one in lain]
        return [gap for record in records for gap in record.gaps if gap.kind is not GapKind.OTHER_PROBE]

    def _loss(self, rule: HeatRule | None, then: _Then | None, stage: Stage | None) -> HeatLoss | None:
        if rule is None or then is None or stage is None:
            return None
        return heat_loss(then.gained, before_of(then.before, rule, (stage.low_c, stage.high_c)))

    def _so_far(self, clutch: Clutch, rule: HeatRule, since_set_up: HeatPiece, at_ms: int) -> HeatSoFar:
        return since_laying(laying_of(clutch), kept_before(self.site, clutch), since_set_up, rule, at_ms)

    def _stage(
        self, clutch: Clutch, profile: SpeciesProfile | None, rule: HeatRule | None, then: _Then | None, at_ms: int
    ) -> tuple[Stage | None, int | None]:
        """How far it was at a moment, and the index of its stage; None without a profile."""
        if profile is None:
            return None, None
        basis = development_basis(profile)
        share = None
        if basis is not None and rule is not None and then is not None and profile.pause == "none":
            found = interval_ch(self._so_far(clutch, rule, then.at_start, at_ms))
            share = Share(*(each / basis.constant_ch for each in found))
        in_force = stage_in_force(profile, share, (at_ms - laying_of(clutch).middle_ms) / DAY_MS)
        ranges = ranges_in_force(profile, in_force.index)
        return Stage(share, ranges.low_c, ranges.high_c, in_force.reason), in_force.index

    def _shift(
        self,
        clutch: Clutch,
        profile: SpeciesProfile | None,
        rule: HeatRule | None,
        then: _Then | None,
        loss: HeatLoss | None,
        at_ms: int,
        now_ms: int,
    ) -> HatchShift | NoWindow:
        if profile is None:
            return NoWindow(NO_PROFILE)
        if clutch.closed_at_ms is not None and clutch.closed_at_ms <= min(at_ms, now_ms):
            return NoWindow("It was closed within this time.")
        heat = _NO_HEAT
        if rule is not None and then is not None:
            heat = self._so_far(clutch, rule, then.at_start + then.gained, at_ms)
        return hatch_shift(profile, development_basis(profile), heat, loss, at_ms)

    def _lay(
        self, clutch: Clutch, profile: SpeciesProfile | None, mine: Period
    ) -> tuple[tuple[Course, ...], tuple[Course, ...]]:
        """How warm it was where it lay: in the period, and with the time that its exposure limits look back on."""
        back_ms = 0 if profile is None else longest_look_back_ms(tolerances(profile))
        inside = tuple(self._along(clutch, mine.from_ms, mine.to_ms))
        return inside, (*self._along(clutch, mine.from_ms - back_ms, mine.from_ms), *inside)

    def _along(self, clutch: Clutch, from_ms: int, to_ms: int) -> Iterator[Course]:
        for stay, end_ms in stays(clutch):
            start, end = max(stay.from_ms, from_ms), min(end_ms, to_ms)
            if start < end:
                yield from self._course(stay.place, start, end)

    def _course(self, place: str, from_ms: int, to_ms: int) -> tuple[Course, ...]:
        key = (place, from_ms, to_ms)
        if key not in self._courses:
            there = self._places.exists(place)
            self._courses[key] = self._measured(*key) if there else (unknown_course(from_ms, to_ms),)
        return self._courses[key]

    def _measured(self, place: str, from_ms: int, to_ms: int) -> tuple[Course, ...]:
        """The courses of a place; boxes that share a record share them, so that each is held against a limit once."""
        record = self.records.temperature(place, from_ms, to_ms)
        if id(record) not in self._of_records:
            self._of_records[id(record)] = record, courses_of(record)
        return self._of_records[id(record)][1]

    def _exposed(self, tolerance: Tolerance, courses: Sequence[Course], mine: Period) -> Exposure:
        key = (tolerance, mine, *map(id, courses))
        if key not in self._exposures:
            self._exposures[key] = exposure(tolerance, courses, mine)
        return self._exposures[key]

    def _extremes(self, courses: Sequence[Course], mine: Period) -> Extremes | None:
        key = (mine, *map(id, courses))
        if key not in self._found:
            self._found[key] = extremes(courses, mine)
        return self._found[key]

    def _air(self, lain: Sequence[Lain], profile: SpeciesProfile | None, stage: int | None) -> BoxAir:
        wanted = None if profile is None else humidity_wanted(profile, stage)
        found = [self._airs.of(one.place, one.from_ms, one.to_ms, wanted) for one in lain]
        whole = found[0]
        for each in found[1:]:
            whole = whole.and_then(each)
        return whole
