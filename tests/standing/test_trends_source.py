"""Falling, rising and limits ahead, from a real journal: calibrations, places without eggs, silence, its cost."""

import math
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from daemon.alarms.conditions import Change
from daemon.climate.cooling_curves import CoolingCurve
from daemon.clutches import register
from daemon.standing_sources.trends import Trends
from daemon.storage import cooling
from tests.standing.air_house import AIR, BOX_AIR, HOUR_MS, START_MS, AirHouse, every
from tests.support.household import DAY_MS, MINUTE_MS
from tests.support.journals import new_journal

ROOM = """
[[probe]]
id = "room-air"
place = "room"
interval_s = 60
[[probe.channel]]
name = "t"
quantity = "air_temperature"
"""
END_MS = START_MS + 30 * HOUR_MS


@pytest.fixture
def house(tmp_path: Path) -> Iterator[AirHouse]:
    with new_journal(tmp_path / "journal.sqlite3") as journal:
        yield AirHouse(journal, tmp_path / "site", lambda site, _settings, _profiles: Trends(site), ROOM)


def kinds(house: AirHouse, from_h: float, until_h: float) -> list[tuple[Change, str]]:
    """What is raised and cleared, looked at every two minutes."""
    moments = range(START_MS + round(from_h * HOUR_MS), START_MS + round(until_h * HOUR_MS), 2 * MINUTE_MS)
    return [(one.change, str(one.kind)) for now_ms in moments for one in house.look(now_ms)]


def fill(house: AirHouse, of_hour: Callable[[float], float], channel: str = AIR, until_ms: int = END_MS) -> None:
    house.put(channel, every(1, START_MS, until_ms, of_hour))


def door(hour: float) -> float:
    """29 °C; from the 26th hour on the air follows an open door with a time constant of 6 min, down by 6 K."""
    return 29 - 6 * (1 - math.exp(-10 * max(hour - 26, 0)))


def test_an_open_door_is_told_and_over_when_the_air_has_settled(house: AirHouse) -> None:
    house.enter()
    fill(house, door)
    found = kinds(house, 24, 28)
    assert found[0] == (Change.RAISED, "temperature-falling")
    assert (Change.CLEARED, "temperature-falling") in found


def test_a_place_without_eggs_is_left_alone_and_an_alarm_ends_with_them(house: AirHouse) -> None:
    fill(house, door)
    fill(house, door, BOX_AIR)
    assert kinds(house, 24, 26.3) == []
    number = house.enter(from_ms=START_MS + round(26.1 * HOUR_MS))
    assert (Change.RAISED, "temperature-falling") in kinds(house, 26.15, 26.4)
    now_ms = START_MS + round(26.4 * HOUR_MS)
    house.journal.write(lambda conn: register.close_clutch(conn, number, now_ms, "test", "hatched", now_ms))
    assert (Change.CLEARED, "temperature-falling") in kinds(house, 26.4, 26.8)


def test_the_room_is_no_place_of_eggs(house: AirHouse) -> None:
    house.enter()
    fill(house, door, "room-air/t")
    fill(house, lambda _: 29.0)
    assert kinds(house, 24, 28) == []


def test_a_calibration_that_begins_is_no_fall(house: AirHouse) -> None:
    house.enter()
    fill(house, lambda _: 29.0)
    house.calibrate(AIR, -2.5, START_MS + 26 * HOUR_MS)
    assert kinds(house, 25, 27) == []


def test_silence_keeps_an_alarm_on_over_a_restart(house: AirHouse) -> None:
    house.enter()
    fill(house, door, until_ms=START_MS + round(26.25 * HOUR_MS))
    assert (Change.RAISED, "temperature-falling") in kinds(house, 24, 26.3)
    house.restart()
    assert kinds(house, 26.3, 30) == []


def test_a_cooling_without_heat_is_told_by_what_was_learned_of_the_incubator(house: AirHouse) -> None:
    """29 °C in a room of 16 °C, measured; tau 6 h; 20 °C lies 7 h ahead, and 7 K in a straight line far less."""
    house.enter()
    starts = [START_MS - day * DAY_MS for day in (3, 2, 1)]
    curves = [CoolingCurve(at_ms, at_ms + HOUR_MS, 6.0, 0.3, 16.0, True) for at_ms in starts]
    span = (min(starts), START_MS)
    house.journal.write(lambda conn: cooling.replace_curves(conn, "north", AIR, span, curves))
    fill(
        house, lambda hour: 29.0 if hour < 20 else 16 + 13 * math.exp(-(hour - 20) / 6), until_ms=START_MS + DAY_MS * 2
    )
    fill(house, lambda _: 16.0, "room-air/t", START_MS + 2 * DAY_MS)
    moments = range(START_MS + 19 * HOUR_MS, START_MS + 28 * HOUR_MS, 2 * MINUTE_MS)
    found = [(now_ms, one) for now_ms in moments for one in house.look(now_ms) if one.change is Change.RAISED]
    assert [str(one.kind) for _, one in found] == ["lethal-ahead"]
    [(now_ms, raised)] = found
    left_h = 6 * math.log(13 / 4) - (now_ms - START_MS - 20 * HOUR_MS) / HOUR_MS
    assert raised.reason.startswith("20.0 °C in about ")
    assert raised.reason.endswith("without heat")
    assert 0.9 < left_h < 1.6


def steps(house: AirHouse, now_ms: int) -> int:
    """How often SQLite has gone a hundred steps in one look."""
    ticks = 0

    def tick() -> int:
        nonlocal ticks
        ticks += 1
        return 0

    with house.journal.read() as conn:
        moment = house.moment(conn, now_ms)
        conn.set_progress_handler(tick, 100)
        assert list(Trends(house.site).found(moment)) == []
        conn.set_progress_handler(None, 0)
    return ticks


def test_a_look_costs_the_same_after_a_season_of_readings(house: AirHouse) -> None:
    """Steps of SQLite and not time are compared: a busy machine changes nothing."""
    house.enter()
    house.put(AIR, every(1, START_MS, START_MS + 2 * DAY_MS, lambda _: 29.0))
    few = steps(house, START_MS + 2 * DAY_MS)
    assert few > 10
    house.put(AIR, every(1, START_MS + 2 * DAY_MS, START_MS + 60 * DAY_MS, lambda _: 29.0))
    assert steps(house, START_MS + 60 * DAY_MS) < 1.2 * few
