"""Heat as degree-hours: the exact integral of a piecewise-linear temperature between a zero and a cap.

The development rate is taken as a straight line above the developmental zero and held at its value at the cap above it
(the "horizontal cut-off" of the degree-day literature: Zalom et al. 1983, University of California leaflet 21373):

    degree-hours = integral over t of  min(max(T(t), zero), cap) - zero

Between two samples the temperature is a straight line. One stretch of length h from the lower end a to the upper end b
(rising and falling give the same heat) is cut where it crosses the zero and the cap; every piece is then exact:

    h / (b - a) * [ (hi - lo) * ((lo + hi) / 2 - zero) + (b - hi) * (cap - zero) ],  lo = max(a, zero), hi = min(b, cap)

Clipping the samples first and then adding trapezoids is not the same where a stretch crosses, and always credits a
wrong amount there.

Two forms of the one integral: `season_degree_hours` for whole records in arrays, `heat_between` for one clutch and one
window, which also says how much of the window no sample covers.
"""

import math
import sys
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

_MS_PER_HOUR = 3_600_000
_BLOCK = 32_768
"""Samples integrated at a time: temporaries stay small and in the cache, whatever the length of the record."""
_NO_CAP_C = sys.float_info.max
"""Stands for "no cap" in comparisons; an infinite temperature is still above it and is refused."""


@dataclass(frozen=True, slots=True)
class Heat:
    """Heat of one window and how much of the window it speaks for.

    `degree_hours_ch` is the heat over the covered time only. `covered_ms` and `missing_ms` add up to the window, to the
    millisecond. Over the missing time the heat is unknown: between nothing and (cap - zero) times its length.
    """

    degree_hours_ch: float
    covered_ms: int
    missing_ms: int

    @property
    def covered_h(self) -> float:
        """Hours of the window that samples cover."""
        return self.covered_ms / _MS_PER_HOUR

    @property
    def missing_h(self) -> float:
        """Hours of the window that no sample covers."""
        return self.missing_ms / _MS_PER_HOUR


def season_degree_hours(
    times_h: "NDArray[np.float64]", temperatures_c: "NDArray[np.float64]", zero_c: float, cap_c: float | None
) -> float:
    """Degree-hours of a whole record without gaps, such as a season.

    Parameters
    ----------
    times_h
        Hours, never falling, at any spacing. Two samples at the same time are a step in temperature.
    temperatures_c
        Degree Celsius, as many as times.
    zero_c
        Developmental zero, degree Celsius.
    cap_c
        Temperature above which no more heat is credited, degree Celsius; None for none.

    Returns
    -------
    float
        Degree-hours; 0 for fewer than two samples.

    Raises
    ------
    ValueError
        Where lengths differ, times fall, a value is not a finite number, or the cap is not above the zero.

    Notes
    -----
    Formula and source in the head of this module; exact for straight lines between samples. For a smooth temperature
    the error is that of the straight lines.
    """
    import numpy as np

    _require_zero_below_cap(zero_c, cap_c)
    times = np.asarray(times_h, dtype=np.float64)
    temperatures = np.asarray(temperatures_c, dtype=np.float64)
    _require_series(times, temperatures)
    ceiling = _NO_CAP_C if cap_c is None else cap_c
    blocks = (slice(first, first + _BLOCK + 1) for first in range(0, times.size - 1, _BLOCK))
    return math.fsum(_block_degree_hours(times[block], temperatures[block], zero_c, ceiling) for block in blocks)


def heat_between(
    samples: Sequence[tuple[int, float]],
    start_ms: int,
    end_ms: int,
    zero_c: float,
    cap_c: float | None,
    longest_bridge_ms: int,
) -> Heat:
    """Degree-hours of one window, and how much of the window they speak for.

    Parameters
    ----------
    samples
        (measured_at_ms, temperature_c), in order of time. The nearest sample before the window and the nearest after it
        belong in the list: the straight line to them covers the edges.
    start_ms, end_ms
        The window, UTC milliseconds since the epoch.
    zero_c, cap_c
        Developmental zero and cap, degree Celsius; no cap with None.
    longest_bridge_ms
        Two neighbours further apart than this have a gap between them: all of it is missing, none of it is heat.

    Returns
    -------
    Heat
        Covered and missing time add up to the window exactly. Windows that share an edge add up to the whole.

    Raises
    ------
    ValueError
        Where the window ends before it begins, samples are not in order of time, a temperature is not a finite number,
        the bridge is below 1 ms or the cap is not above the zero.

    Notes
    -----
    Formula and source in the head of this module.
    """
    _require_zero_below_cap(zero_c, cap_c)
    if end_ms < start_ms:
        raise ValueError(f"The window ends at {end_ms} ms, before it begins at {start_ms} ms; swap the two.")
    if longest_bridge_ms < 1:
        raise ValueError(f"The longest bridge is {longest_bridge_ms} ms; give 1 ms or more.")
    ceiling = _NO_CAP_C if cap_c is None else cap_c
    first = max(bisect_left(samples, (start_ms,)) - 1, 0)
    inside = samples[first : bisect_left(samples, (end_ms,)) + 1]
    heat_ms, covered_ms = _summed(inside, start_ms, end_ms, zero_c, ceiling, longest_bridge_ms)
    return Heat(heat_ms / _MS_PER_HOUR, covered_ms, end_ms - start_ms - covered_ms)


