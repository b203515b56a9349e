"""The trend of a reading within an hour: a drift is told, a thermostat's swing is not."""

import math
import random
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from config.words import Quantity
from daemon.standing.reading_trend import ReadingTrend, Way, reading_trend

AIR, HUMIDITY = Quantity.AIR_TEMPERATURE, Quantity.RELATIVE_HUMIDITY
MINUTE_MS = 60_000
START_MS = 1_782_900_000_000


def hour(value_at: Callable[[float], float], every_min: float = 3.0, minutes: float = 60.0) -> list[tuple[int, float]]:
    """Readings of an hour; the value is that after so many minutes."""
    count = int(minutes / every_min)
    return [(START_MS + round(n * every_min * MINUTE_MS), value_at(n * every_min)) for n in range(count)]


def trend(value_at: Callable[[float], float], quantity: Quantity = AIR, every_min: float = 3.0) -> ReadingTrend:
    return reading_trend(quantity, hour(value_at, every_min))


@pytest.mark.parametrize(("per_h", "way"), [(1.2, Way.RISING), (-0.8, Way.FALLING)])
def test_a_straight_drift_is_told_with_its_rate(per_h: float, way: Way) -> None:
    # By hand: the slope of a straight line is that of any two of its points.
    found = trend(lambda minutes: 28 + per_h * minutes / 60)
    assert found.way is way
    assert found.per_h == pytest.approx(per_h)


def test_a_constant_reading_is_steady() -> None:
    found = trend(lambda _: 28.4)
    assert (found.way, found.per_h) == (Way.STEADY, 0)


@pytest.mark.parametrize("period_min", [4, 7, 13, 20, 31, 45])
@pytest.mark.parametrize("swing_k", [0.1, 0.3, 0.8])
@pytest.mark.parametrize("phase", [0.0, 0.25, 0.5, 0.75])
def test_the_swing_of_a_thermostat_is_no_trend(period_min: float, swing_k: float, phase: float) -> None:
    found = trend(lambda minutes: 28 + swing_k * math.sin(2 * math.pi * (minutes / period_min + phase)))
    assert found.way in (Way.STEADY, Way.UNTOLD)


@pytest.mark.parametrize("period_min", [6, 14, 30])
def test_a_saw_tooth_of_a_heater_is_no_trend(period_min: float) -> None:
    found = trend(lambda minutes: 28 + 0.6 * (minutes % period_min) / period_min)
    assert found.way in (Way.STEADY, Way.UNTOLD)


def test_a_drift_under_noise_is_told_and_noise_alone_is_not() -> None:
    noise = random.Random(20260701)
    grains = [noise.gauss(0, 0.1) for _ in range(60)]
    drifting = trend(lambda minutes: 28 + 1.5 * minutes / 60 + grains[int(minutes)])
    assert drifting.way is Way.RISING
    assert drifting.per_h == pytest.approx(1.5, abs=0.3)
    assert trend(lambda minutes: 28 + grains[int(minutes)]).way in (Way.STEADY, Way.UNTOLD)


def test_large_noise_says_that_nothing_can_be_told() -> None:
    found = trend(lambda minutes: 28 + 2.0 * (-1) ** int(minutes))
    assert found.way is Way.UNTOLD
    assert found.per_h is None
    assert found.reason == "the readings swing more than they move"


@pytest.mark.parametrize(
    "readings",
    [[], hour(lambda _: 28.0, 3, 12), hour(lambda _: 28.0, 1, 39), hour(lambda minutes: 28 + minutes, 12)],
    ids=["none", "twelve minutes", "not quite 40 minutes", "every twelve minutes"],
)
def test_too_few_readings_say_so(readings: list[tuple[int, float]]) -> None:
    found = reading_trend(AIR, readings)
    assert (found.way, found.per_h) == (Way.UNTOLD, None)
    assert found.reason == "too few readings in the last hour"


def test_a_door_that_was_opened_ten_minutes_ago_is_a_fall_already() -> None:
    found = trend(lambda minutes: 28.0 if minutes < 48 else 28.0 - 0.2 * (minutes - 48))
    assert found.way is Way.FALLING
    # 0.2 K a minute are 12 K an hour; a part of the last quarter of an hour was still before it.
    assert found.per_h is not None
    assert -12.1 < found.per_h < -8


def test_one_wild_reading_changes_nothing() -> None:
    calm = [(at, 28.0) for at, _ in hour(lambda _: 0)]
    wild = [*calm[:10], (calm[10][0], 45.0), *calm[11:]]
    assert reading_trend(AIR, wild).way is Way.STEADY


def test_humidity_has_a_scale_of_its_own() -> None:
    assert trend(lambda minutes: 80 + minutes / 60, HUMIDITY).way is Way.STEADY
    assert trend(lambda minutes: 80 + 6 * minutes / 60, HUMIDITY).way is Way.RISING


@given(st.lists(st.floats(-40, 60), min_size=20, max_size=20))
def test_upside_down_it_goes_the_other_way(values: list[float]) -> None:
    other = {Way.RISING: Way.FALLING, Way.FALLING: Way.RISING}
    up, down = (
        reading_trend(AIR, [(START_MS + n * 3 * MINUTE_MS, sign * value) for n, value in enumerate(values)])
        for sign in (1, -1)
    )
    assert down.way is other.get(up.way, up.way)
    assert (up.per_h is None) == (down.per_h is None)
    assert up.per_h is None or down.per_h == pytest.approx(-up.per_h)


@pytest.mark.parametrize("since_min", [9, 12, 15, 21, 27])
def test_a_door_that_was_open_for_one_reading_does_not_hide_that_the_heat_has_failed(since_min: int) -> None:
    # Six minutes before the heat fails one good reading is 5 K low; then it falls by 8 K an hour.
    begins = 60 - since_min

    def value(minutes: float) -> float:
        if minutes == begins - 6:
            return 25.0
        return 30.0 - 8.0 * max(0.0, minutes - begins) / 60

    found = reading_trend(AIR, hour(value, 3.0, 63.0))
    assert found.way is Way.FALLING
    assert found.per_h is not None
    assert found.per_h == pytest.approx(-8.0, abs=3.0)
