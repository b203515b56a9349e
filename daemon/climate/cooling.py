"""How an incubator without heat goes to the temperature of its room, and when it passes a limit on the way.

Newton's law of cooling for one lumped mass in a constant room (Incropera and DeWitt, Fundamentals of Heat and Mass
Transfer, chapter 5, from memory; printed equations not compared):

    T(t) = Ta + (T0 - Ta) exp(-t/tau)          t(Th) = tau ln[(T0 - Ta)/(Th - Ta)]

With a room that is warmer than the incubator the same formula warms. It holds for the slow part of a cabinet, after the
air has come to terms with what stands in it; a door that is open, a heater that still runs a little, or a fan makes
another curve.

Bounds are those of the law of propagation of uncertainty (JCGM 100:2008, the "GUM", 5.1.2, equation 10), carried out
where it is not a straight line: the first-order slopes say in which direction of the four inputs (T0, Th, Ta, tau) the
time changes most, and the bound is the time itself two standard uncertainties away in that direction. So a bound is
never before the time that all four inputs at their ends would give, and it leans late as the true distribution does.
"""

import math
from dataclasses import dataclass
from enum import StrEnum

from daemon.climate.uncertainty import Estimate

COVERAGE_FACTOR = 2.0
"""Bounds lie this many standard uncertainties away: about 95 % (JCGM 100:2008, 6.3.3)."""
TIE_K = 1e-9
"""A limit this near to the room is at the room: rounding would decide whether it is ever reached."""
_ROUNDS = 40
"""Of looking for the direction; it stands still after a few, except close to where the answer is "never"."""
_Inputs = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class TimeConstant:
    """How slowly an incubator follows its room: hours, with the standard uncertainty of a single cooling (k = 1).

    `curves` is the number of coolings it was learned from.
    """

    hours: float
    u_hours: float
    curves: int


@dataclass(frozen=True, slots=True)
class RoomAir:
    """The air around an incubator: degree Celsius, kelvin (k = 1), and whether a probe measured it."""

    temperature_c: float
    u_k: float
    measured: bool


class Outcome(StrEnum):
    """What a forecast says."""

    REACHED = "reached"
    """the limit lies on the way"""
    MAYBE = "maybe"
    """only if the room is further off than it seems; there is an early bound, and no likely time"""
    NEVER = "never"
    """the limit lies beyond the room, even with every uncertainty"""
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Forecast:
    """When a limit is reached, hours from the start: `early_h` to `late_h` at about 95 %, `likely_h` between them.

    A late bound of None: it may never be reached. All three None: never, or unknown, as `outcome` says; the reason says
    why.
    """

    early_h: float | None
    likely_h: float | None
    late_h: float | None
    reason: str
    outcome: Outcome


def unknown(reason: str) -> Forecast:
    """Give the forecast of somebody who cannot know, with the reason."""
    return Forecast(None, None, None, reason, Outcome.UNKNOWN)


def temperature_after(start_c: float, room_c: float, time_constant_h: float, hours: float) -> float:
    """Temperature after so many hours without heat, degree Celsius: Newton's law, as in the head of this module.

    Raises ValueError for a time constant that is not above 0, for negative hours, and for what is not a finite number.
    """
    _require_finite(start_c, room_c, hours)
    _require_time_constant(time_constant_h)
    if hours < 0:
        raise ValueError(f"{hours} h is in the past; cooling is followed forward only.")
    return room_c + (start_c - room_c) * math.exp(-hours / time_constant_h)


def time_to_limit(start: Estimate, limit: Estimate, room: RoomAir, constant: TimeConstant) -> Forecast:
    """When an incubator that is left to its room reaches a temperature.

    Parameters
    ----------
    start, limit
        Temperature now and the one asked for, degree Celsius, with their standard uncertainties in kelvin.
    room, constant
        The room and the time constant of the incubator.

    Returns
    -------
    Forecast
        Hours from now. A limit that the start has passed already, seen towards the room, is never reached by going on.

    Raises
    ------
    ValueError
        For a time constant not above 0, a negative uncertainty, or a value that is not a finite number.

    Notes
    -----
    Formula and bounds in the head of this module. The late bound is None where the room, within its uncertainty, may
    lie at the limit or on this side of it.
    """
    centre = (start.value, limit.value, room.temperature_c, constant.hours)
    spread = (start.standard_uncertainty, limit.standard_uncertainty, room.u_k, constant.u_hours)
    _require_finite(*centre, *spread)
    _require_time_constant(constant.hours)
    if min(spread) < 0:
        raise ValueError("A standard uncertainty below 0 is not one; give a number from 0 up.")
    if limit.value == start.value:
        return Forecast(0.0, 0.0, 0.0, "It is there already.", Outcome.REACHED)
    down = limit.value < start.value
    ahead_k = (limit.value - room.temperature_c) * (1 if down else -1)
    reach_k = COVERAGE_FACTOR * math.hypot(limit.standard_uncertainty, room.u_k)
    if ahead_k <= TIE_K - reach_k:
        return Forecast(None, None, None, _never(room, limit, down), Outcome.NEVER)
    if ahead_k <= TIE_K:
        begin = _room_and_limit_apart(centre, spread, down)
        return Forecast(_bound(begin, centre, spread, down, later=False), None, None, _maybe(room), Outcome.MAYBE)
    likely_h = _hours(centre, down)
    early_h = _bound(centre, centre, spread, down, later=False)
    if ahead_k <= reach_k:
        return Forecast(early_h, likely_h, None, _maybe(room), Outcome.REACHED)
    late_h = _bound(centre, centre, spread, down, later=True)
    return Forecast(early_h, likely_h, late_h, _basis(room, constant), Outcome.REACHED)


