"""Whether newest readings are a cooling without heat; numpy's line as a second method."""

import math

import numpy as np
import pytest

from daemon.climate.cooling import RoomAir, TimeConstant
from daemon.climate.cooling_now import objection_to_cooling, rate_k_h

MINUTE_MS = 60_000
ROOM = RoomAir(20.0, 0.3, measured=True)
CONSTANT = TimeConstant(6.0, 0.5, 6)


def cooling(hours: float, room_c: float = 20.0, from_c: float = 26.0, noise_k: float = 0.03) -> list[tuple[int, float]]:
    chance = np.random.default_rng(3)
    return [
        (at * MINUTE_MS, room_c + (from_c - room_c) * math.exp(-at / 60 / hours) + float(chance.normal(0, noise_k)))
        for at in range(21)
    ]


def test_the_rate_is_that_of_a_straight_line_with_its_standard_error() -> None:
    readings = cooling(6.0, noise_k=0.1)
    found = rate_k_h(readings)
    hours = np.array([at_ms for at_ms, _ in readings]) / 3_600_000
    (slope, _), covariance = np.polyfit(hours, [value for _, value in readings], 1, cov=True)
    assert found is not None
    assert found.value == pytest.approx(slope)
    assert found.standard_uncertainty == pytest.approx(math.sqrt(covariance[0, 0]))


def test_few_or_short_readings_have_no_rate() -> None:
    assert rate_k_h(cooling(6.0)[:3]) is None
    assert rate_k_h(cooling(6.0)[:9]) is None


def test_a_cooling_as_its_time_constant_says_has_no_objection() -> None:
    assert objection_to_cooling(cooling(6.0), 0.3, ROOM, CONSTANT) == ""


@pytest.mark.parametrize(
    ("readings", "reason"),
    [
        (cooling(2.0), "faster than it does by itself"),
        (cooling(6.0, room_c=24.5), "slower than it does without heat"),
        (cooling(6.0, from_c=20.0), "does not cool steadily"),
        (cooling(6.0, room_c=30.0), "does not cool steadily"),
        (cooling(6.0)[:3], "too few readings"),
    ],
)
def test_what_is_no_cooling_without_heat_is_said(readings: list[tuple[int, float]], reason: str) -> None:
    assert reason in objection_to_cooling(readings, 0.3, ROOM, CONSTANT)


def test_a_rate_that_the_uncertainties_allow_is_no_objection() -> None:
    unsure = RoomAir(20.0, 3.0, measured=False)
    assert objection_to_cooling(cooling(4.0), 0.3, unsure, CONSTANT) == ""
    assert objection_to_cooling(cooling(3.0), 0.3, ROOM, CONSTANT) != ""
