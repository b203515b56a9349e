"""Finds in the readings of one channel where an incubator cooled by itself, and what that tells of its time constant.

A fall is looked for from a peak to the next trough: within it no reading rises above the lowest so far by more than
`RISE_K`. Its ends are not part of the curve: at the beginning the air alone cools, in minutes, and that small time
constant would hide the slow one; at the end the heat comes back. What is left counts only where it is Newton's law with
this room: where the curve, fitted with the room free, goes to where the room is. A heater that still runs, or a door
that was opened half-way, makes a curve that goes somewhere else.

Figures without a source here are this project's choice.
"""

import math
from collections import deque
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from statistics import median
from typing import TYPE_CHECKING, NamedTuple, Self

from daemon.climate.cooling import COVERAGE_FACTOR, RoomAir, TimeConstant
from daemon.climate.cooling_fit import CoolingFit, NoFitError, fit_free_room, fit_known_room, student_quantile

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

RISE_K = 0.3
"""A rise by more than this ends a fall: more than the noise and the steps of the usual probes."""
LEAST_DROP_K = 1.0
LEAST_MS = 30 * 60_000
LONGEST_GAP_MS = 30 * 60_000
"""Nobody knows what happened in a longer gap, so a fall ends there."""
PLATEAU_MS = 4 * 3_600_000
"""How far back the temperature before a fall is looked for."""
FEWEST_READINGS = 8
AIR_PARTS_MS = tuple(minutes * 60_000 for minutes in (10, 20, 30, 45, 60, 90, 120))
"""How long the fast part of the air may take; the shortest after which the rest is Newton's law counts."""
FINEST_K = 0.02
"""Scatter below this is not believed: steps and slow errors of a probe hide in it."""
FARTHEST = 3.0
"""Root of the F from which a curve with another room fits clearly better."""
LARGEST_SHARE = 0.25
"""Uncertainty over time constant, the room's part left out; a curve that leaves more open is too short."""
WORST_SHARE = 0.5
"""The same with everything in it; of a time constant known worse than that the lower bound is 0."""
FEWEST_CURVES = 3
NEWEST_CURVES = 12
"""An incubator is filled and emptied over a season, so old coolings are forgotten."""
TOO_SHORT = "it is too short to say anything"
AT_ONCE = (0.0, 1 / 6, 1 / 3)
"""Of a swing of the room, the share that the air inside takes on at once: between none and a third."""
LUMP_SHARE = 0.03
"""Uncertainty, as a share of the time constant, for taking air, walls, boxes and eggs as one lump."""
_SWING_ROUNDS = 3
_STEP_K = 0.1
_ONE_SIGMA = 0.8413
_MS_PER_HOUR = 3_600_000


class Fall(NamedTuple):
    """Positions in the series: the last reading of the plateau before the fall, and the trough."""

    start: int
    trough: int


@dataclass(frozen=True, slots=True)
class CoolingCurve:
    """One cooling that is Newton's law: when, its time constant with the uncertainty of fit and room, and the room."""

    started_at_ms: int
    ended_at_ms: int
    time_constant_h: float
    u_hours: float
    room_c: float
    room_measured: bool


def falls(times_ms: Sequence[int], temperatures_c: Sequence[float]) -> list[Fall]:
    """Find every fall, in order. Times are UTC milliseconds and rise."""
    found: list[Fall] = []
    peak = trough = 0
    for now, value in enumerate(temperatures_c):
        gap = now > 0 and times_ms[now] - times_ms[now - 1] > LONGEST_GAP_MS
        if gap or value > temperatures_c[trough] + RISE_K:
            found += _fall(times_ms, temperatures_c, peak, trough)
            peak = trough = now
        elif value >= temperatures_c[peak]:
            peak = trough = now
        elif value < temperatures_c[trough]:
            trough = now
    return [*found, *_fall(times_ms, temperatures_c, peak, trough)] if temperatures_c else []


