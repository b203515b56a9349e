"""Pure: when the heat came back in a gap in which it was off, and the course that follows from it.

Three cases. Somebody saw it come back: then it is known. The reading after the gap is no warmer than a place without
heat: then nothing shows that it came back. It is warmer, or the readings after it rise: then it came back before, the
latest at the moment from which the place can have warmed to that reading at the rate at which it was seen to warm.

A heater that goes on warms a place ever more slowly, so the rate after the gap is the least that it had in it, which
gives the earliest moment too. Figures without a source here are this project's choice.
"""

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from daemon.review.gap_values import MS_PER_HOUR, Around, Known
from daemon.review.passive import FastestRise, Passive, newton
from daemon.review.values import Span

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

RISING_K_H = 0.5
"""Readings that rise at this rate show a heater at work."""
FALLING_K_H = 0.2
"""And such that fall at this rate, none."""
RECOVERED_K = 1.0
"""So near to the reading before, a place may have been back at its temperature for any time."""
SLOWEST_SHARE, LIKELY_SHARE = 0.5, 0.75
"""A heater that comes back warms its place at first by at least, and most likely by, this share of the fastest rise."""
OVERSHOOT_K = 1.0
"""So far above the readings around may a heater go when it comes back."""


@dataclass(frozen=True, slots=True)
class Back:
    """What is known of the return of the heat. `at_ms`: best estimate, None where none, or where it did not return.

    From `earliest_ms` on a place may be as warm as `cap_c`. `is_off_at_end`: the readings after the gap still fall.
    """

    returned: bool
    at_ms: float | None
    earliest_ms: float
    cap_c: float
    is_off_at_end: bool = False


class Off(NamedTuple):
    """The part of a gap over which the heat may have been off; `to_ms` is the end of the gap where nobody saw more."""

    from_ms: int
    to_ms: int


def off_inside(around: Around, span: Span | None) -> Off | None:
    """Give the part of a gap in which the heat may have been off; None for no part of it."""
    if span is None:
        return None
    off = Off(max(around.from_ms, span.from_ms), min(around.to_ms, span.until(around.to_ms)))
    return off if off.from_ms < off.to_ms else None


def heat_back(around: Around, off: Off, passive: Passive | None, rise: FastestRise | None, at_ms: "Array") -> Back:
    """Say when the heat came back; `at_ms` are the moments of the course."""
    never = Back(False, None, math.inf, -math.inf)
    if off.to_ms < around.to_ms:
        return Back(True, off.to_ms, math.inf, -math.inf)
    if around.after is None or around.before is None:
        return never
    after_c, slope = around.after.temperature_c, around.slope_after_k_h
    is_rising = slope is not None and slope >= RISING_K_H
    hours = (at_ms - off.from_ms).clip(0.0) / MS_PER_HOUR
    end_c = math.inf if passive is None else float(passive.warmest(hours[-1:], around.highest_before_c)[0])
    if after_c - around.noise_k <= end_c and not is_rising:
        # The air in a box goes on falling for a while.
        shows_at_once = passive is not None and not passive.lags_h[2]
        return Back(False, None, math.inf, -math.inf, shows_at_once and slope is not None and slope <= -FALLING_K_H)
    is_on_its_way = is_rising and after_c < around.before.temperature_c - RECOVERED_K
    cap_c = after_c + around.noise_k
    if not is_on_its_way:
        cap_c = max(around.before.temperature_c, after_c) + OVERSHOOT_K
    if passive is None:
        return Back(True, None, off.from_ms, cap_c)
    left_h, later_k_h = (around.to_ms - at_ms) / MS_PER_HOUR, slope if is_on_its_way and slope is not None else None
    earliest_ms = float(off.from_ms)
    if later_k_h is not None:
        coldest = passive.coldest(hours, around.lowest_before_c)
        reached_c = coldest + _warmed_k(rise, left_h, SLOWEST_SHARE, later_k_h)
        earliest_ms = _earliest(at_ms, reached_c, cap_c, off.from_ms)
    elif rise is not None:
        later_k_h = rise.rate_k_h
    likely = passive.likely(hours, around.before.temperature_c)
    if later_k_h is None or math.isnan(likely[-1]):
        return Back(True, None, earliest_ms, cap_c)
    over_k = likely + _warmed_k(rise, left_h, LIKELY_SHARE, later_k_h) - after_c
    return Back(True, _latest(at_ms, over_k, off.from_ms), earliest_ms, cap_c)


