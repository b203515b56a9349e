"""Where a reading has been going within the last hour: rising, falling, steady, or nothing that can be told. Pure.

The slope is the robust one of `trend.line_of`. What keeps a thermostat's swing from being called a trend:

- the slope has to be sure beyond twice its standard uncertainty, which the swing makes large;
- each third of the hour has to lie beyond the one before it, by its median: a swing comes back within the hour;
- first and last third have to lie further apart than the readings of one third among themselves do mostly.

What began to move only a quarter of an hour ago moves as well, once it has left what was read before in the hour: a
quick swing does not. One reading before that lies apart on each side does not count: a door that was open for a moment
must not hide that the heat has failed since.

A swing that takes longer than the hour looks like a trend for a part of its time; so it is one, as far as an hour can
tell. The figures are project choices: 0.2 K/h is what a cabinet drifts by with its room over a day without anybody
minding, and a humidity that moves 2 % in an hour is one that somebody changed.
"""

from collections.abc import Sequence
from enum import StrEnum
from statistics import median, quantiles
from typing import NamedTuple

from config.words import Quantity
from daemon.climate.cooling import COVERAGE_FACTOR
from daemon.standing.trend import Point, line_of

SPAN_MS = 3_600_000
FEWEST = 6
_RECENT_MS = 15 * 60_000
_NEWEST = 3
_LEAST_COVERED_MS = 40 * 60_000
_PARTS = 3
_LEAST_PER_H = {Quantity.AIR_TEMPERATURE: 0.2, Quantity.SURFACE_TEMPERATURE: 0.2, Quantity.RELATIVE_HUMIDITY: 2.0}


class Way(StrEnum):
    """Where it goes."""

    RISING = "rising"
    FALLING = "falling"
    STEADY = "steady"
    UNTOLD = "no trend"


class ReadingTrend(NamedTuple):
    """`per_h` is the slope in the unit of the quantity, None where none is told; `reason` says on what it rests."""

    way: Way
    per_h: float | None
    reason: str


TOO_FEW = ReadingTrend(Way.UNTOLD, None, "too few readings in the last hour")
_NOISY = ReadingTrend(Way.UNTOLD, None, "the readings swing more than they move")


def reading_trend(quantity: Quantity, readings: Sequence[Point]) -> ReadingTrend:
    """Give the trend of good readings of the last hour, in order of time, in the unit of the quantity."""
    line = line_of(readings, curved=False) if len(readings) >= FEWEST else None
    if line is None or readings[-1][0] - readings[0][0] < _LEAST_COVERED_MS:
        return TOO_FEW
    least, unsure = _LEAST_PER_H[quantity], COVERAGE_FACTOR * line.u_k_h
    begun = _begun(readings, least)
    if begun is not None:
        return begun
    reason = f"slope of {len(readings)} readings of the last hour, sure within {unsure:.2g} per hour"
    if abs(line.slope_k_h) - unsure >= least and _goes_on(readings, 1 if line.slope_k_h > 0 else -1):
        return ReadingTrend(Way.RISING if line.slope_k_h > 0 else Way.FALLING, line.slope_k_h, reason)
    if unsure <= least and abs(line.slope_k_h) <= least + unsure:
        return ReadingTrend(Way.STEADY, line.slope_k_h, reason)
    return _NOISY


def _begun(readings: Sequence[Point], least: float) -> ReadingTrend | None:
    """Give the trend of what has left everything before it in the last quarter of an hour; None where nothing has."""
    recent = [point for point in readings if point[0] > readings[-1][0] - _RECENT_MS]
    before = sorted(value for _, value in readings[: len(readings) - len(recent)])
    if len(before) >= FEWEST:
        before = before[1:-1]
    newest = median(value for _, value in readings[-_NEWEST:])
    beyond = (newest > before[-1] + least) - (newest < before[0] - least) if before else 0
    if not beyond:
        return None
    line = line_of(recent, curved=True)
    # Where it moves the other way already, an hour does not tell where it goes.
    if line is None or line.slope_k_h * beyond <= 0:
        return _NOISY
    reason = f"it left what was read before in the hour; slope of the last {len(recent)} readings"
    return ReadingTrend(Way.RISING if beyond > 0 else Way.FALLING, line.slope_k_h, reason)


def _goes_on(readings: Sequence[Point], sign: int) -> bool:
    """Tell whether each part of the hour lies beyond the one before, and the last far from the first."""
    first_ms, last_ms = readings[0][0], readings[-1][0]
    parts: list[list[float]] = [[] for _ in range(_PARTS)]
    for at_ms, value in readings:
        parts[min(_PARTS - 1, _PARTS * (at_ms - first_ms) // (last_ms - first_ms))].append(sign * value)
    if any(len(part) < 2 for part in parts):  # noqa: PLR2004 - a spread needs two
        return False
    middles = [median(part) for part in parts]
    spread = max(_middle_half(part) for part in parts)
    return middles == sorted(set(middles)) and middles[-1] - middles[0] > spread


def _middle_half(values: Sequence[float]) -> float:
    """How far the middle half of the values reaches."""
    low, _, high = quantiles(values, n=4)
    return high - low