def _fall(times_ms: Sequence[int], temperatures_c: Sequence[float], peak: int, trough: int) -> list[Fall]:
    """Give the fall between a peak and the next trough, if it is one.

    The highest reading of a plateau may be hours before its end, so the plateau is that of the last hours only: the
    fall has begun where a reading is clearly below the highest of those.
    """
    highest: deque[int] = deque()
    for at in range(peak, trough + 1):
        while highest and temperatures_c[highest[-1]] <= temperatures_c[at]:
            highest.pop()
        highest.append(at)
        while times_ms[highest[0]] < times_ms[at] - PLATEAU_MS:
            highest.popleft()
        plateau_c = temperatures_c[highest[0]]
        if plateau_c - temperatures_c[at] >= LEAST_DROP_K:
            return [Fall(max(each for each in highest if temperatures_c[each] >= plateau_c - RISE_K), trough)]
    return []


def curve_of(
    times_ms: Sequence[int], temperatures_c: Sequence[float], room: RoomAir, swing_k: Sequence[float] = ()
) -> CoolingCurve:
    """Judge one fall, the readings from its start to its trough, with the room as it was meanwhile.

    `swing_k` is how far the room was from `room` at each reading, where a probe measured it. Raises NoFitError, with
    the reason, where the fall is no cooling towards the room or too short to say anything.
    """
    last = _before_the_heat(temperatures_c)
    reason, before = TOO_SHORT, math.nan
    for skipped_ms in AIR_PARTS_MS:
        start = next((at for at in range(last) if times_ms[at] - times_ms[0] >= skipped_ms), last)
        if not _is_long_enough(times_ms, temperatures_c, start, last):
            break
        fitted = _Fitted.of(times_ms, temperatures_c, slice(start, last + 1), room, swing_k)
        reason = fitted.objection(room)
        hours = fitted.fit.time_constant_h
        # The next start tells a little else; how much shows what is left of the fast part.
        u_hours = math.hypot(fitted.u_of_curve_h, hours - before)
        if not reason and u_hours <= LARGEST_SHARE * hours:
            whole_h = math.hypot(u_hours, fitted.u_of_room_h(room), LUMP_SHARE * hours)
            return CoolingCurve(times_ms[start], times_ms[last], hours, whole_h, room.temperature_c, room.measured)
        before = math.nan if reason else hours
    raise NoFitError(reason or TOO_SHORT)


def _before_the_heat(temperatures_c: Sequence[float]) -> int:
    """Give the last position that counts: further down the heat may have come on already."""
    trough_c = temperatures_c[-1]
    end_c = trough_c + max(RISE_K, 0.1 * (temperatures_c[0] - trough_c))
    return next(at for at, value in enumerate(temperatures_c) if value <= end_c)


def _is_long_enough(times_ms: Sequence[int], temperatures_c: Sequence[float], start: int, last: int) -> bool:
    return (
        last - start + 1 >= FEWEST_READINGS
        and times_ms[last] - times_ms[start] >= LEAST_MS
        and temperatures_c[start] - temperatures_c[last] >= LEAST_DROP_K
    )


