"""A limit that is reached soon if it goes on like this: told while there is still time. Pure.

The limit is the lethal one, and without one the warning limit. Two ways to look ahead:

- towards a colder limit, where the incubator cools just as its time constant says it does without heat: Newton's law
  (`daemon.climate.cooling`); the room has to be known well enough for it;
- else a straight line through half an hour. The bounds are two standard uncertainties of the slope away.

A wide interval, late beyond three times early, says nothing; of a line that is a slope of less than four standard
uncertainties. It is raised where the early bound lies within an hour, and where the move

- is steady: each of the last three parts of eight minutes goes at half to twice the speed of the whole. The air of a
  cabinet falls by a kelvin when a door opens, and then stays;
- leaves what was usual the day before by 0.2 K: the swing of a thermostat does not, and each half of it is a straight
  line;
- did not begin beyond the warning limit on the other side: on the way back from there it is welcome.

Once on, an hour and a half holds it as long as the newest part moves that way, and so does the limit itself when it is
reached: an alarm that said so does not end by being right. All of these figures are project choices.
"""

import math
from typing import NamedTuple

from config.words import AlarmKind, Quantity
from daemon.alarms.figures import duration_text, value_text
from daemon.alarms.limits import Limits
from daemon.climate.cooling import COVERAGE_FACTOR, Outcome, RoomAir, TimeConstant, time_to_limit
from daemon.climate.cooling_now import FINEST_K, objection_to_cooling
from daemon.climate.uncertainty import Estimate
from daemon.standing.found import Found
from daemon.standing.trend import (
    Course,
    Line,
    Point,
    Watched,
    blocks,
    comes_back,
    leaves_usual,
    line_of,
    newest_c,
    since,
)

EARLY_H = 1.0
HELD_SHARE = 1.5
WIDEST = 3.0
BEYOND_USUAL_K = 0.2
BLOCK_MS = 2 * 60_000
LINE_MS = 30 * 60_000
_COOLING_MS = 20 * 60_000
PART_MS = 8 * 60_000
PARTS = 3
UNSTEADY = 2.0
_LEAST_COVERED = 0.6
_HOUR_MS = 3_600_000
_MINUTE_MS = 60_000
_ROUNDED_FROM_MS = 30 * _MINUTE_MS


class Unheated(NamedTuple):
    """What a cooling without heat is judged by: the room, the time constant, the uncertainty of the probe (k = 1)."""

    room: RoomAir
    constant: TimeConstant
    u_k: float


class _Interval(NamedTuple):
    """Hours until the limit."""

    early_h: float
    late_h: float
    how: str


def limit_ahead(watched: Watched, course: Course, unheated: Unheated | None, *, on: AlarmKind | None) -> Found | None:
    """Give what lies ahead of one air temperature channel; None where nothing does.

    `unheated` is None where nothing is known of the room or of how slowly the incubator cools. `on` is which of the two
    alarms of the channel is on: the one about a lethal limit, or the one about a warning limit.
    """
    key, place, is_on = watched.key, watched.place, on is not None
    readings = [] if course.stale else blocks(course.recent, BLOCK_MS)
    line = line_of(readings, curved=False)
    if line is None or readings[-1][0] - readings[0][0] < _LEAST_COVERED * LINE_MS:
        reason = "too few fresh readings to look ahead"
        return None if on is None else Found(on, key.channel, reason, place, channel=key, known=False)
    now_c = course.recent[-1][1]
    limit_c, passed = _limit(watched.limits, line, now_c)
    if limit_c is None:
        return None
    is_lethal = limit_c in (watched.limits.lethal_low_c, watched.limits.lethal_high_c)
    kind = AlarmKind.LETHAL_AHEAD if is_lethal else AlarmKind.LIMIT_AHEAD
    limit = value_text(limit_c, Quantity.AIR_TEMPERATURE, watched.fahrenheit)
    if passed:
        told = Found(kind, key.channel, f"{limit} is reached", place, channel=key, value=now_c, limit=limit_c)
        return told if is_on else None
    if not (_is_held(readings, line) if is_on else _is_new(readings, line, course, watched.limits)):
        return None
    widest = math.inf if is_on else WIDEST
    ahead = _without_heat(readings, limit_c, unheated, widest) or _straight(line, limit_c, widest)
    if ahead is None or ahead.early_h > EARLY_H * (HELD_SHARE if is_on else 1.0):
        return None
    reason = f"{limit} in about {_span_text(ahead)} {ahead.how}"
    return Found(kind, key.channel, reason, place, channel=key, value=now_c, limit=limit_c)


