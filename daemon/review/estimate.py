"""Pure: the course inside a gap, from the readings around it and from what is known of heating and cooling there.

Bounds, each of about 95 % (two standard uncertainties of room, time constant and air, together):

- No colder than passive cooling from the reading before, as fast and to a room as cold as is credible: a heater can
  only add. An opened door can cool faster; where the reading after shows that, the bound is dropped to the room and
  `contradiction` says so, and where it does not show, it is not covered.
- No hotter than what would have cooled to the reading after.
- Where the heat was off: no hotter than passive cooling as slow and to a room as warm as is credible, up to where the
  heat came back; from then on no hotter than the readings around and `OVERSHOOT_K` of `heat_back`.
- Where nobody knows what the heater did: no hotter than the reading before and the fastest rise that was ever measured
  there. Without such a rise only the reading after bounds the upper side, and often nothing does: plus infinity.
"""

import math
from typing import TYPE_CHECKING, NamedTuple

from daemon.review import estimate_words
from daemon.review.course import GapCourse, GapKind
from daemon.review.gap_values import MS_PER_HOUR, Around, HeatOff
from daemon.review.heat_back import OVERSHOOT_K, Back, Off, heat_back, likely_course, off_inside, warmest_while_off
from daemon.review.passive import FastestRise, Passive
from daemon.review.values import Span

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

POINTS = 257
"""Moments of a course. They lie close together at both ends, where the curves bend."""


SHORTLY_MS = 10 * 60_000
"""Nothing else is taken to have gone wrong between the reading before and a heater that went off so soon after it.
Project choice."""


class _Curve(NamedTuple):
    """A bound, and whether the reading after the gap contradicts what it was made by."""

    values_c: "Array"
    contradicted: bool = False


def gap_course(
    around: Around, passive: Passive | None, rise: FastestRise | None, heat_off: HeatOff | None
) -> GapCourse:
    """Give the course inside a gap; the bounds and what they rest on are in the head of this module.

    `passive` is None where nothing is known of the room, `rise` where the heater was never seen to run, `heat_off`
    where nothing shows that the heat was off. Raises ValueError for a gap without length.
    """
    import numpy as np

    if around.to_ms <= around.from_ms:
        raise ValueError(f"A gap from {around.from_ms} to {around.to_ms} ms has no length.")
    off = off_inside(around, None if heat_off is None else heat_off.span)
    at_ms = _moments(around, () if off is None else off)
    back = None if off is None else heat_back(around, off, passive, rise, at_ms)
    if off is not None and back is not None and back.at_ms is not None:
        at_ms = _moments(around, (*off, back.at_ms))
    low, high = _low(around, passive, at_ms), _high(around, passive, rise, off, back, at_ms)
    low_c, high_c = low.values_c, high.values_c
    if passive is not None and not low.contradicted:
        low_c, high_c = _by_the_reading_after(around, passive, off, back, at_ms, low_c, high_c)
    low_c, high_c = _through_the_readings(around, low_c, np.maximum(high_c, low_c))
    best_c = (
        np.interp(at_ms, *_ends(around))
        if off is None or back is None
        else likely_course(around, off, back, passive, at_ms)
    )
    return GapCourse(
        span=Span(around.from_ms, around.to_ms),
        kind=GapKind.NOBODY_KNOWS if off is None else GapKind.HEAT_OFF,
        before=around.before,
        after=around.after,
        at_ms=at_ms,
        low_c=low_c,
        best_c=np.clip(best_c, low_c, high_c),
        high_c=high_c,
        heat_back_ms=None if back is None or back.at_ms is None else round(back.at_ms),
        contradiction=low.contradicted or high.contradicted,
        reason=estimate_words.reason(
            around, passive, rise, None if off is None else heat_off, low.contradicted, high.contradicted
        ),
    )


def _through_the_readings(around: Around, low_c: "Array", high_c: "Array") -> "tuple[Array, Array]":
    """At its very ends a course is what was read there."""
    for at, known in ((0, around.before), (-1, around.after)):
        if known is not None:
            low_c[at], high_c[at] = known.temperature_c - around.noise_k, known.temperature_c + around.noise_k
    return low_c, high_c


