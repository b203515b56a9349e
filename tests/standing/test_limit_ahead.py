"""A limit ahead: in time, with an honest interval, and silent for a thermostat, for noise and on the way back."""

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

import pytest

from config.words import AlarmKind
from daemon.alarm_transition import Transition
from daemon.alarms.conditions import Change
from daemon.climate.cooling import RoomAir, TimeConstant
from daemon.standing.found import Found
from daemon.standing.limit_ahead import Unheated, limit_ahead
from daemon.standing.trend import Course, Point, Watched
from tests.standing.courses import AIR, HOUR_MS, LIMITS, MINUTE_MS, course, looks, noisy, series, watched

BOTH = (AlarmKind.LETHAL_AHEAD, AlarmKind.LIMIT_AHEAD)
AHEAD = AlarmKind.LETHAL_AHEAD
COLD_ROOM = Unheated(RoomAir(16.0, 0.2, measured=True), TimeConstant(6.0, 0.2, 5), 0.1)
HALF_AN_HOUR = 30 * MINUTE_MS


def transitions(
    readings: Sequence[Point], unheated: Unheated | None = None, of: Watched | None = None, until_ms: int = 0
) -> list[Transition]:
    def rule(seen: Course, is_on: Callable[[AlarmKind], bool]) -> Iterator[Found]:
        on = next((kind for kind in BOTH if is_on(kind)), None)
        found = limit_ahead(of or watched(), seen, unheated, on=on)
        yield from [] if found is None else [found]

    return looks(rule, frozenset(BOTH), readings, until_ms)


def at_end(readings: Sequence[Point], unheated: Unheated | None = None, of: Watched | None = None) -> Found | None:
    return limit_ahead(of or watched(), course(readings, readings[-1][0]), unheated, on=None)


def warming(rate_k_h: float, until_h: float) -> list[Point]:
    """At 29 °C for four hours, then warmer with a steady rate."""
    return series(until_h, lambda hour: 29 + rate_k_h * max(hour - 4, 0))


def test_a_steady_rise_is_told_an_hour_before_the_lethal_limit() -> None:
    """3 K/h reaches 34 °C after 100 min; told so when 60 to 62 of them are left."""
    [raised] = transitions(noisy(warming(3, 5), 0.05, 3))
    left_min = 100 - (raised.at_ms - 4 * HOUR_MS) / MINUTE_MS
    assert (raised.change, raised.kind, raised.subject) == (Change.RAISED, AHEAD, AIR.channel)
    assert 55 < left_min < 65
    assert raised.limit == 34.0
    assert raised.reason.startswith("34.0 °C in about ")


def test_the_interval_in_the_reason_holds_the_truth() -> None:
    """After 50 min at 6 K/h exactly, 34 °C is reached at once; after 40 min in 10."""
    found = at_end(warming(6, 4 + 40 / 60))
    assert found is not None
    assert found.reason == "34.0 °C in about 9 to 11 min at this trend"
    found = at_end(warming(6, 4 + 40 / 60), of=watched(fahrenheit=True))
    assert found is not None
    assert found.reason == "93.2 °F in about 9 to 11 min at this trend"
    assert len(found.reason) <= 60


def test_without_a_lethal_limit_the_warning_limit_counts() -> None:
    fall = series(5, lambda hour: 29 - 3 * max(hour - 4, 0))
    assert at_end(fall) is None
    found = at_end(fall, of=watched(replace(LIMITS, lethal_low_c=None)))
    assert found is not None
    assert found.limit == 25.0
    assert found.value == pytest.approx(26.0)


def cooled(until_h: float, room_c: float = 16.0, tau_h: float = 6.0) -> list[Point]:
    """At 29 °C for four hours, then without heat by Newton's law."""
    return series(until_h, lambda hour: room_c + (29 - room_c) * math.exp(-max(hour - 4, 0) / tau_h))


def test_a_cooling_without_heat_is_told_by_its_time_constant() -> None:
    """29 to 20 °C in a room of 16 °C takes 6 h times ln(13/4), which is 7.07 h."""
    limits = watched(replace(LIMITS, low_c=28.0))
    [raised] = transitions(cooled(11), COLD_ROOM, limits)
    left_h = 6 * math.log(13 / 4) - (raised.at_ms / HOUR_MS - 4)
    assert raised.limit == 20.0
    assert raised.reason.endswith("without heat")
    assert 0.9 < left_h < 1.3


