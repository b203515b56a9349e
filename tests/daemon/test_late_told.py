"""Whom it is told to that something was found afterwards, and that a probe was faulty then."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from daemon.storage import duties, samples
from daemon.storage.duties import NewEntry
from sensors.reading import Quality, Reading
from tests.daemon.changing import AIR, GOOD_C, LETHAL_C, START_MS, Changing
from tests.daemon.test_late_readings import WARM_C, backlog, course, events, found_text, of_limits, outage, waiting
from tests.support.household import DAY_MS, MINUTE_MS
from tests.support.journals import new_journal

FAULT = f"probe-fault:{AIR}"


@pytest.fixture
def house(tmp_path: Path) -> Iterator[Changing]:
    with new_journal(tmp_path / "journal.sqlite3") as journal:
        yield Changing(journal, tmp_path / "site")


def away(house: Changing, *people: str) -> None:
    """From before the start for two days."""
    for person in people:
        entry = NewEntry(person, START_MS - DAY_MS, START_MS + DAY_MS, START_MS - DAY_MS, "test", is_absence=True)
        house.journal.write(lambda conn, entry=entry: duties.add(conn, entry))  # type: ignore[misc]


def told_people(lines: list[str]) -> list[str]:
    return sorted({line.partition("/")[0] for line in lines})


@pytest.mark.parametrize(
    ("absent", "told"), [((), ["ana"]), (("ana",), ["ben"]), (("ana", "ben"), ["ana", "ben"])], ids=str
)
def test_where_nobody_can_be_reached_everybody_is_told_once(
    house: Changing, absent: tuple[str, ...], told: list[str]
) -> None:
    away(house, *absent)
    outage(house, 90)
    backlog(house, course(range(20, 71), WARM_C, 100))
    found = of_limits(waiting(house, 3))
    assert told_people(found) == told
    assert len(found) == len(told)
    assert of_limits(waiting(house, 10)) == []


def faulty(house: Changing, lethal: range = range(0)) -> list[str]:
    """Forty minutes of readings that came late; twelve of them cannot be true."""
    outage(house, 40)
    rows = [
        Reading(
            AIR,
            START_MS + minute * MINUTE_MS,
            house.now_ms,
            LETHAL_C if minute in lethal else GOOD_C,
            Quality.FAULT_VALUE if minute in range(15, 27) else Quality.GOOD,
        )
        for minute in range(11, 51)
    ]
    house.journal.write(lambda conn: samples.append(conn, house.ids, rows))
    return waiting(house, 3)


def test_a_probe_that_was_faulty_in_late_readings_alone_is_found_once_and_nobody_is_called(house: Changing) -> None:
    found = [line for line in faulty(house) if "faulty" in line]
    assert len(found) == 1
    assert found[0].startswith("ana/")
    assert "CHECK" in found[0]
    assert "probe was faulty, over now" in found[0]
    # Minute 15 after 22:26:40 in Madrid; it ends with the third good reading (`alarms/faults`), that of minute 29.
    said = found_text(house)
    assert "North cabinet, upper shelf: a probe said what cannot be true from 22:41 to 22:55." in said
    assert "What it was like there meanwhile nobody knows." in said
    assert [word for word, _ in events(house, FAULT)] == ["found afterwards", "cleared"]
    house.restart()
    assert [line for line in waiting(house, 10) if "faulty" in line] == []


def test_a_fault_and_an_excursion_are_one_message_and_the_eggs_come_first(house: Changing) -> None:
    found = [line for line in faulty(house, range(30, 40)) if "over now" in line]
    assert {line.partition(": ")[2] for line in found} == {"URGENT North cabinet: was dangerously hot, over now"}
    said = found_text(house)
    assert "36.0 °C at most" in said
    assert "Also North cabinet, upper shelf: probe was faulty." in said
