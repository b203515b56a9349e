"""Heat of a stretch of time as an interval: what readings cover exactly, and which gaps they leave.

Where readings follow each other closely the temperature is the straight line between them and the heat is the exact
integral (`daemon/development/degree_hours.py`). What a gap can have held: `daemon/development/heat_gap.py`.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

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


class HeatLines:
    """The straight lines between the readings of one stretch, made once and counted by any number of rules.

    Parameters
    ----------
    samples
        (measured_at_ms, temperature_c) in order of time, with the nearest ones around the stretch, however far.
    start_ms, end_ms
        The stretch, UTC milliseconds since the epoch.
    longest_bridge_ms
        Two neighbours further apart have a gap between them.
    """

    __slots__ = ("coldest_c", "cut", "gaps", "highs_c", "lows_c", "middles_c", "steps_ms")

    def __init__(
        self, samples: Sequence[tuple[int, float]], start_ms: int, end_ms: int, longest_bridge_ms: int
    ) -> None:
        import numpy as np

        self.cut: list[tuple[int, float, float]] = []
        """Length in ms and both ends in degree Celsius of lines that begin or end outside the stretch."""
        self.gaps: list[Gap] = []
        times, values_c = np.array([at for at, _ in samples], np.int64), np.array([value for _, value in samples])
        steps = np.diff(times)
        whole = (steps <= longest_bridge_ms) & (times[:-1] >= start_ms) & (times[1:] <= end_ms)
        first_c, last_c = values_c[:-1][whole], values_c[1:][whole]
        self.steps_ms = steps[whole].astype(np.float64)
        self.lows_c, self.highs_c = np.minimum(first_c, last_c), np.maximum(first_c, last_c)
        self.middles_c = (first_c + last_c) / 2
        self.coldest_c = float(self.lows_c.min()) if self.lows_c.size else math.inf
        for number in np.flatnonzero(~whole).tolist():
            before, after = samples[number], samples[number + 1]
            begin, end = max(before[0], start_ms), min(after[0], end_ms)
            if begin >= end:
                continue
            if after[0] - before[0] > longest_bridge_ms:
                self.gaps.append(Gap(begin, end, before, after))
            else:
                slope = (after[1] - before[1]) / (after[0] - before[0])
                ends_c = before[1] + slope * (begin - before[0]), after[1] - slope * (after[0] - end)
                self.cut.append((end - begin, *ends_c))
        self.gaps[:0], self.gaps[len(self.gaps) :] = _edges(samples, start_ms, end_ms)


def covered_heat(lines: HeatLines, rule: HeatRule, u_k: float) -> HeatPiece:
    """Heat where readings follow each other closely; `lines.gaps` are not part of it.

    Parameters
    ----------
    lines
        The readings of the stretch.
    rule
        Developmental zero and cap, degree Celsius.
    u_k
        Standard uncertainty of the probe, K.

    Notes
    -----
    Exact for straight lines between readings: a line is cut where it crosses the zero and the cap. What an offset does
    is exact but for lines that cross a threshold only with it; there the middle of the line counts.
    """
    off_k = _K * u_k
    is_linear = (lines.lows_c >= rule.zero_c) & (lines.highs_c <= rule.cap_c)
    is_above = lines.lows_c > rule.cap_c
    # Nearly all of a season is one of these two; what crosses the zero or the cap is cut line by line.
    piece = _linear(lines, lines.steps_ms * is_linear, rule, off_k) + _above(
        lines, lines.steps_ms * is_above, rule, off_k
    )
    for number in (~(is_linear | is_above)).nonzero()[0].tolist():
        ends_c = float(lines.lows_c[number]), float(lines.highs_c[number])
        piece += line_piece(int(lines.steps_ms[number]), *ends_c, rule, off_k)
    for step_ms, first_c, last_c in lines.cut:
        piece += line_piece(step_ms, first_c, last_c, rule, off_k)
    return piece


def _linear(lines: HeatLines, steps_ms: "NDArray[np.float64]", rule: HeatRule, off_k: float) -> HeatPiece:
    """Heat of lines that lie between zero and cap; `steps_ms` is 0 for all others."""
    linear_ms = float(steps_ms.sum())
    temperature_ch = float(steps_ms @ lines.middles_c) / _MS_PER_HOUR
    loss_ch = gain_ch = off_k * linear_ms / _MS_PER_HOUR
    if lines.coldest_c < rule.zero_c + off_k:
        loss_ch -= float(steps_ms @ (rule.zero_c + off_k - lines.middles_c).clip(0.0)) / _MS_PER_HOUR
    gain_ch -= float(steps_ms @ (lines.middles_c - rule.cap_c + off_k).clip(0.0)) / _MS_PER_HOUR
    best_ch = temperature_ch - rule.zero_c * linear_ms / _MS_PER_HOUR
    return HeatPiece(
        best_ch,
        best_ch,
        best_ch,
        loss_ch,
        gain_ch,
        best_ch,
        temperature_ch,
        linear_ms=round(linear_ms),
        covered_ms=round(linear_ms),
    )


def _above(lines: HeatLines, steps_ms: "NDArray[np.float64]", rule: HeatRule, off_k: float) -> HeatPiece:
    """Heat of lines that lie above the cap; `steps_ms` is 0 for all others."""
    above_ms = float(steps_ms.sum())
    if not above_ms:
        return HeatPiece()
    best_ch = (rule.cap_c - rule.zero_c) * above_ms / _MS_PER_HOUR
    return HeatPiece(
        best_ch,
        best_ch,
        best_ch,
        colder_ch=float(steps_ms @ (off_k + rule.cap_c - lines.middles_c).clip(0.0)) / _MS_PER_HOUR,
        covered_ch=best_ch,
        temperature_ch=float(steps_ms @ lines.middles_c) / _MS_PER_HOUR,
        covered_ms=round(above_ms),
        above_cap_ms=round(above_ms),
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
