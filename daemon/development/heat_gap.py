"""What a gap between readings can have held: heat between two bounds that physics sets.

Over a gap nobody knows the temperature. Two facts bound it all the same:

- No course can be colder than passive cooling toward the room from the reading before the gap: the heater can only add.
- No course can be hotter than one that cooled passively, without any heater, to the reading after the gap.

Both are Newton's law, T(t) = room + (T0 - room) exp(-t / time constant), taken with the shortest credible time constant
and the coldest credible room (each two standard uncertainties out, so about 95 % each way). Where the time constant is
not known, or the readings contradict it, the bounds are the room's temperature and the cap. Heat above the cap is not
credited, so the interval is finite in every case. An opened door can cool faster than that; it is not covered.

The best estimate over a gap is the straight line between its two readings.
"""

import math
from dataclasses import dataclass

from daemon.development.heat_interval import Gap, HeatPiece, HeatRule, line_piece

_MS_PER_HOUR = 3_600_000
_K = 2.0
"""Coverage factor of a bound (GUM 6.3.3: about 95 % for a normal distribution)."""
_SHORTEST_CONSTANT = 0.25
"""A time constant is not taken shorter than this part of its estimate, however unsure it is."""


@dataclass(frozen=True, slots=True)
class Cooling:
    """How an incubator cools where its heater is off: time constant and room, each with its standard uncertainty."""

    room_c: float
    room_u_k: float
    time_constant_h: float | None = None
    time_constant_u_h: float = 0.0

    @property
    def coldest_room_c(self) -> float:
        """The coldest credible room."""
        return self.room_c - _K * self.room_u_k

    @property
    def fastest_h(self) -> float | None:
        """The shortest credible time constant; None where none is known."""
        if self.time_constant_h is None:
            return None
        return max(self.time_constant_h - _K * self.time_constant_u_h, _SHORTEST_CONSTANT * self.time_constant_h)


def gap_heat(gap: Gap, rule: HeatRule, cooling: Cooling | None, u_k: float) -> HeatPiece:
    """Heat that a gap can have held; bounds and their limits are in the head of this module.

    Without a reading on either side nothing is known but the bounds: then the best estimate is the middle of them.
    """
    low, high = _bounds(gap, rule, cooling)
    if gap.before is None and gap.after is None:
        return HeatPiece(low, (low + high) / 2, high, missing_ms=gap.end_ms - gap.start_ms)
    step_ms = gap.end_ms - gap.start_ms
    line = line_piece(step_ms, *_ends(gap), rule, _K * u_k)
    return HeatPiece(
        min(low, line.best_ch),
        line.best_ch,
        max(high, line.best_ch),
        colder_ch=line.colder_ch,
        warmer_ch=line.warmer_ch,
        linear_ms=line.linear_ms,
        missing_ms=step_ms,
    )


def _ends(gap: Gap) -> tuple[float, float]:
    """Temperatures of the straight line at both ends of the gap; with one reading, that one all along."""
    if gap.before is None or gap.after is None:
        (_, only), *_ = [one for one in (gap.before, gap.after) if one is not None]
        return only, only
    (t0, c0), (t1, c1) = gap.before, gap.after
    slope = (c1 - c0) / (t1 - t0)
    return c0 + slope * (gap.start_ms - t0), c1 - slope * (t1 - gap.end_ms)


def _bounds(gap: Gap, rule: HeatRule, cooling: Cooling | None) -> tuple[float, float]:
    hours = (gap.end_ms - gap.start_ms) / _MS_PER_HOUR
    most = (rule.cap_c - rule.zero_c) * hours
    known = [temperature_c for one in (gap.before, gap.after) if one is not None for temperature_c in one[1:]]
    if cooling is None or min(known, default=math.inf) <= cooling.coldest_room_c:
        return 0.0, most
    room, fastest = cooling.coldest_room_c, cooling.fastest_h
    least = rule.rate_k(room) * hours
    if fastest is None or not _possible(gap, room, fastest):
        return least, most
    low, high = least, most
    if gap.before is not None:
        low = _clipped_exponential(room, gap.before[1] - room, -1 / fastest, *_hours_from(gap, gap.before[0]), rule)
    if gap.after is not None:
        high = _clipped_exponential(room, gap.after[1] - room, -1 / fastest, *_hours_from(gap, gap.after[0]), rule)
    return low, high


def _possible(gap: Gap, room_c: float, time_constant_h: float) -> bool:
    """Tell whether the later reading is no colder than passive cooling from the earlier one allows."""
    if gap.before is None or gap.after is None:
        return True
    (t0, c0), (t1, c1) = gap.before, gap.after
    return c1 >= room_c + (c0 - room_c) * math.exp(-(t1 - t0) / _MS_PER_HOUR / time_constant_h)


def _hours_from(gap: Gap, origin_ms: int) -> tuple[float, float]:
    """Begin and end of the gap in hours from a reading; negative before it."""
    return (gap.start_ms - origin_ms) / _MS_PER_HOUR, (gap.end_ms - origin_ms) / _MS_PER_HOUR


def _clipped_exponential(
    asymptote_c: float, amplitude_k: float, rate_per_h: float, start_h: float, end_h: float, rule: HeatRule
) -> float:
    """Integrate the heat under asymptote + amplitude exp(rate t) exactly, cut where it crosses the zero and the cap.

    The amplitude is above zero and the rate below: the curve falls all the time.
    """

    def when(temperature_c: float) -> float:
        over = temperature_c - asymptote_c
        if over <= 0:
            return end_h
        return min(max(math.log(over / amplitude_k) / rate_per_h, start_h), end_h)

    leaves_cap, reaches_zero = when(rule.cap_c), when(rule.zero_c)
    above = (leaves_cap - start_h) * (rule.cap_c - rule.zero_c)
    steady = (reaches_zero - leaves_cap) * (asymptote_c - rule.zero_c)
    fading = amplitude_k * (math.exp(rate_per_h * reaches_zero) - math.exp(rate_per_h * leaves_cap)) / rate_per_h
    return above + steady + fading
