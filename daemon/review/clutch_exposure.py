"""How long a clutch was beyond a temperature, from what was measured and from what gaps may have held. Pure.

A tolerance is what the profile of the species states, with its source; none is made up here. Between two readings close
enough the temperature is a straight line. In a gap there are three courses: the coldest and the warmest that are
possible, and the likely one. Time is certain where all of them are beyond the figure, and possible where one is.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from config.species import ExposureLimit, SpeciesProfile
from daemon.review.beyond import Lines, Runs, cut, runs_outside
from daemon.review.course import GapCourse, GapKind
from daemon.review.record import PlaceRecord
from daemon.review.values import Bounds, Verdict

_HOUR_MS = 3_600_000
UNSOURCED = "common practice"
"""A source that begins so is none."""


class Course(NamedTuple):
    """Temperatures along a stretch, °C, as straight lines: coldest, likely, warmest.

    All three are the same where the place has a probe of its own that was read. `is_gap`: nothing was read; `by_other`:
    a probe around the place was, so the place may have been as far from it as places differ. Infinite where nothing
    bounds it; the likely one is not a number where nothing speaks for one value.
    """

    low: Lines
    best: Lines
    high: Lines
    is_gap: bool = False
    by_other: bool = False


class Period(NamedTuple):
    """The time that is asked about, both ends UTC ms."""

    from_ms: int
    to_ms: int


@dataclass(frozen=True, slots=True)
class Tolerance:
    """What a species stands: so many hours beyond a figure within so many, and who says so.

    `hours` is 0 for a lethal limit, of which no time is told; `within_h` is None there: the whole period counts.
    """

    figure_c: float
    is_above: bool
    hours: float
    within_h: int | None
    source: str

    @property
    def is_lethal(self) -> bool:
        """True for the limit at which embryos are taken to die."""
        return self.within_h is None

    @property
    def is_published(self) -> bool:
        """False for what only the trade vouches for."""
        return not self.source.strip().lower().startswith(UNSOURCED)


@dataclass(frozen=True, slots=True)
class Exposure:
    """A tolerance, the hours beyond it, and what follows.

    Of an exposure limit the hours are those of the worst window that ends in the period, of a lethal limit all of the
    period. The upper end holds all that gaps may have held.
    """

    tolerance: Tolerance
    hours: Bounds
    verdict: Verdict


@dataclass(frozen=True, slots=True)
class Extremes:
    """Coldest and warmest, °C: as measured, None where nothing was; as possible, infinite where nothing bounds it.

    `by_other`: some of it was measured by a probe around the place alone.
    """

    lowest_c: float | None
    highest_c: float | None
    coldest_possible_c: float
    warmest_possible_c: float
    by_other: bool = False


def tolerances(profile: SpeciesProfile) -> tuple[Tolerance, ...]:
    """Give all that a profile states: lethal limits, which hold in every stage, then its exposure limits."""
    lethal_low, lethal_high = profile.temperature.lethal_low, profile.temperature.lethal_high
    found = [Tolerance(lethal_high.value, True, 0.0, None, lethal_high.source)]
    if lethal_low is not None:
        found.append(Tolerance(lethal_low.value, False, 0.0, None, lethal_low.source))
    return (*found, *(_of_limit(each) for each in profile.exposure))


def _of_limit(limit: ExposureLimit) -> Tolerance:
    figure_c, is_above = (limit.above_c, True) if limit.above_c is not None else (limit.below_c, False)
    if figure_c is None:
        raise ValueError("An exposure limit without a temperature cannot be asked about; give above_c or below_c.")
    return Tolerance(figure_c, is_above, limit.minutes / 60, limit.within_h, limit.source)


def longest_look_back_ms(found: Iterable[Tolerance]) -> int:
    """Give how long before the period a course has to begin, so that every window is whole."""
    return max((each.within_h or 0 for each in found), default=0) * _HOUR_MS


def courses_of(record: PlaceRecord) -> tuple[Course, ...]:
    """Give what is known of a place over a period, in order of time."""
    own = (Course(record.own, record.own, record.own),) if record.own.from_ms.size else ()
    others = (_course_of(one) for one in record.gaps)
    return (*own, *others)


def _course_of(gap: GapCourse) -> Course:
    by_other = gap.kind is GapKind.OTHER_PROBE
    return Course(gap.low_lines, gap.best_lines, gap.high_lines, is_gap=not by_other, by_other=by_other)


def unknown_course(from_ms: int, to_ms: int) -> Course:
    """Give the course of a stretch of which nothing at all is known."""
    import numpy as np

    def flat(value_c: float) -> Lines:
        value = np.array([value_c])
        return Lines(np.array([float(from_ms)]), np.array([float(to_ms)]), value, value)

    return Course(flat(-math.inf), flat(math.nan), flat(math.inf), is_gap=True)


def exposure(tolerance: Tolerance, courses: Sequence[Course], period: Period) -> Exposure:
    """Tell for how long a clutch was beyond a tolerance.

    Parameters
    ----------
    tolerance
        The figure and how long it is stood.
    courses
        Where the clutch lay, in order of time; from `within_h` before the period on, as far as it lay there.
    period
        The time that is asked about.

    Returns
    -------
    Exposure
        `in` only where even the longest possible time is stood, `out` only where the certain time is not.
    """
    above = tolerance.is_above
    ways = [
        [one.low if above else one.high for one in courses],
        [one.best for one in courses],
        [one.high if above else one.low for one in courses],
    ]
    runs = [[runs_outside(lines, tolerance.figure_c, above=above) for lines in way] for way in ways]
    low, best, high = (_longest_ms(each, period, tolerance.within_h) / _HOUR_MS for each in runs)
    has_best = not any(_has_none(one.best) for one in courses)
    hours = Bounds(low, min(max(best, low), high) if has_best else None, high)
    return Exposure(tolerance, hours, _verdict(tolerance, hours))


def _has_none(lines: Lines) -> bool:
    import numpy as np

    return bool(np.isnan(lines.first).any() or np.isnan(lines.last).any())


def _verdict(tolerance: Tolerance, hours: Bounds) -> Verdict:
    # A sum of floats is not asked for more than a tenth of a second.
    stood = tolerance.hours + 100 / _HOUR_MS
    if hours.low > stood:
        return Verdict.OUT
    return Verdict.IN if hours.high <= stood else Verdict.UNKNOWN


def _longest_ms(runs: Sequence[Runs], period: Period, within_h: int | None) -> float:
    """The most time, ms, that lies in one window which ends in the period; in all of the period for no window.

    The sum over a window changes its slope only where its end passes the end of a run or its start passes the start of
    one, so it is largest at one of those moments or at an end of the period.
    """
    import numpy as np

    starts, ends = (np.concatenate([each[side] for each in runs] or [np.empty(0)]) for side in (0, 1))
    if not starts.size:
        return 0.0
    order = starts.argsort(kind="stable")
    starts, ends = starts[order], ends[order]
    knots = np.column_stack([starts, ends]).ravel()
    sums = np.repeat(np.concatenate([[0.0], np.cumsum(ends - starts)]), 2)[1:-1]
    if within_h is None:
        upto, length_ms = np.array([float(period.to_ms)]), period.to_ms - period.from_ms
    else:
        length_ms = within_h * _HOUR_MS
        moments = np.concatenate([ends, starts + length_ms, [float(period.to_ms)]])
        upto = moments.clip(period.from_ms, period.to_ms)
    return max(0.0, float((np.interp(upto, knots, sums) - np.interp(upto - length_ms, knots, sums)).max()))


def extremes(courses: Sequence[Course], period: Period) -> Extremes | None:
    """Give the coldest and the warmest of the period; None where the clutch lay nowhere in it."""
    import numpy as np

    measured: list[float] = []
    by_other = False
    lows: list[float] = []
    highs: list[float] = []
    for one in courses:
        low, best, high = (cut(lines, period.from_ms, period.to_ms) for lines in one[:3])
        if not low.from_ms.size:
            continue
        lows.append(float(min(low.first.min(), low.last.min())))
        highs.append(float(max(high.first.max(), high.last.max())))
        if not one.is_gap:
            ends_c = np.concatenate([best.first, best.last])
            measured += [float(ends_c.min()), float(ends_c.max())]
            by_other |= one.by_other
    if not lows:
        return None
    return Extremes(min(measured, default=None), max(measured, default=None), min(lows), max(highs), by_other)
