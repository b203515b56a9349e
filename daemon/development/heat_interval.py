"""Heat of a stretch of time as an interval: what readings cover exactly, and which gaps they leave.

Where readings follow each other closely the temperature is the straight line between them and the heat is the exact
integral (`daemon/development/degree_hours.py`). What a gap can have held: `daemon/development/heat_gap.py`.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import NamedTuple

_MS_PER_HOUR = 3_600_000


class HeatRule(NamedTuple):
    """What heat is counted by: developmental zero and cap, degree Celsius."""

    zero_c: float
    cap_c: float

    def rate_k(self, temperature_c: float) -> float:
        """Degree-hours gained in an hour at this temperature."""
        return min(max(temperature_c, self.zero_c), self.cap_c) - self.zero_c


@dataclass(frozen=True, slots=True)
class HeatPiece:
    """Heat of a stretch of time, degree-hours, and what it rests on.

    `low_ch` and `high_ch` hold the gaps' bounds only; `offset_ch` is what the best estimate would gain if the probe
    read one standard uncertainty too low all the time (a common offset, not noise). `temperature_ch` is the integral of
    the temperature, degree Celsius times hour; `linear_ms` the time between zero and cap, which is also how fast the
    heat falls where the zero rises. Covered and missing time add up to the stretch.
    """

    low_ch: float = 0.0
    best_ch: float = 0.0
    high_ch: float = 0.0
    offset_ch: float = 0.0
    temperature_ch: float = 0.0
    linear_ms: int = 0
    covered_ms: int = 0
    missing_ms: int = 0
    above_cap_ms: int = 0
    below_zero_ms: int = 0

    def __add__(self, other: "HeatPiece") -> "HeatPiece":
        """Two stretches one after the other."""
        return HeatPiece(
            self.low_ch + other.low_ch,
            self.best_ch + other.best_ch,
            self.high_ch + other.high_ch,
            self.offset_ch + other.offset_ch,
            self.temperature_ch + other.temperature_ch,
            self.linear_ms + other.linear_ms,
            self.covered_ms + other.covered_ms,
            self.missing_ms + other.missing_ms,
            self.above_cap_ms + other.above_cap_ms,
            self.below_zero_ms + other.below_zero_ms,
        )


class Gap(NamedTuple):
    """A part of a stretch without readings close enough: from when to when, and the readings around it, if any."""

    start_ms: int
    end_ms: int
    before: tuple[int, float] | None
    after: tuple[int, float] | None


def covered_heat(
    samples: Sequence[tuple[int, float]],
    start_ms: int,
    end_ms: int,
    rule: HeatRule,
    longest_bridge_ms: int,
    u_k: float,
) -> tuple[HeatPiece, list[Gap]]:
    """Heat where readings follow each other closely, and the gaps that are left.

    Parameters
    ----------
    samples
        (measured_at_ms, temperature_c) in order of time, with the nearest ones around the stretch, however far.
    start_ms, end_ms
        The stretch, UTC milliseconds since the epoch.
    rule
        Developmental zero and cap, degree Celsius.
    longest_bridge_ms
        Two neighbours further apart have a gap between them.
    u_k
        Standard uncertainty of the probe, K.

    Notes
    -----
    Exact for straight lines between readings: a line is cut where it crosses the zero and the cap.
    """
    gaps: list[Gap] = []
    zero_c, cap_c = rule
    linear = linear_c = above = above_c = 0.0
    cut = HeatPiece()
    for (t0, c0), (t1, c1) in pairwise(samples):
        step = t1 - t0
        is_whole = step <= longest_bridge_ms and t0 >= start_ms and t1 <= end_ms
        # Nearly all of a season goes one of these two ways.
        if is_whole and zero_c <= c0 <= cap_c >= c1 >= zero_c:
            linear += step
            linear_c += step * (c0 + c1)
        elif is_whole and c0 > cap_c < c1:
            above += step
            above_c += step * (c0 + c1)
        elif (begin := max(t0, start_ms)) < (end := min(t1, end_ms)):
            if step > longest_bridge_ms:
                gaps.append(Gap(begin, end, (t0, c0), (t1, c1)))
            else:
                slope = (c1 - c0) / step
                cut += _stretch(end - begin, c0 + slope * (begin - t0), c1 - slope * (t1 - end), rule)
    gaps[:0], gaps[len(gaps) :] = _edges(samples, start_ms, end_ms)
    linear_ms = cut.linear_ms + round(linear)
    best = cut.best_ch + (linear_c / 2 - zero_c * linear + (cap_c - zero_c) * above) / _MS_PER_HOUR
    return (
        replace(
            cut,
            low_ch=best,
            best_ch=best,
            high_ch=best,
            offset_ch=u_k * linear_ms / _MS_PER_HOUR,
            temperature_ch=cut.temperature_ch + (linear_c + above_c) / 2 / _MS_PER_HOUR,
            linear_ms=linear_ms,
            covered_ms=cut.covered_ms + round(linear + above),
            above_cap_ms=cut.above_cap_ms + round(above),
        ),
        gaps,
    )


def _stretch(step_ms: int, first_c: float, last_c: float, rule: HeatRule) -> HeatPiece:
    """Heat under one straight line."""
    part = line_heat(first_c, last_c, rule)
    heat_ch = step_ms * part.rate_k / _MS_PER_HOUR
    below_ms, above_ms = round(step_ms * part.below), round(step_ms * part.above)
    return HeatPiece(
        heat_ch,
        heat_ch,
        heat_ch,
        temperature_ch=step_ms * (first_c + last_c) / 2 / _MS_PER_HOUR,
        linear_ms=step_ms - below_ms - above_ms,
        covered_ms=step_ms,
        above_cap_ms=above_ms,
        below_zero_ms=below_ms,
    )


def _edges(samples: Sequence[tuple[int, float]], start_ms: int, end_ms: int) -> tuple[list[Gap], list[Gap]]:
    """What lies before the first and behind the last reading that there is."""
    if not samples:
        return [Gap(start_ms, end_ms, None, None)], []
    first, last = samples[0], samples[-1]
    before = [Gap(start_ms, min(first[0], end_ms), None, first)] if first[0] > start_ms else []
    behind = [Gap(max(last[0], start_ms), end_ms, last, None)] if last[0] < end_ms else []
    return before, behind


class Line(NamedTuple):
    """Mean rate on a straight line, and the parts of it below the zero, between, and above the cap (they sum to 1)."""

    rate_k: float
    below: float
    linear: float
    above: float


def line_heat(first_c: float, last_c: float, rule: HeatRule) -> Line:
    """Cut the straight line between two temperatures where it crosses the zero and the cap."""
    low, high = min(first_c, last_c), max(first_c, last_c)
    if high <= rule.zero_c:
        return Line(0.0, 1.0, 0.0, 0.0)
    if low >= rule.cap_c:
        return Line(rule.cap_c - rule.zero_c, 0.0, 0.0, 1.0)
    if high == low:
        return Line(rule.rate_k(low), 0.0, 1.0, 0.0)
    cut_low, cut_high = max(low, rule.zero_c), min(high, rule.cap_c)
    width = high - low
    between, over = (cut_high - cut_low) / width, max(high - rule.cap_c, 0.0) / width
    rate = between * ((cut_low + cut_high) / 2 - rule.zero_c) + over * (rule.cap_c - rule.zero_c)
    return Line(rate, 1.0 - between - over, between, over)
