"""Too long outside, added up: pure, and from a real journal.

X-2 of the checks in tests/alarms/README.md.
"""

from collections.abc import Iterator
from pathlib import Path

import pytest

from config.species import ExposureLimit
from daemon.alarms.conditions import Change
from daemon.clutches import register
from daemon.development.exposure import judge_course
from daemon.standing.exposure import exposed_too_long
from daemon.standing.found import Found
from daemon.standing_sources.exposures import COUNTS_MS, Exposures
from sensors.reading import Quality
from tests.standing.air_house import AIR, BOX, BOX_AIR, HOUR_MS, SHELF, SOUTH_BOX, START_MS, AirHouse, every
from tests.support.household import DAY_MS, MINUTE_MS
from tests.support.journals import new_journal

HOT = ExposureLimit(above_c=33, minutes=60, within_h=24, source="invented")
COLD = ExposureLimit(below_c=22, minutes=360, within_h=48, source="invented")


@pytest.fixture
def house(tmp_path: Path) -> Iterator[AirHouse]:
    with new_journal(tmp_path / "journal.sqlite3") as journal:
        yield AirHouse(
            journal, tmp_path / "site", lambda site, settings, of: Exposures(site, of, settings.heat.longest_bridge_s)
        )


def judged(
    *limits: ExposureLimit,
    hot_min: float = 0,
    cold_min: float = 0,
    unknown_min: int = 0,
    is_on: bool = False,
    fahrenheit: bool = False,
) -> Found | None:
    """A clutch that was at 34 °C and at 20 °C for so long, with steps that cost no time, and then was not watched."""
    hot_ms, cold_ms = (round(each * MINUTE_MS) for each in (hot_min, cold_min))
    hours = range(0, 20 * HOUR_MS, 30 * MINUTE_MS)
    course: list[tuple[int, float | None]] = [(at_ms, 28.0) for at_ms in hours]
    end_ms = 20 * HOUR_MS
    for length_ms, value in ((hot_ms, 34.0), (cold_ms, 20.0)):
        course += [(end_ms, 28.0), (end_ms, value)]
        course += [(at_ms, value) for at_ms in range(end_ms + MINUTE_MS, end_ms + length_ms, MINUTE_MS)]
        end_ms += length_ms
        course += [(end_ms, value), (end_ms, 28.0)]
    told = judge_course(limits, course, 30 * MINUTE_MS, end_ms + unknown_min * MINUTE_MS)
    return exposed_too_long(7, "Juniper", BOX, told, is_on=is_on, fahrenheit=fahrenheit)


def test_at_the_limit_it_is_kept_and_a_second_more_is_told_with_its_figures() -> None:
    assert judged(HOT, hot_min=60) is None
    found = judged(HOT, hot_min=60 + 1 / 60)
    assert found is not None
    assert (found.subject, found.about, found.place) == ("clutch-7", "Juniper", BOX)
    assert found.reason == "1 h 1 min above 33.0 °C in 24 h, at most 1 h"
    found = judged(COLD, cold_min=372, fahrenheit=True)
    assert found is not None
    assert found.reason == "6 h 12 min below 71.6 °F in 48 h, at most 6 h"


def test_two_limits_that_are_passed_are_one_alarm() -> None:
    found = judged(HOT, COLD, hot_min=70, cold_min=400)
    assert found is not None
    assert found.reason.count(", at most ") == 2


def test_once_on_it_ends_at_nine_tenths() -> None:
    assert judged(HOT, hot_min=54, is_on=True) is None
    held = judged(HOT, hot_min=55, is_on=True)
    assert held is not None
    assert held.known


def test_time_of_which_nothing_is_known_neither_raises_nor_ends_it() -> None:
    assert judged(HOT, hot_min=20, unknown_min=50) is None
    held = judged(HOT, hot_min=20, unknown_min=50, is_on=True)
    assert held is not None
    assert not held.known
    assert judged(HOT, hot_min=20, unknown_min=30, is_on=True) is None


def excursions(hour: float) -> float:
    """Ten minutes at 34 °C from 40 min past each hour on, with slopes of a minute: above 33 °C for 10 min 20 s.

    Up from 28 °C in a minute it passes 33 °C ten seconds before its end, and so on the way down.
    """
    minute = hour % 1 * 60
    return 28 + 6 * min(max(min(minute - 39, 51 - minute), 0), 1)


def test_x_2_six_excursions_of_ten_minutes_are_told_when_they_make_an_hour(house: AirHouse) -> None:
    """Each is short; six of them make 62 min. In the sixth, five times 10 min 20 s and 8 min 20 s are an hour."""
    number = house.enter()
    house.put(AIR, every(1, START_MS, START_MS + 8 * HOUR_MS, excursions))
    looks = house.watch(START_MS + HOUR_MS, START_MS + 8 * HOUR_MS, 30_000)
    sixth_min = 5 * 60 + 40 - 10 / 60 + 8 + 20 / 60
    [(change, subject, minute)] = looks
    assert (change, subject) == (Change.RAISED, f"clutch-{number}")
    assert sixth_min <= minute <= sixth_min + 2 * COUNTS_MS / MINUTE_MS


