"""A hand-over on real processes: planned by command beside the daemon, asked by message, accepted by its link. X-42."""

import subprocess
import sys
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import httpx
import pytest

from tests.support.called import house_of_two
from tests.support.household import MINUTE_MS, House, Probe, now_ms
from tests.support.mosquitto import Mosquitto
from tests.support.processes import wait_until
from tests.support.receiver import Receiver

pytestmark = pytest.mark.services

CALM_MIN, DRIFT_MIN = 60, 60


@pytest.fixture
def receiver() -> Iterator[Receiver]:
    with Receiver() as running:
        yield running


@pytest.fixture
def house(tmp_path: Path, mosquitto: Mosquitto, receiver: Receiver) -> Iterator[House]:
    home = house_of_two(tmp_path, mosquitto.port, receiver)
    yield home
    home.service.stop()


def duty(house: House, *arguments: str) -> str:
    command = [sys.executable, "-m", "daemon.cli", "duty", *arguments, "--site", str(house.folder)]
    return subprocess.run(command, check=True, capture_output=True, text=True, timeout=60).stdout


def told(receiver: Receiver, person: str, first_word: str) -> list[dict[str, Any]]:
    """Each once: what was sent just before a kill is sent again under the same name."""
    found = {each.json()["message_id"]: each.json() for each in receiver.received if each.path == f"/{person}"}
    return [each for each in found.values() if each["headline"].startswith(first_word)]


def test_a_substitute_is_asked_takes_over_by_link_and_is_called_first(
    house: House, mosquitto: Mosquitto, receiver: Receiver
) -> None:
    house.start()
    begins = datetime.now(ZoneInfo("Europe/Madrid")) - timedelta(minutes=5)
    shown = duty(house, "plan", "ben", "--from", f"{begins:%Y-%m-%d %H:%M:%S}")
    assert "No. 1: Ben on duty from" in shown
    assert "Called now: Ana, then Ben (Ben has not accepted" in duty(house, "list")
    wait_until(lambda: bool(told(receiver, "ben", "DUTY")), "the question to Ben")
    [asked] = told(receiver, "ben", "DUTY")

    # A question outlives the daemon that sent it.
    house.service.kill()
    house.start()
    page = httpx.get(asked["acknowledge_url"], timeout=60)
    assert "Do you take over, Ben?" in page.text
    headers = {"Sec-Fetch-Site": "same-origin", "Origin": "null"}
    taken = httpx.post(asked["acknowledge_url"], data={"answer": "take-over"}, headers=headers, timeout=60)
    assert "Noted, Ben: you are on duty" in taken.text
    wait_until(lambda: bool(told(receiver, "ana", "DUTY taken over by Ben")), "the word to Ana")

    probe = Probe(mosquitto.port)
    start_ms = now_ms() - (CALM_MIN + DRIFT_MIN) * MINUTE_MS
    values = [28.5] * CALM_MIN + [31.5] * DRIFT_MIN
    probe.temperatures((start_ms + minute * MINUTE_MS, value) for minute, value in enumerate(values))
    house.settle(len(values))
    wait_until(lambda: bool(told(receiver, "ben", "URGENT")), "the call of Ben")
    probe.close()
    assert told(receiver, "ana", "URGENT") == []
    assert len(told(receiver, "ben", "DUTY")) == 1