def _summed(
    samples: Sequence[tuple[int, float]],
    start_ms: int,
    end_ms: int,
    zero_c: float,
    ceiling: float,
    longest_bridge_ms: int,
) -> tuple[float, int]:
    """Degree-milliseconds and covered milliseconds of the stretches between samples, as far as in the window."""
    heat_ms, covered_ms = 0.0, 0
    for (t0, c0), (t1, c1) in pairwise(samples):
        step = t1 - t0
        if step < 0:
            raise ValueError(f"Samples are not in order of time: {t1} ms comes after {t0} ms; sort them by time.")
        if step > longest_bridge_ms:
            continue
        if t0 < start_ms or t1 > end_ms:
            step, c0, c1 = _cut_to_window((t0, c0), (t1, c1), start_ms, end_ms)  # noqa: PLW2901 - the part inside
        if zero_c <= c0 <= ceiling and zero_c <= c1 <= ceiling:
            heat_ms += step * ((c0 - zero_c) + (c1 - zero_c)) / 2
        else:
            heat_ms += step * _mean_rate(c0, c1, zero_c, ceiling)
        covered_ms += step
    return heat_ms, covered_ms


def _cut_to_window(
    before: tuple[int, float], after: tuple[int, float], start_ms: int, end_ms: int
) -> tuple[int, float, float]:
    """Length and end temperatures of the part of a stretch that lies in the window."""
    (t0, c0), (t1, c1) = before, after
    begin, end = max(t0, start_ms), min(t1, end_ms)
    slope = (c1 - c0) / (t1 - t0)
    return end - begin, c0 + slope * (begin - t0), c1 - slope * (t1 - end)


def _mean_rate(c0: float, c1: float, zero_c: float, ceiling_c: float) -> float:
    """Mean of the clipped line from c0 to c1, above the zero, by cutting it at both thresholds."""
    low, high = (c0, c1) if c0 <= c1 else (c1, c0)
    if not high - low < math.inf:  # also where either is not a number
        raise ValueError(f"A sample is not a finite temperature ({c0} or {c1}); leave suspect readings out.")
    if high <= zero_c:
        return 0.0
    if low >= ceiling_c:
        return ceiling_c - zero_c
    cut_low = max(low, zero_c)
    cut_high = min(high, ceiling_c)
    between = (cut_high - cut_low) * ((cut_low - zero_c) + (cut_high - zero_c)) / 2
    above = (high - cut_high) * (ceiling_c - zero_c) if high > ceiling_c else 0.0
    return (between + above) / (high - low)


def _block_degree_hours(
    times: "NDArray[np.float64]", temperatures: "NDArray[np.float64]", zero_c: float, ceiling_c: float
) -> float:
    """Integrate two samples or more: trapezoids over clipped samples, put right where a threshold is crossed."""
    import numpy as np

    coldest, warmest = temperatures.min(), temperatures.max()
    if not (math.isfinite(coldest) and math.isfinite(warmest)):
        at = int(np.argmin(np.isfinite(temperatures)))
        raise ValueError(f"The temperature at {times[at]} h is {temperatures[at]}, not a finite number; leave it out.")
    if warmest <= zero_c:
        return 0.0
    clipped, correction = temperatures, 0.0
    if coldest < zero_c or warmest > ceiling_c:
        clipped = np.clip(temperatures, zero_c, ceiling_c)
        correction = _crossing_correction(times, temperatures, zero_c, ceiling_c)
    # Each sample counts for half the time from the one before it to the one after it.
    inner = times[2:] - times[:-2]
    inner *= clipped[1:-1]
    ends = clipped[0] * (times[1] - times[0]) + clipped[-1] * (times[-1] - times[-2])
    level = zero_c * float(times[-1] - times[0])
    return max(0.0, float(inner.sum() + ends) / 2 - level + correction)


def _crossing_correction(
    times: "NDArray[np.float64]", temperatures: "NDArray[np.float64]", zero_c: float, ceiling_c: float
) -> float:
    """Sum what trapezoids over clipped samples get wrong on the few stretches that cross a threshold.

    With x the overshoot beyond the threshold and w the whole difference of a stretch of length h, the clipped
    trapezoid is h x (1 - x/w) / 2 too high at the zero and as much too low at the cap.
    """
    import numpy as np

    above_zero, above_cap = temperatures > zero_c, temperatures > ceiling_c
    crossing = above_zero[1:] ^ above_zero[:-1]
    crossing |= above_cap[1:] ^ above_cap[:-1]
    at = np.flatnonzero(crossing)
    low = np.minimum(temperatures[at], temperatures[at + 1])
    high = np.maximum(temperatures[at], temperatures[at + 1])
    width, lengths = high - low, times[at + 1] - times[at]
    below, over = np.maximum(zero_c - low, 0), np.maximum(high - ceiling_c, 0)
    return float((lengths * (over * (1 - over / width) - below * (1 - below / width))).sum()) / 2


def _require_series(times: "NDArray[np.float64]", temperatures: "NDArray[np.float64]") -> None:
    """Refuse what cannot be integrated; a comparison with NaN is false, so one pass finds both faults."""
    import numpy as np

    if times.ndim != 1 or times.shape != temperatures.shape:
        raise ValueError(f"Times {times.shape} and temperatures {temperatures.shape} differ; give one row of each.")
    in_order = times[1:] >= times[:-1]
    if not in_order.all():
        bad = int(np.argmin(in_order))
        raise ValueError(
            f"Time {bad + 1} is before time {bad}, or one of them is not a number; sort the samples by time."
        )
    if times.size and not (math.isfinite(times[0]) and math.isfinite(times[-1])):
        raise ValueError("The first or last time is not a finite number; leave that sample out.")


def _require_zero_below_cap(zero_c: float, cap_c: float | None) -> None:
    if not math.isfinite(zero_c):
        raise ValueError(f"The developmental zero is {zero_c}; give a temperature in °C.")
    if cap_c is not None and not (math.isfinite(cap_c) and cap_c > zero_c):
        raise ValueError(
            f"The cap of {cap_c} °C is not above the developmental zero of {zero_c} °C; check the profile."
        )