def test_it_ends_when_the_day_has_left_the_heat_behind(house: AirHouse) -> None:
    house.enter()
    house.put(AIR, every(1, START_MS, START_MS + 2 * DAY_MS, lambda hour: 34.0 if 3 <= hour < 5 else 28.0))
    looks = house.watch(START_MS + 3 * HOUR_MS, START_MS + 2 * DAY_MS, 10 * MINUTE_MS)
    assert [change for change, _, _ in looks] == [Change.RAISED, Change.CLEARED]
    # 54 of the 120 min are left when the window begins 66 min after the heat did.
    assert looks[1][2] == pytest.approx(27 * 60 + 66, abs=15)


def test_a_probe_that_goes_silent_ends_nothing_and_a_restart_neither(house: AirHouse) -> None:
    house.enter()
    house.put(AIR, every(1, START_MS, START_MS + 5 * HOUR_MS, lambda hour: 34.0 if 3 <= hour < 4.5 else 28.0))
    assert [one[0] for one in house.watch(START_MS + 4 * HOUR_MS, START_MS + 5 * HOUR_MS)] == [Change.RAISED]
    house.restart()
    assert house.watch(START_MS + 5 * HOUR_MS, START_MS + 3 * DAY_MS, 20 * MINUTE_MS) == []


def test_after_a_restart_no_alarm_ends_before_its_clutch_was_looked_at(house: AirHouse) -> None:
    house.enter("Juniper")
    house.enter("Her sister", SHELF)
    house.put(AIR, every(1, START_MS, START_MS + 5 * HOUR_MS, lambda hour: 34.0 if 3 <= hour < 4.5 else 28.0))
    assert len(house.watch(START_MS + 5 * HOUR_MS, START_MS + 5 * HOUR_MS + MINUTE_MS)) == 2
    house.restart()
    assert house.watch(START_MS + 5 * HOUR_MS + MINUTE_MS, START_MS + 5 * HOUR_MS + 2 * MINUTE_MS) == []


def test_suspect_readings_of_heat_do_not_count(house: AirHouse) -> None:
    house.enter()
    house.put(AIR, every(1, START_MS, START_MS + 3 * HOUR_MS, lambda _: 28.0))
    house.put(AIR, every(1, START_MS + 3 * HOUR_MS, START_MS + 5 * HOUR_MS, lambda _: 34.0), int(Quality.STUCK))
    assert house.watch(START_MS + HOUR_MS, START_MS + 5 * HOUR_MS, 5 * MINUTE_MS) == []


def test_it_follows_the_clutch_and_ends_with_it(house: AirHouse) -> None:
    """Half an hour of heat on the shelf and forty minutes in a box are one exposure."""
    number = house.enter()
    house.put(AIR, every(1, START_MS, START_MS + 6 * HOUR_MS, lambda hour: 34.0 if 1 <= hour < 1.5 else 28.0))
    house.put(BOX_AIR, every(1, START_MS, START_MS + 6 * HOUR_MS, lambda hour: 34.0 if 3 <= hour < 3.7 else 28.0))
    move_ms, now_ms = START_MS + 2 * HOUR_MS, START_MS + 4 * HOUR_MS
    house.journal.write(lambda conn: register.move_clutch(conn, number, SOUTH_BOX, move_ms, "test", "", move_ms))
    [raised] = house.look(now_ms)
    assert (raised.place, raised.about) == (SOUTH_BOX, "Juniper")
    house.journal.write(lambda conn: register.close_clutch(conn, number, now_ms, "test", "hatched", now_ms))
    [cleared] = house.look(now_ms + MINUTE_MS)
    assert cleared.change is Change.CLEARED


def test_many_clutches_have_their_turn_one_after_another(house: AirHouse) -> None:
    for number in range(5):
        house.enter(f"Juniper {number}", SHELF)
    house.put(AIR, every(1, START_MS, START_MS + 5 * HOUR_MS, lambda hour: 34.0 if 3 <= hour < 4.5 else 28.0))
    begin_ms = START_MS + 5 * HOUR_MS
    told = [len(house.look(begin_ms + number * house.every_ms)) for number in range(7)]
    assert told == [1, 1, 1, 1, 1, 0, 0]


def test_after_a_clock_was_set_back_every_clutch_has_its_turn_at_once(house: AirHouse) -> None:
    """What was worked out in the future of the clock is oldest: nothing waits until the clock has caught up.

    There are more clutches than turns in the time that one counts, so that the first would be due again before the last
    had its turn.
    """
    count = COUNTS_MS // house.every_ms + 2
    for number in range(count):
        house.enter(f"Juniper {number}", SHELF)
    house.put(AIR, every(1, START_MS, START_MS + 2 * HOUR_MS, lambda _: 28.0))
    later_ms, back_ms = START_MS + 6 * HOUR_MS, START_MS + 5 * HOUR_MS
    assert house.watch(later_ms, later_ms + count * house.every_ms) == []
    house.put(AIR, every(1, START_MS + 2 * HOUR_MS, back_ms, lambda hour: 34.0 if hour < 4 else 28.0))
    told = [len(house.look(back_ms + number * house.every_ms)) for number in range(count + 1)]
    assert told == [1] * count + [0]
