"""Late readings in the ways that hide an excursion best: each of these is told all the same."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from daemon.clutches import register
from daemon.storage import late
from daemon.storage.journal import Journal
from tests.daemon.changing import AIR, GOOD_C, LETHAL_C, SOUTH, START_MS, Changing
from tests.daemon.test_late_readings import WARM_C, backlog, course, found_text, outage, waiting
from tests.support.household import DAY_MS, MINUTE_MS


@pytest.fixture
def house(tmp_path: Path) -> Iterator[Changing]:
    with Journal.open(tmp_path / "journal.sqlite3") as journal:
        yield Changing(journal, tmp_path / "site")


def of_lethal(told: list[str]) -> list[str]:
    return [line for line in told if "dangerously hot" in line]


def test_one_that_ends_just_before_the_probe_falls_silent_is_told(house: Changing) -> None:
    """Back inside at its last reading, but not for the off-delay: nobody knows how it is now."""
    outage(house)
    backlog(house, course(range(200, 240), LETHAL_C, 243))
    assert of_lethal(waiting(house, 20))


def test_a_lethal_one_is_told_where_its_place_was_left_before_the_readings_came(house: Changing) -> None:
    house.site_file(SOUTH)
    outage(house)
    house.journal.write(
        lambda conn: register.move_clutch(conn, 1, "south", house.now_ms - MINUTE_MS, "test", "", house.now_ms)
    )
    for value, first, last in ((GOOD_C, 11, 60), (LETHAL_C, 60, 91), (GOOD_C, 91, 242)):
        backlog(house, [(minute, value) for minute in range(first, last)])
        house.evaluator.step(lambda: house.now_ms)
        house.now_ms += 10_000
        house.steady_s += 10
        house.evaluator.step(lambda: house.now_ms)
    told = of_lethal(waiting(house, 20))
    assert len(told) == 1
    assert "URGENT" in told[0]


def test_a_warning_that_was_told_hides_no_lethal_limit_that_was_passed_meanwhile(house: Changing) -> None:
    """Every second reading came and was warm; those in between, which come afterwards, were lethal."""
    house.enter()
    house.minutes(10, {AIR: GOOD_C})
    for _ in range(10):
        house.minutes(1, {AIR: WARM_C})
        waiting(house, 1)
    house.minutes(30, {AIR: GOOD_C})
    backlog(house, [(minute, LETHAL_C) for minute in range(12, 30, 2)])
    told = of_lethal(house.minutes(30, {AIR: GOOD_C}))
    assert len(told) == 1
    assert "URGENT" in told[0]
    assert "36.0 °C at most" in found_text(house)


def test_one_that_goes_on_at_a_newest_reading_that_came_first_is_told(house: Changing) -> None:
    """A reading of now that is not beyond for long yet, then what was kept, and then nothing more."""
    outage(house)
    house.minutes(1, {AIR: 34.5})
    backlog(house, course(range(100, 999), 34.5, 240))
    assert of_lethal(waiting(house, 20))


def test_readings_out_of_order_by_a_minute_hide_nothing(house: Changing) -> None:
    house.enter()
    house.minutes(10, {AIR: GOOD_C})
    house.now_ms += 2 * MINUTE_MS
    house.steady_s += 120
    backlog(house, [(12, GOOD_C)])
    house.evaluator.step(lambda: house.now_ms)
    backlog(house, [(11, LETHAL_C)])
    assert of_lethal(house.minutes(20, {AIR: GOOD_C}))


def test_what_was_found_hides_nothing_that_is_found_later(house: Changing) -> None:
    """Two outages, and what was kept comes after what is new both times."""
    outage(house)
    house.minutes(10, {AIR: GOOD_C})
    backlog(house, reversed(course(range(60, 91), LETHAL_C, 250)))
    assert len(of_lethal(house.minutes(20, {AIR: GOOD_C}))) == 1
    waiting(house, 240)
    house.minutes(10, {AIR: GOOD_C})
    backlog(house, reversed(course(range(330, 361), LETHAL_C, 510, since=285)))
    assert len(of_lethal(house.minutes(20, {AIR: GOOD_C}))) == 1


def test_a_clock_that_was_ten_years_ahead_at_first_hides_nothing_and_nothing_is_late_for_ever(house: Changing) -> None:
    house.now_ms += 10 * 365 * DAY_MS
    house.enter()
    house.minutes(10, {AIR: GOOD_C})
    house.now_ms = START_MS
    house.minutes(10, {AIR: GOOD_C})
    assert of_lethal(house.minutes(2, {AIR: LETHAL_C}))
    house.restart()
    house.minutes(5, {AIR: GOOD_C})
    with house.journal.read() as conn:
        assert late.gathering(conn) == ""
        assert late.changes(conn) == {}