def _hours(inputs: _Inputs, down: bool) -> float:
    """The time for one set of inputs; infinite where the limit is at or beyond the room, 0 where it is passed."""
    start_c, limit_c, room_c, time_constant_h = inputs
    if not down:
        start_c, limit_c, room_c = -start_c, -limit_c, -room_c
    if limit_c >= start_c:
        return 0.0
    if room_c >= limit_c:
        return math.inf
    return max(time_constant_h, 0.0) * math.log((start_c - room_c) / (limit_c - room_c))


def _slopes(inputs: _Inputs) -> _Inputs:
    """Change of the time with each input: dt/dT0, dt/dTh, dt/dTa, dt/dtau."""
    start_c, limit_c, room_c, time_constant_h = inputs
    above_k, left_k = start_c - room_c, limit_c - room_c
    by_room = time_constant_h * (1 / left_k - 1 / above_k)
    return time_constant_h / above_k, -time_constant_h / left_k, by_room, math.log(above_k / left_k)


def _bound(begin: _Inputs, centre: _Inputs, spread: _Inputs, down: bool, *, later: bool) -> float:
    """The earliest or latest time within two standard uncertainties of all inputs together.

    Each round takes the slopes at the point that the last round gave, the first one at `begin`, which has an answer.
    """
    sign = COVERAGE_FACTOR if later else -COVERAGE_FACTOR
    choose = max if later else min
    point, best = begin, _hours(begin, down)
    for _ in range(_ROUNDS):
        leaning = [slope * u for slope, u in zip(_slopes(point), spread, strict=True)]
        length = math.hypot(*leaning)
        if length == 0:
            break
        moved = [at + sign * u * lean / length for at, u, lean in zip(centre, spread, leaning, strict=True)]
        point = (moved[0], moved[1], moved[2], max(moved[3], 0.0))
        hours = _hours(point, down)
        best = choose(best, hours)
        if not 0 < hours < math.inf:
            break
    return best


def _room_and_limit_apart(centre: _Inputs, spread: _Inputs, down: bool) -> _Inputs:
    """The point within the uncertainties at which the room lies furthest beyond the limit."""
    start_c, limit_c, room_c, time_constant_h = centre
    _, limit_u_k, room_u_k, _ = spread
    share = COVERAGE_FACTOR / math.hypot(limit_u_k, room_u_k) * (1 if down else -1)
    return start_c, limit_c + share * limit_u_k**2, room_c - share * room_u_k**2, time_constant_h


def _basis(room: RoomAir, constant: TimeConstant) -> str:
    how = "measured" if room.measured else "stated"
    times = "coolings" if constant.curves != 1 else "cooling"
    return (
        f"Without heat, with the room {how} at {room.temperature_c:.1f} °C and a time constant of "
        f"{constant.hours:.1f} h (±{COVERAGE_FACTOR * constant.u_hours:.1f} h) from {constant.curves} {times}."
    )


def _maybe(room: RoomAir) -> str:
    how = "measured" if room.measured else "stated"
    return (
        f"The room, {how} at {room.temperature_c:.1f} °C (±{COVERAGE_FACTOR * room.u_k:.1f} K), may hold it on this "
        "side of the limit for good."
    )


def _never(room: RoomAir, limit: Estimate, down: bool) -> str:
    side = "below" if down else "above"
    return (
        f"Never by the room alone: a room at {room.temperature_c:.1f} °C does not take it {side} {limit.value:.1f} °C."
    )


def _require_time_constant(hours: float) -> None:
    if not hours > 0:
        raise ValueError(f"A time constant of {hours} h is not one; it is above 0.")


def _require_finite(*values: float) -> None:
    if not all(map(math.isfinite, values)):
        raise ValueError(f"{values} has a value that is not a finite number.")
