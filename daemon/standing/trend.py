"""How fast a temperature moves, by a line that single wild readings do not tilt. Pure.

The slope is the median of the slopes of all pairs of readings (Theil 1950; Sen 1968, J. Am. Stat. Assoc. 63,
1379-1389): nearly a third of the readings may be wild without moving it far. Its standard uncertainty is that of a
least-squares slope with the scatter of the readings, which is estimated by a median too, so that it resists as well.
"""

import math
from collections.abc import Sequence
from itertools import combinations, pairwise
from statistics import median
from typing import NamedTuple

from daemon.alarms.limits import Limits
from daemon.climate.cooling_now import FEWEST_READINGS, FINEST_K
from sensors.reading import ChannelKey

Point = tuple[int, float]
"""A moment (UTC milliseconds since the epoch) and degree Celsius."""

_MS_PER_HOUR = 3_600_000
_TO_STANDARD = 1.4826
"""From the median of absolute deviations to the standard deviation of normal noise."""
_LEVEL_OF = 3
_TAIL = 0.1


class Line(NamedTuple):
    """A line through readings: kelvin per hour, its standard uncertainty, and where it is at the newest, °C."""

    slope_k_h: float
    u_k_h: float
    newest_c: float


class Course(NamedTuple):
    """One air temperature channel as it went, corrected, in order of time.

    `recent`: its good readings of the last half hour at most. `before`: temperatures of the day before that, °C.
    `stale`: the newest good reading is too old to say how it is now.
    """

    recent: Sequence[Point]
    before: Sequence[float]
    stale: bool


class Watched(NamedTuple):
    """An air temperature channel of a place with eggs: how often it sends, and what suits the clutches there, °C.

    `fahrenheit`: the people of the site read °F.
    """

    key: ChannelKey
    place: str
    interval_s: float
    limits: Limits
    fahrenheit: bool


def since(readings: Sequence[Point], span_ms: int) -> list[Point]:
    """Give the readings of the last `span_ms`, counted from the newest."""
    return [point for point in readings if point[0] >= readings[-1][0] - span_ms]


def line_of(readings: Sequence[Point], *, curved: bool) -> Line | None:
    """Give the line through readings in order of time; None for fewer than four, or all of one moment.

    Where the readings may be `curved`, the scatter is that of each reading around its neighbours. Else it is that
    around the line, so that a line that does not fit is not believed.
    """
    if len(readings) < FEWEST_READINGS or readings[-1][0] == readings[0][0]:
        return None
    newest_ms = readings[-1][0]
    points = [((at_ms - newest_ms) / _MS_PER_HOUR, value) for at_ms, value in readings]
    slope = median((b - a) / (t1 - t0) for (t0, a), (t1, b) in combinations(points, 2) if t1 > t0)
    newest_c = median(value - slope * hours for hours, value in points)
    off = _around_neighbours(points) if curved else [value - newest_c - slope * hours for hours, value in points]
    scatter_k = max(_TO_STANDARD * median(map(abs, off)), FINEST_K)
    middle = math.fsum(hours for hours, _ in points) / len(points)
    spread = math.fsum((hours - middle) ** 2 for hours, _ in points)
    return Line(slope, scatter_k / math.sqrt(spread), newest_c)


def blocks(readings: Sequence[Point], length_ms: int) -> list[Point]:
    """Give for each block of time the moment in the middle of its readings, and their median."""
    found: dict[int, list[Point]] = {}
    for at_ms, value in readings:
        found.setdefault(at_ms // length_ms, []).append((at_ms, value))
    return [
        ((block[0][0] + block[-1][0]) // 2, median(value for _, value in block)) for _, block in sorted(found.items())
    ]


def level_c(readings: Sequence[Point]) -> float:
    """Give the median of the first readings, three or the first half, degree Celsius."""
    return median(value for _, value in readings[: _level_of(readings)])


def newest_c(readings: Sequence[Point]) -> float:
    """Give the median of the newest readings, three or the last half, degree Celsius."""
    return median(value for _, value in readings[-_level_of(readings) :])


def _level_of(readings: Sequence[Point]) -> int:
    return max(min(_LEVEL_OF, len(readings) // 2), 1)


def usual_span(values: Sequence[float]) -> tuple[float, float] | None:
    """Give low and high of what is usual: a tenth of the values lies below, a tenth above. None for too few."""
    if len(values) < 2 * FEWEST_READINGS:
        return None
    ranked = sorted(values)
    cut = int(_TAIL * len(ranked))
    return ranked[cut], ranked[-1 - cut]


def leaves_usual(course: Course, limits: Limits, sign: int, by_k: float) -> bool:
    """Tell whether the newest temperature lies so far beyond what was usual the day before, +1 above, -1 below.

    A thermostat that swings, and a cabinet that comes back after a round or an outage, do not leave it. Where nothing
    is known of before, everything does. Beyond a warning limit nothing is usual: yesterday's heat must not hide
    today's.
    """
    usual, limit_c = usual_span(course.before), warning_limit_c(limits, sign)
    if usual is None:
        return True
    edge_c = usual[1] if sign > 0 else usual[0]
    if limit_c is not None and sign * (edge_c - limit_c) > 0:
        edge_c = limit_c
    return sign * (newest_c(course.recent) - edge_c) >= by_k


def warning_limit_c(limits: Limits, sign: int) -> float | None:
    """The warning limit on one side, +1 the high one; the lethal one where the clutches leave no band between them."""
    if sign > 0:
        return limits.lethal_high_c if limits.high_c is None else limits.high_c
    return limits.lethal_low_c if limits.low_c is None else limits.low_c


def comes_back(readings: Sequence[Point], limits: Limits, sign: int) -> bool:
    """Tell whether a move, +1 up and -1 down, began beyond the warning limit on the other side."""
    behind_c = warning_limit_c(limits, -sign)
    return behind_c is not None and sign * (level_c(readings) - behind_c) < 0


def _around_neighbours(points: Sequence[tuple[float, float]]) -> list[float]:
    """How far each reading is from the line between its neighbours, scaled to the noise of one reading."""
    off = []
    for (before, middle), (_, after) in pairwise(pairwise(points)):
        share = (middle[0] - before[0]) / (after[0] - before[0]) if after[0] > before[0] else 0.5
        between = (1 - share) * before[1] + share * after[1]
        off.append((middle[1] - between) / math.sqrt(1 + share**2 + (1 - share) ** 2))
    return off
