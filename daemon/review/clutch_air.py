"""How damp it was in the box of a clutch over a period: water on the lid, and hours too dry. Pure.

Only a probe in the box itself tells: the air of a shelf is drier than that of a closed box on it. Nothing is estimated
where no reading is; such hours stand beside the others as unknown.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from config.species import SpeciesProfile
from daemon.climate.condensation_hours import Hours, Point
from daemon.review.values import Bounds

NOT_MEASURED = "not measured: there is no probe for humidity in its box"
NOTHING_READ = "not measured: the probe in its box gave no reading in this time"
_HOUR_MS = 3_600_000


@dataclass(frozen=True, slots=True)
class DryHours:
    """Hours below what a species needs; `high` holds the hours without readings. `source` says who wants it so."""

    low_pct: float
    hours: Bounds
    source: str


@dataclass(frozen=True, slots=True)
class BoxAir:
    """Humidity over a period, where a probe in the box told: so many hours of it with readings, and without.

    `water` has the hours with water on the lid, None where no temperature of the lid is known. `dry` is None where the
    species states no humidity. `why_not` is a piece of a sentence, empty where something was measured.
    """

    covered_h: float = 0.0
    unread_h: float = 0.0
    lowest_pct: float | None = None
    highest_pct: float | None = None
    water: Hours | None = None
    dry: DryHours | None = None
    why_not: str = ""

    def and_then(self, other: "BoxAir") -> "BoxAir":
        """The same clutch in the next place. Hours in a place that tells nothing may have been wet or dry."""
        lows = [each for each in (self.lowest_pct, other.lowest_pct) if each is not None]
        highs = [each for each in (self.highest_pct, other.highest_pct) if each is not None]
        return BoxAir(
            self.covered_h + other.covered_h,
            self.unread_h + other.unread_h,
            min(lows, default=None),
            max(highs, default=None),
            _sum_water(self, other),
            _sum_dry(self, other),
            self.why_not if self.why_not and other.why_not else "",
        )


def humidity_wanted(profile: SpeciesProfile, stage: int | None) -> tuple[float, str] | None:
    """Give the least humidity, % RH, that a species needs in a stage, and its source; None where none is stated."""
    humidity = profile.humidity
    for one in () if stage is None else profile.stages[: stage + 1]:
        humidity = one.humidity or humidity
    return None if humidity is None else (humidity.low.value, humidity.low.source)


def covered_hours(points: Sequence[Point], start_ms: int, end_ms: int, longest_gap_ms: int) -> float:
    """Hours between readings close enough to each other, of a window."""
    whole = sum(
        max(0, min(second[0], end_ms) - max(first[0], start_ms))
        for first, second in pairwise(points)
        if second[0] - first[0] <= longest_gap_ms
    )
    return whole / _HOUR_MS


def dry_hours(
    points: Sequence[Point], wanted: tuple[float, str], start_ms: int, end_ms: int, longest_gap_ms: int
) -> DryHours:
    """Add up the hours of a window below a humidity, by straight lines between readings close enough to each other.

    `points` are moments, rising, with the relative humidity, %; `wanted` the least humidity and its source.
    """
    low_pct, source = wanted
    below_ms = sum(
        _below_ms(first, second, low_pct, start_ms, end_ms)
        for first, second in pairwise(points)
        if second[0] - first[0] <= longest_gap_ms
    )
    below_h, whole_h = below_ms / _HOUR_MS, (end_ms - start_ms) / _HOUR_MS
    unknown_h = max(0.0, whole_h - covered_hours(points, start_ms, end_ms, longest_gap_ms))
    best = below_h if unknown_h == 0 else None
    return DryHours(low_pct, Bounds(below_h, best, below_h + unknown_h), source)


def _below_ms(first: Point, second: Point, low_pct: float, start_ms: int, end_ms: int) -> float:
    begin, end = max(first[0], start_ms), min(second[0], end_ms)
    if begin >= end:
        return 0.0
    slope = (second[1] - first[1]) / (second[0] - first[0])
    one, other = first[1] + slope * (begin - first[0]), first[1] + slope * (end - first[0])
    if max(one, other) < low_pct:
        return float(end - begin)
    if min(one, other) >= low_pct:
        return 0.0
    return (end - begin) * (low_pct - min(one, other)) / abs(other - one)


def _sum_water(one: BoxAir, other: BoxAir) -> Hours | None:
    if one.water is None or other.water is None:
        known, dark = (one.water, other) if other.water is None else (other.water, one)
        return known and known._replace(unknown_h=known.unknown_h + dark.covered_h + dark.unread_h)
    return Hours(*(first + second for first, second in zip(one.water, other.water, strict=True)))


def _sum_dry(one: BoxAir, other: BoxAir) -> DryHours | None:
    if one.dry is None or other.dry is None:
        known, dark = (one.dry, other) if other.dry is None else (other.dry, one)
        if known is None:
            return None
        low, _, high = known.hours
        return DryHours(known.low_pct, Bounds(low, None, high + dark.covered_h + dark.unread_h), known.source)
    first, second = one.dry.hours, other.dry.hours
    best = None if first.best is None or second.best is None else first.best + second.best
    hours = Bounds(first.low + second.low, best, first.high + second.high)
    return DryHours(max(one.dry.low_pct, other.dry.low_pct), hours, other.dry.source)
