"""A clock that is behind at a start, or set in a run: no stamp of a time that has not come keeps anybody asleep.

X-10 of the checks in tests/alarms/README.md.
"""

from collections.abc import Iterator
from pathlib import Path

import pytest

from daemon.alarms.events import Reset
from tests.daemon.changing import AIR, GOOD_C, LETHAL, LETHAL_C, NO_DATA, Changing
from tests.support.household import DAY_MS, MINUTE_MS
from tests.support.journals import new_journal

OK = {AIR: GOOD_C}
HOT = {AIR: LETHAL_C}
RH = "north-air/rh"


@pytest.fixture
def house(tmp_path: Path) -> Iterator[Changing]:
    with new_journal(tmp_path / "journal.sqlite3") as journal:
        yield Changing(journal, tmp_path / "site")


def calls(told: list[str]) -> list[str]:
    return [line for line in told if "CRITICAL" in line]


def after_a_lethal_night(house: Changing) -> None:
    """One lethal alarm that was told, acknowledged, over and reset: its stamps stay in the book."""
    house.enter(days_ago=60)
    house.minutes(5, OK)
    house.minutes(8, HOT)
    house.acknowledge(LETHAL)
    house.minutes(20, OK)
    house.journal.write(lambda conn: house.work.do(conn, {LETHAL: Reset("ana")}, house.now_ms))
    house.minutes(10, OK)


def test_a_start_with_a_clock_a_month_behind_calls_within_minutes(house: Changing) -> None:
    after_a_lethal_night(house)
    house.now_ms -= 30 * DAY_MS
    house.restart()
    house.minutes(5, OK)
    told = calls(house.minutes(60, HOT))
    assert len(told) > 5
    assert any(line.startswith("ben/") for line in told)


def test_a_clock_that_is_put_right_in_the_run_after_such_a_start_keeps_on_calling(house: Changing) -> None:
    after_a_lethal_night(house)
    house.now_ms -= 30 * DAY_MS
    house.restart()
    house.minutes(5, OK)
    house.minutes(10, HOT)
    house.now_ms += 33 * DAY_MS
    assert len(calls(house.minutes(60, HOT))) > 5
    book, ladders = house.desk().book, house.desk().ladders.values()
    assert max(book.called_ms or 0, book.called_critical_ms or 0, *book.opened, 0) <= house.now_ms
    assert all((each.last_told_ms or 0) <= house.now_ms and each.started_ms <= house.now_ms for each in ladders)
    house.restart()
    assert len(calls(house.minutes(60, HOT))) > 5


def test_a_ladder_goes_on_from_where_it_was_when_the_clock_starts_an_hour_behind(house: Changing) -> None:
    """A clock that keeps its last hour and no more. Priority 1 at its end: everybody every five minutes."""
    house.enter()
    house.minutes(5, OK)
    house.minutes(40, HOT)
    house.now_ms -= 55 * MINUTE_MS
    house.restart()
    told = calls(house.minutes(7, HOT))
    assert {line.split("/")[0] for line in told} == {"ana", "ben"}
    house.now_ms += 175 * MINUTE_MS
    assert calls(house.minutes(7, HOT))


def test_an_acknowledged_alarm_comes_again_though_its_clock_was_a_month_ahead(house: Changing) -> None:
    """It is told again 30 min after the acknowledgement while it goes on; that takes no month."""
    house.enter(days_ago=60)
    house.minutes(5, OK)
    house.minutes(8, HOT)
    house.acknowledge(LETHAL)
    house.new_messages()
    house.now_ms -= 30 * DAY_MS
    house.restart()
    assert calls(house.minutes(45, HOT))


def test_silence_is_noticed_though_the_newest_reading_is_of_next_month(house: Changing) -> None:
    house.enter(days_ago=60)
    house.minutes(10, OK)
    house.now_ms -= 30 * DAY_MS
    house.restart()
    house.minutes(10, {})
    assert NO_DATA in house.desk().entries


@pytest.mark.parametrize("back_min", [2, 5, 9, 11, 600])
def test_a_clock_set_back_in_a_run_hides_no_lethal_heat(house: Changing, back_min: int) -> None:
    """The lethal limit is told after a minute beyond it; a clock that was set back must not make that longer."""
    house.enter()
    house.minutes(30, OK)
    house.now_ms -= back_min * MINUTE_MS + 1234
    assert calls(house.minutes(3, HOT))


@pytest.mark.parametrize("back_min", [3, 9])
def test_nor_does_it_where_it_was_set_between_a_reading_and_the_look_at_it(house: Changing, back_min: int) -> None:
    house.enter()
    house.minutes(30, OK)
    house.now_ms += MINUTE_MS
    house.put(OK)
    house.now_ms -= back_min * MINUTE_MS + 1234
    assert calls(house.minutes(3, HOT))


@pytest.mark.parametrize("back_min", [4, 9])
def test_nor_where_the_daemon_was_started_again_meanwhile(house: Changing, back_min: int) -> None:
    """What a probe's clock may be ahead, two minutes, may be lost here."""
    house.enter()
    house.minutes(30, OK)
    house.now_ms -= back_min * MINUTE_MS + 1234
    house.restart()
    assert calls(house.minutes(5, HOT))


def test_a_reading_of_tomorrow_neither_makes_nor_hides_water_on_a_lid(house: Changing) -> None:
    house.enter()
    wet, dry = {AIR: GOOD_C, RH: 99.0}, {AIR: GOOD_C, RH: 50.0}
    house.minutes(60, wet)
    assert any(key.startswith("condensation") for key in house.desk().entries)
    house.now_ms += DAY_MS
    house.minutes(1, wet)
    house.now_ms -= DAY_MS
    house.minutes(240, dry)
    on = {key: entry.state.in_alarm for key, entry in house.desk().entries.items()}
    assert not any(is_on for key, is_on in on.items() if key.startswith("condensation"))
    house.now_ms += DAY_MS
    house.minutes(1, dry)
    house.now_ms -= DAY_MS
    house.minutes(60, wet)
    on = {key: entry.state.in_alarm for key, entry in house.desk().entries.items()}
    assert any(is_on for key, is_on in on.items() if key.startswith("condensation"))
