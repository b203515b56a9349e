"""Pure: which boxes need somebody most, and why.

No score: reasons fall into classes in a fixed order, and within a class the sooner, or the larger, comes first. A box
stands where its first reason puts it. Order and thresholds are this project's choice: what a person can mend by hand
and what cannot wait come first; what the alarms call for anyway comes later.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import tzinfo
from enum import IntEnum

from daemon.clutches.eggs import EggState
from daemon.development.window import HatchWindow
from daemon.rounds.sheet import BoxSheet, ClutchSheet
from daemon.rounds.values import Lid, Medium, named
from daemon.standing.care import day_text

SHORT_ROUND = 5
"""So many boxes a short round has at the most."""
WET_HOURS_A_DAY = 6.0
"""From so many hours with water on the lid in a day on somebody should wipe it. Project choice."""
LEAST_HOURS_OUTSIDE = 1.0
"""Less than this since the last look is an opened lid. Project choice."""
_DAY_MS = 86_400_000


class NeedClass(IntEnum):
    """Why a box needs somebody, the most pressing first."""

    DRYING = 1
    DRIPPING = 2
    ON_WATCH = 3
    NEAR_PIPPING = 4
    OUTSIDE = 5
    LAST_BAD = 6
    OVERDUE = 7
    NOTHING = 8


@dataclass(frozen=True, slots=True)
class Reason:
    """One reason in words. `order`: of two in one class the smaller comes first. `of_water`: too much or too little."""

    kind: NeedClass
    order: float
    words: str
    of_water: bool = False


@dataclass(frozen=True, slots=True)
class Need:
    """All reasons of a box, the most pressing first; none where it needs nothing. An empty box comes last of all."""

    reasons: tuple[Reason, ...] = ()
    is_empty: bool = False

    @property
    def kind(self) -> NeedClass:
        """The class of the first reason."""
        return self.reasons[0].kind if self.reasons else NeedClass.NOTHING

    @property
    def rank(self) -> tuple[int, float]:
        """What boxes are sorted by; equal ones stay in the order in which they stand."""
        return (self.kind, self.reasons[0].order if self.reasons else float(self.is_empty))

    @property
    def words(self) -> tuple[str, ...]:
        """The reasons for people."""
        return tuple(each.words for each in self.reasons)


@dataclass(frozen=True, slots=True)
class CareTimes:
    """What the site states: how often a round is due, and how long before the earliest day pipping is near; days."""

    round_every_days: float
    near_pipping_days: float


def need_of(sheet: BoxSheet, care: CareTimes, zone: tzinfo) -> Need:
    """Give why a box needs somebody, by what was measured and by what was found last."""
    if sheet.clutch is None:
        return Need(is_empty=True)
    found = [
        *_drying(sheet, care),
        *_dripping(sheet),
        *_on_watch(sheet.clutch),
        *_pipping(sheet, sheet.clutch, care, zone),
        *_outside(sheet),
        *_last_bad(sheet, sheet.clutch),
        *_overdue(sheet, care),
    ]
    return Need(tuple(sorted(found, key=lambda each: (each.kind, each.order))))


def _drying(sheet: BoxSheet, care: CareTimes) -> Iterator[Reason]:
    last = sheet.last
    if last is not None and last.medium is Medium.DRY and not last.water_ml:
        yield Reason(NeedClass.DRYING, 0.0, "felt dry last time, and no water was added", of_water=True)
    if is_dry_now(sheet):
        # No trend tells of it any more: it has come true.
        words = "too dry already: the humidity in the box is below its lower limit"
        yield Reason(NeedClass.DRYING, -1.0, words, of_water=True)
    if sheet.dry_days is not None and sheet.dry_days <= care.round_every_days:
        words = f"{sheet.dry_out[:1].lower()}{sheet.dry_out[1:]}"
        yield Reason(NeedClass.DRYING, sheet.dry_days, words, of_water=True)


def is_dry_now(sheet: BoxSheet) -> bool:
    """Tell whether a box was too dry in the end, and for longer than its lid is open for a look."""
    humidity = sheet.humidity
    return (
        humidity is not None and humidity.in_box and humidity.ends_below and humidity.hours_below >= LEAST_HOURS_OUTSIDE
    )


def _dripping(sheet: BoxSheet) -> Iterator[Reason]:
    last, water = sheet.last, sheet.water_on_lid
    if last is not None and last.lid is Lid.DRIPPING and not last.wiped:
        yield Reason(NeedClass.DRIPPING, -24.0, "the lid was dripping last time, and was not wiped", of_water=True)
    if water is None or not water.hours_known:
        return
    hours_a_day = 24 * water.hours / water.hours_known
    if water.stays_wet or hours_a_day >= WET_HOURS_A_DAY:
        # A lid that is wet now and has been so for an hour or two is no reason for nobody.
        vague = "perhaps water on the lid: the probes cannot tell for how long"
        words = vague if water.is_vague else f"water on the lid for about {hours_a_day:.0f} h a day"
        yield Reason(NeedClass.DRIPPING, -hours_a_day, words, of_water=True)


def _on_watch(clutch: ClutchSheet) -> Iterator[Reason]:
    count = clutch.counts.watch
    if count:
        names = f": {named(clutch.watched)}" if clutch.watched else ""
        yield Reason(NeedClass.ON_WATCH, -count, f"{eggs_text(count)} on watch{names}")


def _pipping(sheet: BoxSheet, clutch: ClutchSheet, care: CareTimes, zone: tzinfo) -> Iterator[Reason]:
    if clutch.counts.pipped:
        yield Reason(NeedClass.NEAR_PIPPING, -1e6, f"{eggs_text(clutch.counts.pipped)} pipped")
    window = clutch.window
    if isinstance(window, HatchWindow) and clutch.counts.open:
        days = (window.earliest_ms - sheet.until_ms) / _DAY_MS
        if days <= care.near_pipping_days:
            earliest, latest = day_text(window.earliest_ms, zone), day_text(window.latest_ms, zone)
            yield Reason(NeedClass.NEAR_PIPPING, days, f"near pipping: {earliest} to {latest}")


def _outside(sheet: BoxSheet) -> Iterator[Reason]:
    for measured, low, high in ((sheet.temperature, "too cold", "too warm"), (sheet.humidity, "too dry", "too damp")):
        for hours, words in () if measured is None else ((measured.hours_below, low), (measured.hours_above, high)):
            if hours >= LEAST_HOURS_OUTSIDE:
                of_water = measured is sheet.humidity
                since = f"{words} for {hours:.0f} h since the last look"
                yield Reason(NeedClass.OUTSIDE, -hours, since, of_water=of_water)


def _last_bad(sheet: BoxSheet, clutch: ClutchSheet) -> Iterator[Reason]:
    last = sheet.last
    if last is not None:
        removed = sum(len(each.names) for each in last.taken if each.seen.stated.state is EggState.REMOVED)
        if removed:
            yield Reason(NeedClass.LAST_BAD, -removed, f"{eggs_text(removed)} lost at the last look")
        if last.lid is Lid.BEADS or (last.lid is Lid.DRIPPING and last.wiped):
            was = "the lid was dripping" if last.lid is Lid.DRIPPING else "beads of water on the lid"
            words = f"{was} last time{', wiped' if last.wiped else ''}"
            yield Reason(NeedClass.LAST_BAD, 0.25, words, of_water=True)
        if last.medium is Medium.WET:
            yield Reason(NeedClass.LAST_BAD, 0.0, "felt wet last time", of_water=True)
        if last.not_taken:
            yield Reason(NeedClass.LAST_BAD, 0.0, "what was said of eggs last time was not taken: look again")
    if clutch.counts.left_in_place:
        yield Reason(NeedClass.LAST_BAD, 0.5, f"{eggs_text(clutch.counts.left_in_place)} dead and left in place")


def _overdue(sheet: BoxSheet, care: CareTimes) -> Iterator[Reason]:
    seen_ms = sheet.since_ms if sheet.last_looked_ms is None else sheet.last_looked_ms
    days = (sheet.until_ms - seen_ms) / _DAY_MS
    if days > care.round_every_days:
        yield Reason(NeedClass.OVERDUE, -days, f"nobody looked for {days:.0f} days")


def eggs_text(count: int) -> str:
    """Write `1 egg`, `2 eggs`."""
    return "1 egg" if count == 1 else f"{count} eggs"
