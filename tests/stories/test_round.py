"""A round beside a running daemon: real broker, real daemon process, real commands, real HTTP receiver.

X-26 of the checks in tests/alarms/README.md.
"""

import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.daemon.rounds_house import LOW, rounds_site
from tests.support.household import DAY_MS, MINUTE_MS, House, Probe, a_clutch, now_ms
from tests.support.mosquitto import Mosquitto
from tests.support.processes import wait_until
from tests.support.receiver import Receiver

pytestmark = pytest.mark.services


@pytest.fixture
def receiver() -> Iterator[Receiver]:
    with Receiver() as running:
        yield running


@pytest.fixture
def house(tmp_path: Path, mosquitto: Mosquitto, receiver: Receiver) -> Iterator[House]:
    folder = rounds_site(tmp_path / "site")
    site, settings = folder / "site.toml", folder / "settings.toml"
    text = site.read_text(encoding="utf-8")
    text = text.replace("http://127.0.0.1:9/phone", receiver.url("/ana")).replace(
        "http://127.0.0.1:9/ben", receiver.url("/ben")
    )
    site.write_text(text, encoding="utf-8")
    settings.write_text(settings.read_text("utf-8").replace("port = 1883", f"port = {mosquitto.port}"), "utf-8")
    home = House(folder)
    home.enter(a_clutch(now_ms() - 10 * DAY_MS))
    yield home
    home.service.stop()


def command(house: House, *words: str) -> str:
    """What a command of its own process says beside the daemon."""
    call = [sys.executable, "-m", "daemon.cli", *words, "--site", str(house.folder)]
    found = subprocess.run(call, capture_output=True, text=True, timeout=60, check=False)
    assert found.returncode == 0, found.stderr
    return found.stdout


def headlines(receiver: Receiver) -> list[str]:
    return [each.json()["headline"] for each in receiver.received]


def test_the_cold_of_a_round_calls_nobody_and_deadly_heat_does(
    house: House, mosquitto: Mosquitto, receiver: Receiver
) -> None:
    house.start()
    begun = command(house, "round", "start", "north", "--for", "12min", "--who", "ana")
    assert "Round no. 1 in North cabinet" in begun
    # Measured before now, so that the alarm's delay has passed by what was measured and nobody has to wait for it.
    probe, start_ms = Probe(mosquitto.port), now_ms() - 20 * MINUTE_MS
    probe.temperatures([(start_ms + minute * MINUTE_MS, 28.0 if minute < 8 else 18.0) for minute in range(16)])
    house.settle(16)
    wait_until(lambda: LOW in command(house, "alarms", "list"), "the cold to be found")
    assert "held back: round in progress" in command(house, "alarms", "list")
    assert headlines(receiver) == []
    # A jump is believed when the next readings repeat it.
    probe.temperatures([(start_ms + minute * MINUTE_MS, 36.5) for minute in range(16, 20)])
    wait_until(lambda: bool(receiver.received), "somebody to be called", 60)
    assert all("CRITICAL" in line for line in headlines(receiver))
    assert "is ended after" in command(house, "round", "end", "north", "--who", "ana")
    probe.close()
