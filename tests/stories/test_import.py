"""A logger's record from last week, imported beside a running daemon: heat follows, and no phone rings for old drifts.

The record is invented: a day at 28.5 °C with two hours at 31.2 °C in it, where 30.0 is the most, a reading a minute.
"""

import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.support.household import DAY_MS, MINUTE_MS, House, Probe, a_clutch, now_ms, write_site
from tests.support.mosquitto import Mosquitto
from tests.support.processes import wait_until
from tests.support.receiver import Receiver

pytestmark = pytest.mark.services

HOUR_MS = 60 * MINUTE_MS
CALM_C, HOT_C = 28.5, 31.2
HOT = range(600, 721)
"""Minutes of the day, both ends included."""


@pytest.fixture
def receiver() -> Iterator[Receiver]:
    with Receiver() as running:
        yield running


@pytest.fixture
def house(tmp_path: Path, mosquitto: Mosquitto, receiver: Receiver) -> Iterator[House]:
    home = House(write_site(tmp_path / "site", mosquitto.port, receiver.url("/phone")))
    home.enter(a_clutch(now_ms() - 10 * DAY_MS))
    yield home
    home.service.stop()


def record_of_a_day(folder: Path, start_ms: int) -> Path:
    file = folder / "record.csv"
    rows = (
        f"{(start_ms + at * MINUTE_MS) // 1000};{HOT_C if at in HOT else CALM_C}\n".replace(".", ",")
        for at in range(24 * 60 + 1)
    )
    file.write_text("Time;Celsius\n" + "".join(rows))
    return file


def run_import(house: House, file: Path) -> str:
    options = ["--time-column", "Time", "--temperature-column", "Celsius", "--to", "north-air/air", "--yes"]
    command = [sys.executable, "-m", "daemon.cli", "import", str(house.folder), str(file), *options]
    return subprocess.run(command, check=True, capture_output=True, text=True).stdout


def heat_of_the_day(house: House, start_ms: int) -> tuple[float, int]:
    """Degree-hours and covered hours in the 24 hours from start."""
    with house.look() as conn:
        heat_ch, covered_ms = conn.execute(
            "SELECT total(degree_hours_ch), total(covered_ms) FROM heat_hour"
            " WHERE hour_start_ms >= ? AND hour_start_ms < ?",
            (start_ms, start_ms + DAY_MS),
        ).fetchone()
    return heat_ch, covered_ms // HOUR_MS


def test_an_import_beside_the_daemon_adds_its_heat_and_tells_nobody_of_old_drifts(
    house: House, mosquitto: Mosquitto, receiver: Receiver
) -> None:
    house.start()
    probe = Probe(mosquitto.port)
    present_ms = now_ms()
    probe.temperatures((present_ms - at * MINUTE_MS, CALM_C) for at in range(30, -1, -1))
    house.settle(31)
    start_ms = (present_ms - 8 * DAY_MS) // HOUR_MS * HOUR_MS
    assert heat_of_the_day(house, start_ms)[1] == 0

    said = run_import(house, record_of_a_day(house.folder.parent, start_ms))
    assert "Stored 1441 readings" in said
    wait_until(lambda: heat_of_the_day(house, start_ms)[1] == 24, "the heat of the imported day", 60)
    house.settle(31)

    # By hand, over the zero of 13.2 °C and up to the cap of 30.5 °C of the profile, in °C times minutes. Each of the
    # two ramps of a minute is below the cap for 2.0 K of its 2.7 K.
    ramp = 2.0 / 2.7 * (15.3 + 17.3) / 2 + 0.7 / 2.7 * 17.3
    expected_ch = ((24 * 60 - 122) * 15.3 + 120 * 17.3 + 2 * ramp) / 60
    assert heat_of_the_day(house, start_ms)[0] == pytest.approx(expected_ch, abs=1e-6)
    assert not receiver.received
    assert house.events() == []

    # And the present is watched as before.
    probe.temperatures((now_ms() + at, 35.0) for at in range(3))
    wait_until(lambda: bool(receiver.received), "the alert of the present", 60)
    probe.close()
    assert receiver.received[0].json()["value"] == 35.0
    assert house.service.running


def test_an_import_for_a_channel_that_was_never_heard_tells_nobody_either(
    house: House, mosquitto: Mosquitto, receiver: Receiver
) -> None:
    """The probe is new: nothing in the journal is newer than the file, and still it is the past."""
    house.start()
    start_ms = (now_ms() - 8 * DAY_MS) // HOUR_MS * HOUR_MS
    run_import(house, record_of_a_day(house.folder.parent, start_ms))
    wait_until(lambda: heat_of_the_day(house, start_ms)[1] == 24, "the heat of the imported day", 60)
    probe = Probe(mosquitto.port)
    probe.temperatures([(now_ms(), CALM_C)])
    house.settle(1)
    assert [event for event in house.events() if "no-data" not in str(event)] == []
    probe.close()
