"""A lethal alarm that is out of service explains nothing: the warning below it reaches people by itself."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from daemon.alarms.events import RemoveFromService
from tests.support.called import HIGH, LETHAL, CalledHouse, called_house
from tests.support.household import MINUTE_MS


@pytest.fixture
def house(tmp_path: Path) -> Iterator[CalledHouse]:
    with called_house(tmp_path) as found:
        yield found


def leave_service(house: CalledHouse) -> None:
    review_ms = house.now_ms + 12 * 60 * MINUTE_MS
    out = RemoveFromService("ana", "the probe lies on the heater", "a glass thermometer", review_ms, eggs_inside=True)
    house.journal.write(lambda conn: house.work.acknowledge(conn, [LETHAL], "ana", "", house.now_ms))
    [done] = house.journal.write(lambda conn: house.work.do(conn, {LETHAL: out}, house.now_ms))
    assert done.accepted, done.reason


def test_the_warning_is_told_where_it_was_on_already_and_where_it_begins_later(house: CalledHouse) -> None:
    house.minutes(30, 28.5)
    house.minutes(10, 36.0)
    leave_service(house)
    told = len(house.messages("ana"))
    house.minutes(3, 36.0)
    assert {each.alarm for each in house.messages("ana")[told:]} == {"temperature-high"}
    house.minutes(40, 28.5)
    assert house.shown(HIGH) != "unacknowledged"
    told = len(house.messages("ana"))
    house.minutes(15, 36.0)
    assert "temperature-high" in {each.alarm for each in house.messages("ana")[told:]}