def _moments(around: Around, breaks_ms: "tuple[float, ...]") -> "Array":
    """Rising moments from begin to end, with those at which a curve breaks off."""
    import numpy as np

    spread = (1 - np.cos(np.linspace(0, np.pi, POINTS))) / 2
    inside = [each for each in breaks_ms if around.from_ms < each < around.to_ms]
    at_ms: Array = np.unique(np.append(around.from_ms + (around.to_ms - around.from_ms) * spread, inside))
    at_ms[0], at_ms[-1] = around.from_ms, around.to_ms
    return at_ms


def _ends(around: Around) -> tuple[list[float], list[float]]:
    """The straight line between both readings; not a number where one is missing."""
    before_c = math.nan if around.before is None else around.before.temperature_c
    after_c = math.nan if around.after is None else around.after.temperature_c
    if math.isnan(before_c) or math.isnan(after_c):
        before_c = after_c = math.nan
    return [around.from_ms, around.to_ms], [before_c, after_c]


def _low(around: Around, passive: Passive | None, at_ms: "Array") -> _Curve:
    import numpy as np

    if passive is None:
        return _Curve(np.full(len(at_ms), -np.inf))
    lowest_after_c = math.inf if around.after is None else around.after.temperature_c - around.noise_k
    floor_c = min(passive.rooms_c[0], lowest_after_c)
    if around.before is None:
        return _Curve(np.full(len(at_ms), floor_c))
    low_c = passive.coldest((at_ms - around.from_ms) / MS_PER_HOUR, around.lowest_before_c)
    if lowest_after_c + 2 * around.noise_k < low_c[-1]:
        return _Curve(np.full(len(at_ms), min(floor_c, around.lowest_before_c)), contradicted=True)
    return _Curve(low_c)


def _high(
    around: Around,
    passive: Passive | None,
    rise: FastestRise | None,
    off: Off | None,
    back: Back | None,
    at_ms: "Array",
) -> _Curve:
    """The high bound from the reading before: what a heater can have added before and behind the time it was off."""
    import numpy as np

    high_c = _heated(at_ms, around.from_ms, around.highest_before_c, rise)
    if off is not None and off.from_ms - around.from_ms <= SHORTLY_MS:
        high_c = np.full(len(at_ms), around.highest_before_c + OVERSHOOT_K)
    if off is not None and back is not None:
        start_c = around.highest_before_c
        if off.from_ms > around.from_ms:
            start_c = float(np.interp(off.from_ms, at_ms, high_c))
        while_off = warmest_while_off(off, back, passive, start_c, at_ms)
        behind = _heated(at_ms, off.to_ms, float(np.interp(off.to_ms, at_ms, while_off)), rise)
        high_c = np.where(at_ms < off.from_ms, high_c, np.where(at_ms <= off.to_ms, while_off, behind))
    if around.after is not None and around.after.temperature_c - around.noise_k > high_c[-1]:
        return _Curve(np.full(len(at_ms), np.inf), contradicted=True)
    return _Curve(high_c)


def _heated(at_ms: "Array", from_ms: int, start_c: float, rise: FastestRise | None) -> "Array":
    import numpy as np

    hours = (at_ms - from_ms).clip(0.0) / MS_PER_HOUR
    if rise is None or math.isinf(start_c):
        return np.where(hours > 0, np.inf, start_c)
    return start_c + rise.most_k(hours)


def _by_the_reading_after(
    around: Around,
    passive: Passive,
    off: Off | None,
    back: Back | None,
    at_ms: "Array",
    low_c: "Array",
    high_c: "Array",
) -> "tuple[Array, Array]":
    """Narrow the bounds by what can have cooled to the reading after."""
    import numpy as np

    if around.after is None:
        return low_c, high_c
    hours = (around.to_ms - at_ms) / MS_PER_HOUR
    high_c = np.minimum(high_c, passive.hottest_before(hours, around.after.temperature_c + around.noise_k))
    if off is not None and back is not None and back.is_off_at_end:
        earlier = passive.coldest_before(hours, around.after.temperature_c - around.noise_k)
        narrowed = np.maximum(low_c, np.minimum(earlier, high_c))
        low_c = np.where(at_ms >= off.from_ms, narrowed, low_c)
    return low_c, high_c
