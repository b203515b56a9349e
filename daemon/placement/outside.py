"""How long a measured course was below and above limits, with what nobody knows told apart. Pure.

Between two neighbouring points the temperature is taken to go in a straight line, and the moments at which that line
crosses a limit are reckoned exactly. Where readings are too far apart for a line, nothing is known.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

LEAST_KNOWN_H = 24.0
"""With fewer hours than this no day and night are told apart, so a place is unknown. Project choice."""
LEAST_KNOWN_SHARE = 0.25
"""And with less than this share of what was asked for, what is known may be the calm part of it. Project choice."""
LEAST_SURE_SHARE = 0.9
"""With less of the time known than this share, a place that was never outside is not called inside. Project choice."""
_HOUR_MS, _DAY_H = 3_600_000, 24.0
_QUANTILES = (0.05, 0.95)
_FLAT_K = 1e-9
"""A line that rises less than this is level."""


@dataclass(frozen=True, slots=True)
class Course:
    """Moments (UTC ms), temperatures (°C), and whether a straight line leads to each from the one before it.

    `least_c` and `most_c` are those of single readings; None takes those of the points.
    """

    at_ms: Sequence[float]
    value_c: Sequence[float]
    joined: Sequence[bool]
    least_c: float | None = None
    most_c: float | None = None


@dataclass(frozen=True, slots=True)
class Bounds:
    """Limits of a clutch, °C; None where none is known. `zero_c` and `cap_c` are those by which heat is counted."""

    low_c: float | None
    high_c: float | None
    lethal_low_c: float | None
    lethal_high_c: float | None
    zero_c: float | None = None
    cap_c: float | None = None


@dataclass(frozen=True, slots=True)
class HoursADay:
    """Hours of a mean day: `best` as in the known time; `low` and `high` were all unknown time inside, or outside."""

    best: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Stay:
    """What a course would have been for eggs with these limits. Temperatures in °C, `rate_k` is heat per hour.

    `p5_c` and `p95_c` leave one twentieth of the known time below and above. `rate_k` is None without a basis.
    """

    known_h: float
    asked_h: float
    below: HoursADay
    above: HoursADay
    outside: HoursADay
    lethal: HoursADay
    mean_c: float
    p5_c: float
    p95_c: float
    least_c: float
    most_c: float
    rate_k: float | None

    @property
    def unknown_h(self) -> float:
        """Hours of which nothing is known."""
        return max(0.0, self.asked_h - self.known_h)

    @property
    def is_well_known(self) -> bool:
        """True where so little is unknown that what was measured may stand for all of it."""
        return self.known_h >= LEAST_SURE_SHARE * self.asked_h


def is_enough(known_h: float, asked_h: float) -> bool:
    """True where so many known hours may stand for all that were asked for."""
    return known_h >= min(LEAST_KNOWN_H, asked_h / 2) and known_h >= LEAST_KNOWN_SHARE * asked_h


def stay_of(course: Course, bounds: Bounds, asked_h: float) -> Stay | None:
    """Give what eggs with these limits would have had; None where too little is known to say."""
    hours, first, last = _lines(course)
    known_h = float(hours.sum())
    if not is_enough(known_h, asked_h) or not known_h:
        return None
    below, above, cold, hot = (
        _hours_below(hours, first, last, limit, sign)
        for limit, sign in (
            (bounds.low_c, 1.0),
            (bounds.high_c, -1.0),
            (bounds.lethal_low_c, 1.0),
            (bounds.lethal_high_c, -1.0),
        )
    )
    middle = (first + last) / 2
    p5_c, p95_c = _quantiles(middle, hours)
    # A boundary that lies at the end of the span may leave some seconds more than were asked for.
    asked_h = max(asked_h, known_h)
    return Stay(
        known_h=known_h,
        asked_h=asked_h,
        below=_a_day(below, known_h, asked_h),
        above=_a_day(above, known_h, asked_h),
        outside=_a_day(below + above, known_h, asked_h),
        lethal=_a_day(cold + hot, known_h, asked_h),
        mean_c=float((middle * hours).sum()) / known_h,
        p5_c=p5_c,
        p95_c=p95_c,
        least_c=min(course.value_c) if course.least_c is None else course.least_c,
        most_c=max(course.value_c) if course.most_c is None else course.most_c,
        rate_k=_rate_k(hours, first, last, bounds),
    )


def _lines(course: Course) -> tuple["Array", "Array", "Array"]:
    """Give the hours, the first and the last temperature of each line."""
    import numpy as np

    at_ms, value_c = np.asarray(course.at_ms, dtype=float), np.asarray(course.value_c, dtype=float)
    joined = np.asarray(course.joined, dtype=bool)[1:]
    return np.diff(at_ms)[joined] / _HOUR_MS, value_c[:-1][joined], value_c[1:][joined]


def _a_day(hours: float, known_h: float, asked_h: float) -> HoursADay:
    best, low = _DAY_H * hours / known_h, _DAY_H * hours / asked_h
    return HoursADay(best, low, low + _DAY_H * (asked_h - known_h) / asked_h)


def _hours_below(hours: "Array", first: "Array", last: "Array", limit: float | None, sign: float) -> float:
    """Give the hours below a limit; with `sign` -1 those above it."""
    import numpy as np

    if limit is None:
        return 0.0
    low, high = np.minimum(first * sign, last * sign), np.maximum(first * sign, last * sign)
    rise, limit = high - low, limit * sign
    is_level = rise < _FLAT_K
    crossed = (limit - low) / np.where(is_level, 1.0, rise)
    share = np.where(is_level, (low < limit).astype(float), crossed)
    return float((np.clip(share, 0.0, 1.0) * hours).sum())


def _rate_k(hours: "Array", first: "Array", last: "Array", bounds: Bounds) -> float | None:
    """Give the mean heat per hour: each line above the zero and no higher than the cap, exactly (`degree_hours`)."""
    import numpy as np

    if bounds.zero_c is None or bounds.cap_c is None:
        return None
    zero_c, cap_c = bounds.zero_c, bounds.cap_c
    low, high = np.minimum(first, last), np.maximum(first, last)

    def integral(value: "Array") -> "Array":
        within: Array = np.clip(value, zero_c, cap_c) - zero_c
        return within**2 / 2 + (cap_c - zero_c) * np.maximum(value - cap_c, 0.0)

    rise = high - low
    is_level = rise < _FLAT_K
    slope = (integral(high) - integral(low)) / np.where(is_level, 1.0, rise)
    mean = np.where(is_level, np.clip(low, zero_c, cap_c) - zero_c, slope)
    return float((mean * hours).sum() / hours.sum())


def _quantiles(values: "Array", hours: "Array") -> tuple[float, float]:
    """Give the values below which these shares of the time lie."""
    import numpy as np

    order = np.argsort(values)
    reached = np.cumsum(hours[order]) / hours.sum()
    low, high = (float(values[order][min(int(np.searchsorted(reached, part)), len(values) - 1)]) for part in _QUANTILES)
    return low, high
