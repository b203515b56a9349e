"""A probe in the room: no limit, no clutch, and its silence and its faults read as what they are."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from typer.testing import CliRunner

from config.site import load_site
from config.words import Priority
from daemon.cli import app
from sensors.simulation.world import history
from tests.daemon.cooled import AIR, HUMIDITY, ROOM, ROOM_PROBE, START_MS, Cooled
from tests.support.household import MINUTE_MS, write_site
from tests.support.journals import new_journal


@pytest.fixture
def house(tmp_path: Path) -> Iterator[Cooled]:
    with new_journal(tmp_path / "journal.sqlite3") as journal:
        yield Cooled(journal, tmp_path / "site")


def inside(house: Cooled, start: int, end: int) -> None:
    minutes(house, AIR, start, end, 28.0)
    minutes(house, HUMIDITY, start, end, 70.0)


def minutes(house: Cooled, channel: str, start: int, end: int, value: float, quality: int = 0) -> None:
    house.put(channel, [(START_MS + at * MINUTE_MS, value) for at in range(start, end)], quality)


def test_no_temperature_of_the_room_is_an_alarm(house: Cooled) -> None:
    house.enter()
    for at in range(0, 180, 2):
        inside(house, at, at + 2)
        minutes(house, ROOM, at, at + 2, 5.0 if at < 90 else 41.0)
        assert house.told() == []


def test_its_silence_is_told_once_as_something_to_look_at_today_and_so_is_its_end(house: Cooled) -> None:
    house.enter()
    for at in range(70):
        if not 10 <= at < 60:
            minutes(house, ROOM, at, at + 1, 20.0)
        inside(house, at, at + 1)
        house.told()
    raised, cleared = house.told()
    assert (raised["alarm"], raised["place"], raised["priority"]) == ("no-data", "Room", Priority.LOW)
    assert str(raised["headline"]).startswith("CHECK Room: no readings for ")
    lines = str(raised["body"]).splitlines()
    assert lines[1] == "Check the plug, power and network of the room's probe."
    assert lines[2] == "Time left: unknown, look today."
    assert not any(line.startswith("Inside:") for line in lines)
    assert str(cleared["headline"]).startswith("CLEARED Room: 20.0 °C, readings are back")


def test_its_fault_is_told_as_that_of_the_room(house: Cooled) -> None:
    house.enter()
    for at in range(30):
        inside(house, at, at + 1)
        minutes(house, ROOM, at, at + 1, *((20.0, 0) if at % 2 == 0 else (85.0, 2)))
        house.told()
    faults = [message for message in house.told() if message["alarm"] == "probe-fault"]
    assert [str(message["headline"]) for message in faults] == ["CHECK Room: probe faulty"]
    assert "Compare the room's probe with another thermometer" in str(faults[0]["body"])


def test_with_no_clutch_anywhere_its_silence_is_nothing(house: Cooled) -> None:
    minutes(house, ROOM, 0, 10, 20.0)
    house.now_ms = START_MS + 60 * MINUTE_MS
    assert house.told() == []


def test_no_clutch_can_be_put_into_the_room(tmp_path: Path) -> None:
    folder = write_site(tmp_path / "site", 1883, extra=ROOM_PROBE)
    given = ["clutch", "add", "Juniper", "--site", str(folder), "--species", "elaphe-taeniura", "--place", "room"]
    result = CliRunner().invoke(app, [*given, "--laid", "2026-05-01..2026-05-03", "--eggs", "9"])
    assert result.exit_code == 2
    assert "there is no place 'room'" in result.output


def test_a_site_with_a_probe_in_the_room_can_be_simulated(tmp_path: Path) -> None:
    site = load_site(write_site(tmp_path / "site", 1883, extra=ROOM_PROBE))
    read = [
        values["t"] for _, probe, values in history(site, START_MS, START_MS + 3_600_000, seed=1) if probe == "room-air"
    ]
    assert len(read) == 60
    assert all(15.0 < value < 25.0 for value in read)  # stated: 20 °C; the swing of a simulated room is below 3 K