def test_a_room_that_holds_it_on_this_side_gives_none_where_a_straight_line_would() -> None:
    """From 22.2 °C towards a room of 20.2 °C, tau 0.7 h: at 21.2 °C after half an hour, and never at 20 °C."""
    tail = series(0.5, lambda hour: 20.2 + 2.04 * math.exp(-hour / 0.7))
    room = Unheated(RoomAir(20.2, 0.02, measured=True), TimeConstant(0.7, 0.02, 5), 0.02)
    assert at_end(tail, room) is None
    assert at_end(tail) is not None


@pytest.mark.parametrize(("from_c", "told"), [(24.0, False), (26.0, True)])
def test_where_nothing_is_known_of_before_the_place_where_it_began_decides(from_c: float, told: bool) -> None:
    """10 K/h for half an hour, from below the warning limit of 25 °C or above; 34 °C is less than half an hour away."""
    assert (at_end(series(0.5, lambda hour: from_c + 10 * hour)) is not None) is told


@pytest.mark.parametrize("minutes", [20, 40, 60, 120])
def test_a_thermostat_that_swings_beside_its_limit_gives_none(minutes: float) -> None:
    """Each fall of it is half a kelvin in half its period, towards a limit a tenth below the lowest."""
    limits = watched(replace(LIMITS, lethal_low_c=None, low_c=28.6))
    swing = series(10, lambda hour: 29 + 0.3 * math.sin(2 * math.pi * hour * 60 / minutes))
    assert [one for one in transitions(swing, None, limits) if one.at_ms > 6 * HOUR_MS] == []


@pytest.mark.parametrize("seed", range(5))
def test_noise_of_fifteen_hundredths_beside_the_limit_gives_none_in_six_hours(seed: int) -> None:
    limits = watched(replace(LIMITS, lethal_high_c=29.2, high_c=29.1))
    assert transitions(noisy(series(8, lambda _: 29.0), 0.15, seed), None, limits) == []


def test_a_drop_that_ends_is_no_trend() -> None:
    """A door opens, the air falls by 1 K in five minutes and stays: no straight line leads on from there."""
    dropped = series(8, lambda hour: 29 - (1 - math.exp(-12 * max(hour - 4, 0))))
    assert transitions(dropped, None, watched(replace(LIMITS, lethal_low_c=None))) == []


def test_the_way_back_into_range_is_welcome() -> None:
    """Six hours at 21 °C, then 10 K/h up to 29 °C: by the line 34 °C is less than an hour away from 25 °C on."""
    back = series(30, lambda hour: 29.0 if hour < 18 else min(21 + 10 * max(hour - 24, 0), 29.0))
    assert [one for one in transitions(back) if one.at_ms > 24 * HOUR_MS and one.change is Change.RAISED] == []


def test_silence_keeps_it_on_and_begins_none() -> None:
    rising = warming(3, 5)
    assert [one.change for one in transitions(rising, until_ms=9 * HOUR_MS)] == [Change.RAISED]
    early = [point for point in rising if point[0] <= 4.6 * HOUR_MS]
    assert transitions(early, until_ms=9 * HOUR_MS) == []


def test_reaching_the_limit_does_not_end_it_and_turning_back_does() -> None:
    """3 K/h to 35 °C in two hours, there for an hour, and back with 3 K/h."""
    readings = series(9, lambda hour: 29 + 3 * min(max(hour - 4, 0), 2, max(9 - hour, 0)))
    raised, cleared = transitions(readings)
    assert (raised.change, cleared.change) == (Change.RAISED, Change.CLEARED)
    # Above 34 °C until 20 min after the seventh hour.
    assert cleared.at_ms >= (7 + 1 / 3) * HOUR_MS
    assert cleared.at_ms < 8 * HOUR_MS


def test_too_few_readings_say_nothing() -> None:
    assert at_end([point for point in warming(6, 4.5) if point[0] % HALF_AN_HOUR == 0]) is None
    assert at_end(warming(6, 4.5)[-10:]) is None
