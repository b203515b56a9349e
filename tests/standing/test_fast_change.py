"""Falling and rising fast: told within minutes where it matters, and never for noise, a thermostat or a way back."""

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from config.words import AlarmKind
from daemon.alarms.conditions import Change
from daemon.standing.fast_change import KINDS, fast_changes
from daemon.standing.found import Found
from daemon.standing.trend import Course, Point, Watched
from tests.standing.courses import AIR, HOUR_MS, LIMITS, MINUTE_MS, course, looks, noisy, series, watched

FALLING, RISING = AlarmKind.TEMPERATURE_FALLING, AlarmKind.TEMPERATURE_RISING


def rule_of(of: Watched) -> Callable[[Course, Callable[[AlarmKind], bool]], Iterator[Found]]:
    return lambda seen, is_on: fast_changes(of, seen, [kind for kind in KINDS if is_on(kind)])


def changes(
    readings: Sequence[Point], of: Watched | None = None, until_ms: int = 0
) -> list[tuple[Change, AlarmKind, float]]:
    """What is raised and cleared, with the hour."""
    found = looks(rule_of(of or watched()), KINDS, readings, until_ms)
    return [(one.change, one.kind, one.at_ms / HOUR_MS) for one in found]


def opened(hour: float, minutes: float, fall_k: float = 5.0) -> Callable[[float], float]:
    """A cabinet at 29 °C whose door opens; its air follows either way with a time constant of 5 min."""

    def of_hour(at: float) -> float:
        shut = max(at - hour - minutes / 60, 0) * 12
        fallen = fall_k * (1 - math.exp(-12 * min(max(at - hour, 0), minutes / 60)))
        return 29 - fallen * math.exp(-shut)

    return of_hour


def test_an_open_door_is_told_within_minutes_and_over_when_it_has_settled() -> None:
    raised, cleared = changes(noisy(series(6, opened(4, 60)), 0.05, 1))
    assert (raised[0], raised[1]) == (Change.RAISED, FALLING)
    assert 3 / 60 < raised[2] - 4 < 8 / 60
    assert (cleared[0], cleared[1]) == (Change.CLEARED, FALLING)
    assert cleared[2] < 5


def test_the_reason_says_from_what_to_what_and_in_which_time() -> None:
    seen = course(series(4, lambda hour: 28 - 10.8 * max(hour - 3.5, 0)), round(3.75 * HOUR_MS))
    [found] = fast_changes(watched(), seen, ())
    assert (found.subject, found.channel, found.place) == (AIR.channel, AIR, "north/upper")
    # 10.8 K/h for a quarter of an hour: 25.3 °C, and ten minutes before 1.8 K more.
    assert found.reason == "27.1 to 25.3 °C in 10 min"
    assert found.value == pytest.approx(25.3)
    assert found.limit == 25.0
    [found] = fast_changes(watched(fahrenheit=True), seen, ())
    assert found.reason == "80.8 to 77.5 °F in 10 min"


def test_a_heater_that_is_stuck_on_is_told_before_the_limit() -> None:
    readings = series(4.3, lambda hour: 29 + 12 * max(hour - 4, 0))
    [(change, kind, hour)] = changes(readings)
    assert (change, kind) == (Change.RAISED, RISING)
    assert 29 + 12 * (hour - 4) < 31


def test_a_door_that_is_open_for_three_minutes_is_not_told() -> None:
    assert changes(series(6, opened(4, 3))) == []


@pytest.mark.parametrize("seed", range(5))
def test_noise_of_fifteen_hundredths_for_six_hours_gives_none(seed: int) -> None:
    assert changes(noisy(series(8, lambda _: 29.0), 0.15, seed)) == []


@pytest.mark.parametrize("minutes", [4, 10, 20, 40])
def test_a_thermostat_that_swings_gives_none(minutes: float) -> None:
    assert changes(series(8, lambda hour: 25.4 + 0.3 * math.sin(2 * math.pi * hour * 60 / minutes))) == []


@settings(max_examples=200, deadline=None)
@given(st.lists(st.floats(-0.45, 0.45), min_size=31, max_size=31), st.sampled_from([25.2, 28.0, 30.8]))
def test_whatever_stays_within_nine_tenths_of_a_kelvin_gives_none(off: list[float], middle_c: float) -> None:
    readings = [(number * MINUTE_MS, middle_c + each) for number, each in enumerate(off)]
    assert list(fast_changes(watched(), Course(readings, [middle_c] * 20, stale=False), ())) == []


@pytest.mark.parametrize("back_k_h", [30, 12])
def test_the_way_back_into_range_is_welcome(back_k_h: float) -> None:
    """A day at 29 °C, six hours at 21 °C, and back with 30 or 12 K/h, which is 5 or 2 K in ten minutes."""

    def of_hour(hour: float) -> float:
        return 29.0 if hour < 18 else min(21 + back_k_h * max(hour - 24, 0), 29.0)

    assert (Change.RAISED, RISING) not in {each[:2] for each in changes(series(26, of_hour))}


@pytest.mark.parametrize(("from_c", "told"), [(23.5, False), (25.5, True)])
def test_where_nothing_is_known_of_before_the_place_where_it_began_decides(from_c: float, told: bool) -> None:
    """24 K/h for ten minutes is 4 K; half an hour more would lead past 31 °C from either."""
    rise = series(1 / 6, lambda hour: from_c + 24 * hour)
    found = list(fast_changes(watched(), Course(rise, [], stale=False), ()))
    assert [one.kind for one in found] == ([RISING] if told else [])


def test_warming_up_after_a_round_is_no_rise() -> None:
    found = changes(series(6, opened(4, 15)))
    assert RISING not in {kind for _, kind, _ in found}


def test_a_fall_that_does_not_reach_the_limit_in_half_an_hour_gives_none() -> None:
    """10 K/h from 30.9 °C leads to 25.9 °C in half an hour."""
    fall = series(4.2, lambda hour: 30.9 - 10 * max(hour - 4, 0))
    assert changes(fall, watched(replace(LIMITS, low_c=21.0))) == []
    assert changes(fall) != []


def test_without_limits_nothing_is_told() -> None:
    assert changes(series(5, opened(4, 60)), watched(replace(LIMITS, low_c=None, lethal_low_c=None))) == []


def test_three_readings_say_nothing_and_a_slow_probe_has_its_four() -> None:
    fall = series(5, lambda hour: 29 - 10 * max(hour - 4, 0), every_s=300)
    few = [point for point in fall if point[0] <= 10 * MINUTE_MS]
    assert list(fast_changes(watched(interval_s=300), Course(few, [], stale=False), ())) == []
    heard = course(fall, round(4.4 * HOUR_MS), stale_after_ms=15 * MINUTE_MS)
    [told] = fast_changes(watched(interval_s=300), heard, ())
    assert told.kind is FALLING


def test_silence_keeps_an_alarm_on_and_begins_none() -> None:
    fall = [point for point in series(5, lambda hour: 29 - 12 * max(hour - 4, 0)) if point[0] <= 4.25 * HOUR_MS]
    assert [one[0] for one in changes(fall, until_ms=8 * HOUR_MS)] == [Change.RAISED]
    before = [point for point in fall if point[0] <= 4.02 * HOUR_MS]
    assert changes(before, until_ms=8 * HOUR_MS) == []


def test_once_on_half_the_speed_holds_it() -> None:
    slower = course(series(4.4, lambda hour: 28 - 6 * max(hour - 4, 0)), round(4.4 * HOUR_MS))
    assert list(fast_changes(watched(), slower, ())) == []
    [held] = fast_changes(watched(), slower, [FALLING])
    assert held.known
