"""Probes that no longer agree: a change of their usual offset, seen in calm, and nothing else."""

import math
import random
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

import pytest

from daemon.alarms.conditions import Change
from daemon.standing.disagreement import Probe, disagree, one_for_all, usual_of
from daemon.standing.found import Found
from daemon.standing_sources.disagreement import Twins
from tests.standing.air_house import AIR, BOX_AIR, HOUR_MS, SOUTH_BOX, START_MS, AirHouse, every
from tests.support.household import DAY_MS, MINUTE_MS
from tests.support.journals import new_journal

TOP = """
[[probe]]
id = "north-top"
place = "north"
interval_s = 60
[[probe.channel]]
name = "air"
quantity = "air_temperature"
accuracy = 0.2
[[probe]]
id = "box-s2"
place = "south/low/S2"
interval_s = 300
[[probe.channel]]
name = "air"
quantity = "air_temperature"
accuracy = 0.2
"""
TOP_AIR, SISTER_AIR = "north-top/air", "box-s2/air"
NORTH = f"{AIR}+{TOP_AIR}"
WEEK_MS = 7 * DAY_MS
HOURS = range(WEEK_MS // HOUR_MS)


@pytest.fixture
def house(tmp_path: Path) -> Iterator[AirHouse]:
    with new_journal(tmp_path / "journal.sqlite3") as journal:
        yield AirHouse(journal, tmp_path / "site", lambda site, _settings, _profiles: Twins(site), TOP)


def probe(newest: Sequence[float], hours: Mapping[int, float], name: str = "top", calibrated_hour: int = 0) -> Probe:
    return Probe(f"{name}/t", name, hours, newest, 0.1, calibrated_hour)


def steady(value: float, count: int = 168) -> dict[int, float]:
    return dict.fromkeys(range(count), value)


def pair(
    offset_now_k: float, *, is_on: bool = False, u_k: float = 0.1, usual_k: float = 0.4, fahrenheit: bool = False
) -> Found | None:
    """Two probes at 29 °C, the first usually warmer by `usual_k`."""
    one = probe([29 + offset_now_k] * 3, steady(29 + usual_k))._replace(u_k=u_k)
    other = probe([29.0] * 3, steady(29.0), "shelf")
    usual = usual_of(one, other)
    return disagree(one, other, usual, "north", is_on=is_on, fahrenheit=fahrenheit)


@pytest.mark.parametrize(("offset_now_k", "told"), [(0.4, False), (1.35, False), (1.45, True), (-0.65, True)])
def test_a_change_of_more_than_a_kelvin_is_told_and_the_usual_offset_is_not(offset_now_k: float, told: bool) -> None:
    assert (pair(offset_now_k) is not None) is told


def test_it_names_both_with_their_values_and_the_usual_difference() -> None:
    found = pair(2.0)
    assert found is not None
    assert (found.subject, found.place) == ("shelf/t+top/t", "north")
    assert found.reason == "top 31.0 °C, shelf 29.0 °C; they usually lie 0.4 °C apart"
    found = pair(2.0, fahrenheit=True)
    assert found is not None
    # 0.4 K are 0.72 °F.
    assert found.reason == "top 87.8 °F, shelf 84.2 °F; they usually lie 0.7 °F apart"


def test_four_combined_uncertainties_are_asked_of_poor_probes() -> None:
    """0.3 and 0.1 K together are 0.316 K, four times that is 1.265 K."""
    assert pair(0.4 + 1.25, u_k=0.3) is None
    assert pair(0.4 + 1.28, u_k=0.3) is not None


def test_an_offset_that_strays_by_itself_has_to_change_by_more_than_twice_that() -> None:
    """Half of the hours at 0 and half at 1.6 K: the median is at 0.8, and nine of ten lie 0.8 away from it."""
    swinging = {hour: 29 + 1.6 * (hour % 2) for hour in range(168)}
    other = probe([29.0] * 3, steady(29.0), "shelf")
    for newest, told in ((31.3, False), (31.5, True)):
        one = probe([newest] * 3, swinging)
        assert (disagree(one, other, usual_of(one, other), "north", is_on=False, fahrenheit=False) is not None) is told


def test_once_on_seven_tenths_of_the_change_hold_it() -> None:
    assert pair(0.4 + 0.75, is_on=True) is not None
    assert pair(0.4 + 0.65, is_on=True) is None


@pytest.mark.parametrize("newest", [[], [29.0, 32.0], [29.0, 30.5, 32.0]])
def test_while_one_is_silent_or_moves_nothing_can_be_said(newest: list[float]) -> None:
    one, other = probe(newest, steady(29.0)), probe([29.0] * 3, steady(29.0), "shelf")
    usual = usual_of(one, other)
    assert disagree(one, other, usual, "north", is_on=False, fahrenheit=False) is None
    held = disagree(one, other, usual, "north", is_on=True, fahrenheit=False)
    assert held is not None
    assert not held.known


def test_two_days_are_needed_and_a_new_calibration_begins_them_anew() -> None:
    short, other = probe([32.0] * 3, steady(29.0, 47)), probe([29.0] * 3, steady(29.0), "shelf")
    assert usual_of(short, other) is None
    held = disagree(short, other, None, "north", is_on=True, fahrenheit=False)
    assert held is not None
    assert not held.known
    anew = probe([32.0] * 3, steady(29.0), calibrated_hour=150)
    assert usual_of(anew, other) is None
    assert disagree(anew, other, None, "north", is_on=True, fahrenheit=False) is None


def test_a_probe_that_differs_from_most_is_told_once() -> None:
    found = [found for found in (pair(2.0), pair(3.0), pair(4.0)) if found is not None]
    [told] = one_for_all(found, 4, lambda _: False)
    assert told.reason.endswith("; so with 2 more")
    assert one_for_all(found[:2], 4, lambda _: False) == found[:2]
    assert one_for_all(found[:1], 1, lambda _: False) == found[:1]


def fill(house: AirHouse, days: float, step_k: float = 0.0, step_h: float = 1e9, dip_h: float = 1e9) -> None:
    """Shelf and cabinet with a daily swing and noise; the shelf's probe steps, or both lose heat for six hours."""
    chance = random.Random(5)
    end_ms = START_MS + round(days * DAY_MS)

    def cabinet(hour: float) -> float:
        lost = 8 * (1 - math.exp(-min(max(hour - dip_h, 0), 6) / 4)) * math.exp(-max(hour - dip_h - 6, 0) * 4)
        return 29 + 0.3 * math.sin(hour * math.pi / 12) - lost + chance.uniform(-0.1, 0.1)

    def shelf(hour: float) -> float:
        behind = 3.0 if dip_h <= hour < dip_h + 6 else 0.0
        return cabinet(hour) + 0.6 + behind + (step_k if hour >= step_h else 0.0)

    house.put(TOP_AIR, every(10, START_MS, end_ms, cabinet))
    house.put(TOP_AIR, every(2, end_ms, end_ms + 4 * HOUR_MS, cabinet))
    house.put(AIR, every(10, START_MS, end_ms, shelf))
    house.put(AIR, every(2, end_ms, end_ms + 4 * HOUR_MS, shelf))


def test_a_probe_that_jumps_is_told_within_three_hours_and_not_before(house: AirHouse) -> None:
    house.enter()
    fill(house, 5, step_k=3.0, step_h=120)
    assert house.watch(START_MS + 4 * DAY_MS, START_MS + 5 * DAY_MS, 30 * MINUTE_MS) == []
    [(change, subject, minute)] = house.watch(START_MS + 5 * DAY_MS, START_MS + 5 * DAY_MS + 4 * HOUR_MS)
    assert (change, subject) == (Change.RAISED, NORTH)
    assert 90 <= minute - 5 * 24 * 60 <= 180


def test_a_fault_does_not_become_usual_while_its_alarm_is_on(house: AirHouse) -> None:
    house.enter()
    fill(house, 12, step_k=3.0, step_h=120)
    looks = house.watch(START_MS + 4 * DAY_MS, START_MS + 12 * DAY_MS, 30 * MINUTE_MS)
    assert [one[0] for one in looks] == [Change.RAISED]


def test_a_night_without_heat_is_no_disagreement(house: AirHouse) -> None:
    """For six hours the shelf lags 3 K behind a cabinet that cools by several kelvin."""
    house.enter()
    fill(house, 5.2, dip_h=110)
    assert house.watch(START_MS + 4 * DAY_MS, START_MS + 5 * DAY_MS + 8 * HOUR_MS) == []


def test_a_new_calibration_is_no_change_of_the_air(house: AirHouse) -> None:
    house.enter()
    fill(house, 6)
    house.calibrate(TOP_AIR, 3.0, START_MS + 3 * DAY_MS)
    assert house.watch(START_MS + 2 * DAY_MS, START_MS + 6 * DAY_MS, 30 * MINUTE_MS) == []


def test_calibrating_one_of_them_ends_it(house: AirHouse) -> None:
    house.enter()
    fill(house, 6, step_k=3.0, step_h=120)
    told_ms = START_MS + 5 * DAY_MS + 6 * HOUR_MS
    assert [one[0] for one in house.watch(START_MS + 4 * DAY_MS, told_ms, 30 * MINUTE_MS)] == [Change.RAISED]
    house.calibrate(AIR, -3.0, told_ms)
    looks = house.watch(told_ms + MINUTE_MS, START_MS + 6 * DAY_MS, 10 * MINUTE_MS)
    assert [one[0] for one in looks] == [Change.CLEARED]
    assert looks[0][2] * MINUTE_MS + START_MS < told_ms + 30 * MINUTE_MS


def test_silence_keeps_it_on(house: AirHouse) -> None:
    house.enter()
    fill(house, 5.5, step_k=3.0, step_h=120)
    end_ms = START_MS + round(5.5 * DAY_MS) + 4 * HOUR_MS
    assert [one[0] for one in house.watch(START_MS + 4 * DAY_MS, end_ms, 30 * MINUTE_MS)] == [Change.RAISED]
    house.restart()
    assert house.watch(end_ms, end_ms + 3 * DAY_MS, 30 * MINUTE_MS) == []


def test_without_eggs_in_the_place_of_both_nothing_is_told(house: AirHouse) -> None:
    house.enter(place=SOUTH_BOX)
    fill(house, 5, step_k=3.0, step_h=100)
    assert house.watch(START_MS + 4 * DAY_MS, START_MS + 5 * DAY_MS + 2 * HOUR_MS, 10 * MINUTE_MS) == []


def test_two_boxes_of_a_zone_are_compared(house: AirHouse) -> None:
    house.enter(place=SOUTH_BOX)
    end_ms = START_MS + 4 * DAY_MS
    house.put(BOX_AIR, every(10, START_MS, end_ms, lambda _: 29.0))
    house.put(SISTER_AIR, every(10, START_MS, end_ms, lambda hour: 29.3 if hour < 80 else 27.0))
    looks = house.watch(START_MS + 3 * DAY_MS, end_ms, 10 * MINUTE_MS)
    assert [one[:2] for one in looks] == [(Change.RAISED, f"{BOX_AIR}+{SISTER_AIR}")]
