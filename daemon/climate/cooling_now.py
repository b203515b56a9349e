"""Whether an incubator cools at this moment as its time constant says it does without heat.

Only then is a forecast by that time constant worth anything: with an open door it comes too late, with a heater that
still runs too early.
"""

import math
from collections.abc import Sequence

from daemon.climate.cooling import COVERAGE_FACTOR, RoomAir, TimeConstant
from daemon.climate.uncertainty import Estimate

FEWEST_READINGS = 4
LEAST_SPAN_MS = 10 * 60_000
FINEST_K = 0.02
"""Scatter below this is not believed: steps and slow errors of a probe hide in it."""
LEEWAY = 0.25
"""The rate may differ from Newton's law by this share: a cabinet is not one lump. Project choice, no source."""
_MS_PER_HOUR = 3_600_000


def rate_k_h(readings: Sequence[tuple[int, float]]) -> Estimate | None:
    """Slope of the straight line through (measured_at_ms, degree Celsius) readings, in kelvin per hour.

    None for too few readings or too short a time. Standard uncertainty from the scatter (any textbook of regression).
    """
    if len(readings) < FEWEST_READINGS or readings[-1][0] - readings[0][0] < LEAST_SPAN_MS:
        return None
    middle_ms = sum(at_ms for at_ms, _ in readings) / len(readings)
    middle_c = sum(value for _, value in readings) / len(readings)
    hours = [(at_ms - middle_ms) / _MS_PER_HOUR for at_ms, _ in readings]
    spread = sum(each * each for each in hours)
    slope = sum(each * (value - middle_c) for each, (_, value) in zip(hours, readings, strict=True)) / spread
    squares = sum((value - middle_c - slope * each) ** 2 for each, (_, value) in zip(hours, readings, strict=True))
    scatter = max(math.sqrt(squares / (len(readings) - 2)), FINEST_K)
    return Estimate(slope, scatter / math.sqrt(spread))


def objection_to_cooling(
    readings: Sequence[tuple[int, float]], u_k: float, room: RoomAir, constant: TimeConstant
) -> str:
    """Say why these newest readings are not a cooling without heat; empty where they are one.

    `u_k` is the standard uncertainty of the probe. Newton's law in its differential form, T' = -(T - Ta)/tau, at the
    middle of the readings.
    """
    rate = rate_k_h(readings)
    if rate is None:
        return "too few readings of the last minutes"
    middle_c = sum(value for _, value in readings) / len(readings)
    above_k = middle_c - room.temperature_c
    expected = -above_k / constant.hours
    by_difference = math.hypot(u_k, room.u_k) / constant.hours
    by_constant = above_k / constant.hours**2 * constant.u_hours
    reach = COVERAGE_FACTOR * math.hypot(rate.standard_uncertainty, by_difference, by_constant)
    if rate.value + COVERAGE_FACTOR * rate.standard_uncertainty >= 0:
        return "it does not cool steadily"
    apart = rate.value - expected
    if abs(apart) <= reach + LEEWAY * abs(expected):
        return ""
    return "it cools faster than it does by itself" if apart < 0 else "it cools slower than it does without heat"