def _limit(limits: Limits, line: Line, now_c: float) -> tuple[float | None, bool]:
    """The limit that is passed already, else the one towards which it moves; and whether it is passed."""
    low = limits.low_c if limits.lethal_low_c is None else limits.lethal_low_c
    high = limits.high_c if limits.lethal_high_c is None else limits.lethal_high_c
    if low is not None and now_c < low:
        return low, True
    if high is not None and now_c > high:
        return high, True
    return (high if line.slope_k_h > 0 else low), False


def _is_new(readings: list[Point], line: Line, course: Course, limits: Limits) -> bool:
    """Tell whether it moves steadily, to where it was not the day before, and not back from outside."""
    sign = 1 if line.slope_k_h > 0 else -1
    speeds = [sign * speed for speed in _speeds_k_h(readings)]
    slow, fast = abs(line.slope_k_h) / UNSTEADY, abs(line.slope_k_h) * UNSTEADY
    steady = len(speeds) == PARTS and all(slow <= speed <= fast for speed in speeds)
    return steady and not comes_back(readings, limits, sign) and leaves_usual(course, limits, sign, BEYOND_USUAL_K)


def _is_held(readings: list[Point], line: Line) -> bool:
    return any(speed * line.slope_k_h > 0 for speed in _speeds_k_h(readings)[:1])


def _speeds_k_h(readings: list[Point]) -> list[float]:
    """The speeds of the last parts, the newest first; fewer where there are not two readings in each."""
    speeds, rest = [], readings
    for _ in range(PARTS):
        part = since(rest, PART_MS)
        if len(part) > 1:
            speeds.append((part[-1][1] - part[0][1]) / ((part[-1][0] - part[0][0]) / _HOUR_MS))
        rest = [point for point in rest if point[0] <= part[0][0]]
    return speeds


def _without_heat(readings: list[Point], limit_c: float, unheated: Unheated | None, widest: float) -> _Interval | None:
    """By Newton's law, down; None where it does not cool by itself, or too little is known of the room.

    The limit is compared with readings of the same probe, so its own error counts towards the room alone.
    """
    newest = since(readings, _COOLING_MS)
    if unheated is None or limit_c >= newest[-1][1]:
        return None
    room, constant, u_k = unheated
    if objection_to_cooling(newest, u_k, room, constant):
        return None
    towards = RoomAir(room.temperature_c, math.hypot(room.u_k, u_k), room.measured)
    found = time_to_limit(Estimate(newest_c(newest), FINEST_K), Estimate(limit_c, 0.0), towards, constant)
    if found.outcome is Outcome.NEVER:
        # A straight line would say that it gets there.
        return _Interval(math.inf, math.inf, "")
    if found.early_h is None or found.late_h is None or found.late_h > widest * found.early_h:
        return None
    return _Interval(found.early_h, found.late_h, "without heat")


def _straight(line: Line, limit_c: float, widest: float) -> _Interval | None:
    """By the line, if it is sure enough."""
    left_k, speed, reach = abs(limit_c - line.newest_c), abs(line.slope_k_h), COVERAGE_FACTOR * line.u_k_h
    if speed <= reach:
        return None
    early_h, late_h = left_k / (speed + reach), left_k / (speed - reach)
    return None if late_h > widest * early_h else _Interval(early_h, late_h, "at this trend")


def _span_text(ahead: _Interval) -> str:
    """`25 to 40 min`, `50 min to 1 h 20 min`."""
    early, late = _rounded(ahead.early_h, up=False), _rounded(ahead.late_h, up=True)
    if early == late:
        return early
    unit = " min"
    both_short = early.endswith(unit) and late.endswith(unit) and "h" not in early + late
    return f"{early.removesuffix(unit) if both_short else early} to {late}"


def _rounded(hours: float, *, up: bool) -> str:
    """To whole minutes, from half an hour on to five of them, away from the middle."""
    step_ms = 5 * _MINUTE_MS if hours * _HOUR_MS >= _ROUNDED_FROM_MS else _MINUTE_MS
    steps = int(hours * _HOUR_MS // step_ms) + (1 if up else 0)
    return duration_text(max(steps * step_ms, _MINUTE_MS))