@dataclass(frozen=True, slots=True)
class _Fitted:
    """A part of a fall as a curve: hours from its start, temperatures as they were in a room without a swing."""

    hours: "Array"
    temperatures: "Array"
    fit: CoolingFit
    by_swing_h: float
    swing_u_k: float

    @classmethod
    def of(
        cls,
        times_ms: Sequence[int],
        temperatures_c: Sequence[float],
        part: slice,
        room: RoomAir,
        swing_k: Sequence[float],
    ) -> Self:
        import numpy as np

        hours = (np.array(times_ms[part], dtype=np.float64) - times_ms[part.start]) / _MS_PER_HOUR
        measured = np.array(temperatures_c[part], dtype=np.float64)
        fit = fit_known_room(hours, measured, room.temperature_c)
        if not swing_k:
            return cls(hours, measured, fit, 0.0, 0.0)
        swing = np.array(swing_k[part], dtype=np.float64)
        found = []
        for share in AT_ONCE:
            ended = fit
            for _ in range(_SWING_ROUNDS):
                temperatures = measured - _response_k(hours, swing, ended.time_constant_h, share)
                ended = fit_known_room(hours, temperatures, room.temperature_c)
            found.append(ended.time_constant_h)
            if share == AT_ONCE[1]:
                middle = cls(hours, temperatures, ended, 0.0, float(np.std(swing)))
        return replace(middle, by_swing_h=(found[-1] - found[0]) / math.sqrt(12))

    def objection(self, room: RoomAir) -> str:
        """Say why this is not Newton's law with this room; empty where it may be.

        The curve may choose its room within the uncertainty of the room. If one outside would fit it clearly better, it
        is another curve (an F test of one parameter).
        """
        if self.fit.amplitude_k <= 0:
            return "it is colder than the room"
        free = fit_free_room(self.hours, self.temperatures, room.temperature_c)
        reach_k = COVERAGE_FACTOR * math.hypot(room.u_k, self.swing_u_k)
        nearest_c = min(max(free.room_c, room.temperature_c - reach_k), room.temperature_c + reach_k)
        best = fit_known_room(self.hours, self.temperatures, nearest_c)
        gain = best.residual_sd_k**2 * best.freedom - free.residual_sd_k**2 * free.freedom
        if gain > FARTHEST**2 * max(free.residual_sd_k, FINEST_K) ** 2:
            away = "warmer" if free.room_c > room.temperature_c else "colder"
            return f"it goes to something {away} than the room at {room.temperature_c:.1f} °C"
        return ""

    @property
    def u_of_curve_h(self) -> float:
        """Standard uncertainty of the time constant from scatter and swing, hours."""
        return math.hypot(self.fit.u_hours, self.by_swing_h)

    def u_of_room_h(self, room: RoomAir) -> float:
        """And from the uncertainty of the room: change per kelvin, towards the side on which there is always a fit."""
        moved = fit_known_room(self.hours, self.temperatures, room.temperature_c - _STEP_K).time_constant_h
        return abs(moved - self.fit.time_constant_h) / _STEP_K * room.u_k


def _response_k(hours: "Array", swing: "Array", time_constant_h: float, at_once: float) -> "Array":
    """What a swing of the room alone does to the air in the incubator.

    What stands in it follows the room by T' = (swing - T)/tau, from 0, exact between readings; the air lies between
    both.
    """
    import numpy as np

    inside: Array = np.zeros(len(hours))
    shares = -np.expm1(-np.diff(hours) / time_constant_h)
    for at, share in enumerate(shares.tolist()):
        inside[at + 1] = inside[at] + share * (swing[at] - inside[at])
    at_once_k: Array = at_once * (swing - swing[0] - inside)
    return inside + at_once_k


def combined(curves: Iterable[CoolingCurve]) -> TimeConstant | None:
    """One time constant from the newest coolings; None for fewer than three, and where they leave it open.

    The middle one counts, so that a single cooling with an open door moves it little. Its uncertainty is that of the
    next single cooling: the spread of the coolings around the middle, wider for few of them (Student's t), and on top
    what each one leaves open, because a room that is stated wrongly is wrong in all of them alike. Curves of several
    probes over the same time are one cooling.
    """
    events = _events(curves)[-NEWEST_CURVES:]
    count = len(events)
    if count < FEWEST_CURVES:
        return None
    hours = median(each for each, _ in events)
    spread_h = math.sqrt(sum((each - hours) ** 2 for each, _ in events) / (count - 1))
    of_next_h = student_quantile(_ONE_SIGMA, count - 1) * spread_h * math.sqrt(1 + 1 / count)
    u_hours = math.hypot(of_next_h, median(u for _, u in events))
    return TimeConstant(hours, u_hours, count) if u_hours <= WORST_SHARE * hours else None


def _events(curves: Iterable[CoolingCurve]) -> list[tuple[float, float]]:
    """Time constant and uncertainty of each cooling, oldest first; those that overlap in time are one."""
    groups: list[list[CoolingCurve]] = []
    for each in sorted(curves, key=lambda one: one.started_at_ms):
        if groups and each.started_at_ms <= max(one.ended_at_ms for one in groups[-1]):
            groups[-1].append(each)
        else:
            groups.append([each])
    return [
        (sum(one.time_constant_h for one in group) / len(group), max(one.u_hours for one in group)) for group in groups
    ]