def _warmed_k(rise: FastestRise | None, hours: "Array", share: float, later_k_h: float) -> "Array":
    """How far a heater that came back has warmed a place in so many hours."""
    return later_k_h * hours if rise is None else rise.again_k(hours, share, later_k_h)


def warmest_while_off(off: Off, back: Back, passive: Passive | None, start_c: float, at_ms: "Array") -> "Array":
    """No warmer than this at each moment from the begin of `off` to its end."""
    import numpy as np

    if passive is None:
        return np.full(len(at_ms), np.inf)
    warmest = passive.warmest((at_ms - off.from_ms).clip(0.0) / MS_PER_HOUR, start_c)
    return np.where(at_ms >= back.earliest_ms, np.maximum(warmest, back.cap_c), warmest)


def likely_course(around: Around, off: Off, back: Back, passive: Passive | None, at_ms: "Array") -> "Array":
    """The best estimate at each moment; not a number where nothing speaks for one value."""
    import numpy as np

    before, after = around.before, around.after
    if before is None or passive is None:
        return np.full(len(at_ms), np.nan)
    hours = (at_ms - off.from_ms).clip(0.0) / MS_PER_HOUR
    cooling = passive.likely(hours, before.temperature_c)
    if after is None:
        return np.where(at_ms <= off.to_ms, cooling, np.nan)
    if back.returned and back.at_ms is None:
        return np.where(at_ms <= off.from_ms, before.temperature_c, np.nan)
    if back.at_ms is None or back.at_ms >= around.to_ms:
        if math.isnan(cooling[-1]):
            cooling = _through_both(hours, before, after, passive)
        shifted: Array = cooling + (after.temperature_c - cooling[-1]) * hours / hours[-1]
        return shifted
    lowest_c = float(np.interp(back.at_ms, at_ms, cooling))
    warming = np.interp(at_ms, [back.at_ms, around.to_ms], [lowest_c, after.temperature_c])
    return np.where(at_ms <= back.at_ms, cooling, warming)


def _through_both(hours: "Array", before: Known, after: Known, passive: Passive) -> "Array":
    """Newton's law through both readings, where no time constant is known; not a number where there is none."""
    import numpy as np

    room_c = passive.rooms_c[1]
    if not before.temperature_c > after.temperature_c > room_c:
        return np.full(len(hours), np.nan)
    decay = math.log((before.temperature_c - room_c) / (after.temperature_c - room_c))
    return newton(hours, before.temperature_c, room_c, float(hours[-1]) / decay)


def _earliest(at_ms: "Array", reached_c: "Array", most_c: float, from_ms: int) -> float:
    """The last moment before the first from which the reading after is not overshot; a line leads up to that."""
    possible = (reached_c <= most_c) & (at_ms >= from_ms)
    first = int(possible.argmax()) if possible.any() else len(at_ms) - 1
    return float(max(at_ms[max(first - 1, 0)], from_ms))


def _latest(at_ms: "Array", over_k: "Array", from_ms: int) -> float:
    """The last moment from which warming at a rate leads to the reading after: where `over_k` becomes negative."""
    positive = ((over_k >= 0) & (at_ms >= from_ms)).nonzero()[0]
    if not positive.size:
        return float(from_ms)
    last = int(positive[-1])
    if last + 1 == len(at_ms):
        return float(at_ms[-1])
    share = over_k[last] / (over_k[last] - over_k[last + 1])
    return float(at_ms[last] + share * (at_ms[last + 1] - at_ms[last]))
