"""Heat of a stretch of time as an interval: what readings cover exactly, and which gaps they leave.

Where readings follow each other closely the temperature is the straight line between them and the heat is the exact
integral (`daemon/development/degree_hours.py`). What a gap can have held: `daemon/development/heat_gap.py`.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import NamedTuple

_MS_PER_HOUR = 3_600_000
_K = 2.0
"""Coverage factor of an interval (GUM 6.3.3: about 95 % for a normal distribution)."""


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

    `low_ch` and `high_ch` hold the bounds of gaps only. `colder_ch` is what the best estimate would lose if the probe
    read two standard uncertainties too high all the time, `warmer_ch` what it would gain if it read too low (an offset
    common to all, not noise): not the same near the cap and the zero. `covered_ch` is the heat and `temperature_ch` the
    integral of the temperature (degree Celsius times hour) over the covered time alone: what was measured and not
    estimated. `linear_ms` is the time between zero and cap. Covered and missing time add up to the stretch.
    """

    low_ch: float = 0.0
    best_ch: float = 0.0
    high_ch: float = 0.0
    colder_ch: float = 0.0
    warmer_ch: float = 0.0
    covered_ch: float = 0.0
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
            self.colder_ch + other.colder_ch,
            self.warmer_ch + other.warmer_ch,
            self.covered_ch + other.covered_ch,
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
    Exact for straight lines between readings: a line is cut where it crosses the zero and the cap. What an offset does
    is exact but for lines that cross a threshold only with it; there the middle of the line counts.
    """
    gaps: list[Gap] = []
    zero_c, cap_c = rule
    off_k = _K * u_k
    low_c, high_c = zero_c + off_k, cap_c - off_k
    linear = linear_c = above = above_c = colder = warmer = 0.0
    cut = HeatPiece()
    for (t0, c0), (t1, c1) in pairwise(samples):
        step = t1 - t0
        is_whole = step <= longest_bridge_ms and t0 >= start_ms and t1 <= end_ms
        # Nearly all of a season goes one of these two ways.
        if is_whole and zero_c <= c0 <= cap_c >= c1 >= zero_c:
            linear += step
            linear_c += step * (c0 + c1)
            middle_c = (c0 + c1) / 2
            if not low_c <= middle_c <= high_c:
                colder -= step * max(low_c - middle_c, 0.0)
                warmer -= step * max(middle_c - high_c, 0.0)
        elif is_whole and c0 > cap_c < c1:
            above += step
            above_c += step * (c0 + c1)
            over_k = (c0 + c1) / 2 - cap_c
            if over_k < off_k:
                colder += step * (off_k - over_k)
        elif (begin := max(t0, start_ms)) < (end := min(t1, end_ms)):
            if step > longest_bridge_ms:
                gaps.append(Gap(begin, end, (t0, c0), (t1, c1)))
            else:
                slope = (c1 - c0) / step
                cut += line_piece(end - begin, c0 + slope * (begin - t0), c1 - slope * (t1 - end), rule, off_k)
    gaps[:0], gaps[len(gaps) :] = _edges(samples, start_ms, end_ms)
    linear_ms = cut.linear_ms + round(linear)
    best = cut.best_ch + (linear_c / 2 - zero_c * linear + (cap_c - zero_c) * above) / _MS_PER_HOUR
    return (
        replace(
            cut,
            low_ch=best,
            best_ch=best,
            high_ch=best,
            colder_ch=cut.colder_ch + (off_k * linear + colder) / _MS_PER_HOUR,
            warmer_ch=cut.warmer_ch + (off_k * linear + warmer) / _MS_PER_HOUR,
            covered_ch=best,
            temperature_ch=cut.temperature_ch + (linear_c + above_c) / 2 / _MS_PER_HOUR,
            linear_ms=linear_ms,
            covered_ms=cut.covered_ms + round(linear + above),
            above_cap_ms=cut.above_cap_ms + round(above),
        ),
        gaps,
    )


def line_piece(step_ms: int, first_c: float, last_c: float, rule: HeatRule, off_k: float) -> HeatPiece:
    """Heat under one straight line, and what it would lose and gain were it this much colder or warmer."""
    part = line_heat(first_c, last_c, rule)
    hours = step_ms / _MS_PER_HOUR
    heat_ch = hours * part.rate_k
    below_ms, above_ms = round(step_ms * part.below), round(step_ms * part.above)
    return HeatPiece(
        heat_ch,
        heat_ch,
        heat_ch,
        colder_ch=heat_ch - hours * line_heat(first_c - off_k, last_c - off_k, rule).rate_k,
        warmer_ch=hours * line_heat(first_c + off_k, last_c + off_k, rule).rate_k - heat_ch,
        covered_ch=heat_ch,
        temperature_ch=hours * (first_c + last_c) / 2,
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
