"""A temperature that falls or rises fast towards a limit: a door, a pulled probe, a heater that is stuck. Pure.

All figures are project choices, for these reasons. 1.5 K in 10 min: a thermostat that swings by ±0.3 K moves 0.6 K
whatever its rhythm, and a cabinet without heat that stands 10 K above its room and has a time constant of 6 h falls
0.3 K in 10 min, which is a matter for a forecast; an open door or a stuck heater moves the air of a cabinet by several
kelvin. The median of slopes follows once nearly half of the 10 min are in the move, four minutes after a door was
opened wide; with two minutes of on-delay one that is shut after three is not told. What keeps it quiet besides:

- half of all pairs of readings have to differ by so much, over 6 min at least: noise of ±0.15 K cannot, whatever its
  rhythm;
- it still goes on: the newest part moves at half that speed or more;
- it began inside the warning limits or beyond the limit ahead: on the way back from outside it is welcome;
- it would pass the limit within half an hour, or has;
- it leaves what was usual the day before by 0.5 K: warming up again after a round or an outage does not.

Once on, half the speed holds it, and what was usual is not asked any more.
"""

from collections.abc import Collection, Iterator

from config.words import AlarmKind, Quantity
from daemon.alarms.figures import duration_text, value_text
from daemon.alarms.limits import Limits
from daemon.climate.cooling import COVERAGE_FACTOR
from daemon.climate.cooling_now import FEWEST_READINGS
from daemon.standing.found import Found
from daemon.standing.trend import (
    Course,
    Line,
    Point,
    Watched,
    comes_back,
    leaves_usual,
    line_of,
    newest_c,
    since,
    warning_limit_c,
)

SPAN_MS = 10 * 60_000
LONGEST_SPAN_MS = 30 * 60_000
"""A probe that sends less often than every 10 min cannot show such a move."""
FAST_K_H = 9.0
BEYOND_USUAL_K = 0.5
AHEAD_H = 0.5
DEADBAND_SHARE = 0.5
_NEWEST_PART = 0.2
_LEAST_COVERED = 0.6
_SIGNS = {AlarmKind.TEMPERATURE_FALLING: -1, AlarmKind.TEMPERATURE_RISING: 1}
KINDS = frozenset(_SIGNS)


def span_ms(interval_s: float) -> int:
    """Give over how long a probe that sends in this rhythm is watched: 10 min, or four of its readings."""
    return max(SPAN_MS, round((FEWEST_READINGS - 0.5) * interval_s * 1000))


def fast_changes(watched: Watched, course: Course, on: Collection[AlarmKind]) -> Iterator[Found]:
    """Give what holds of one channel; `on` are the kinds that are on for it now."""
    span = span_ms(watched.interval_s)
    readings = since(course.recent, span) if course.recent and not course.stale else []
    line = line_of(readings, curved=True)
    covered = bool(readings) and readings[-1][0] - readings[0][0] >= _LEAST_COVERED * span
    key, place = watched.key, watched.place
    if line is None or not covered or span > LONGEST_SPAN_MS:
        reason = "too few fresh readings to tell how fast it moves"
        yield from (Found(kind, key.channel, reason, place, channel=key, known=False) for kind in KINDS if kind in on)
        return
    for kind, sign in _SIGNS.items():
        if _is_fast(readings, line, course, watched.limits, sign, held=kind in on):
            reason, limit_c = _reason(readings, watched.fahrenheit), warning_limit_c(watched.limits, sign)
            yield Found(kind, key.channel, reason, place, channel=key, value=readings[-1][1], limit=limit_c)


def _is_fast(readings: list[Point], line: Line, course: Course, limits: Limits, sign: int, *, held: bool) -> bool:
    share = DEADBAND_SHARE if held else 1.0
    at_least_k_h = sign * line.slope_k_h - COVERAGE_FACTOR * line.u_k_h
    if at_least_k_h < FAST_K_H * share:
        return False
    ahead_c = warning_limit_c(limits, sign)
    passes = ahead_c is not None and sign * (newest_c(readings) + line.slope_k_h * AHEAD_H - ahead_c) >= 0
    if comes_back(readings, limits, sign) or not passes or not _goes_on(readings, sign, FAST_K_H * share / 2):
        return False
    return held or leaves_usual(course, limits, sign, BEYOND_USUAL_K)


def _goes_on(readings: list[Point], sign: int, least_k_h: float) -> bool:
    """Tell whether the newest readings, three at least, still move that way."""
    span = readings[-1][0] - readings[0][0]
    newest = since(readings, round(_NEWEST_PART * span))
    (first_ms, first_c), (last_ms, last_c) = min(newest[0], readings[-3]), newest[-1]
    return sign * (last_c - first_c) / ((last_ms - first_ms) / 3_600_000) >= least_k_h


def _reason(readings: list[Point], fahrenheit: bool) -> str:
    """`27.9 to 26.1 °C in 10 min`."""
    (first_ms, first_c), (last_ms, last_c) = readings[0], readings[-1]
    last = value_text(last_c, Quantity.AIR_TEMPERATURE, fahrenheit)
    first = value_text(first_c, Quantity.AIR_TEMPERATURE, fahrenheit).split(" ")[0]
    # A minute that is a second short of it is told as a minute.
    return f"{first} to {last} in {duration_text(last_ms - first_ms + 30_000)}"
