"""A clutch on record at a place that the site file has no longer, and a text that cannot be written."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.daemon.changing import AIR, GOOD_C, LETHAL, LETHAL_C, SOUTH, Changing
from tests.support.journals import new_journal

OK = {AIR: GOOD_C}
HOT = {AIR: LETHAL_C}


@pytest.fixture
def house(tmp_path: Path) -> Iterator[Changing]:
    with new_journal(tmp_path / "journal.sqlite3") as journal:
        yield Changing(journal, tmp_path / "site")


def test_a_clutch_near_its_hatch_in_an_incubator_that_is_gone_stops_no_evaluation(house: Changing) -> None:
    house.site_file(SOUTH)
    house.enter(days_ago=60)
    house.enter("Southy", "south", days_ago=60)
    house.minutes(60, {**OK, "south-air/air": GOOD_C})
    house.site_file()
    told = house.minutes(14 * 60, OK)
    assert not any("Southy" in line for line in told)
    assert any("CRITICAL" in line for line in house.minutes(5, HOT))
    places = {entry.raised.place.split("/")[0] for entry in house.desk().entries.values()}
    assert places <= {"north", ""}
    assert house.evaluator.failing == ()


def test_an_alarm_whose_text_cannot_be_written_is_told_plainly(
    house: Changing, caplog: pytest.LogCaptureFixture
) -> None:
    """A moment that no calendar has, as a damaged row may have it: the calls go on all the same, and so their end."""
    house.enter()
    house.minutes(5, OK)
    house.minutes(10, HOT)
    assert house.damage("alarm_desk", f"alarm {LETHAL}", '"since_ms":', '"since_ms":-1000000') == 1
    house.restart()
    told = house.minutes(10, HOT)
    assert "could not be written" in caplog.text
    assert {line.split("/")[0] for line in told} == {"ana", "ben"}
    assert all("UPDATE CRITICAL" in line and "dangerously hot" in line for line in told)
    assert any("CLEARED" in line for line in house.minutes(15, OK))
