"""From a drift to a press on the link of its message: real broker, real daemon process, real HTTP receiver."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest

from config.check import check_site
from daemon.alarms.ladder import LadderPace
from daemon.desk_work import DeskWork
from daemon.storage import alarm_records
from daemon.storage.journal import Journal
from tests.support.called import HIGH, action_of, house_of_two
from tests.support.household import MINUTE_MS, House, Probe, now_ms
from tests.support.mosquitto import Mosquitto
from tests.support.receiver import Receiver
from tests.support.secrets import assert_no_secret

pytestmark = pytest.mark.services

CALM_MIN, DRIFT_MIN, BACK_MIN = 90, 30, 25


@pytest.fixture
def receiver() -> Iterator[Receiver]:
    with Receiver() as running:
        yield running


@pytest.fixture
def house(tmp_path: Path, mosquitto: Mosquitto, receiver: Receiver) -> Iterator[House]:
    home = house_of_two(tmp_path, mosquitto.port, receiver)
    yield home
    home.service.stop()


class Told:
    """What the receiver got, as JSON."""

    def __init__(self, receiver: Receiver) -> None:
        self._receiver = receiver

    def to(self, person: str) -> list[dict[str, Any]]:
        return [each.json() for each in self._receiver.received if each.path == f"/{person}"]


def press(url: str, note: str = "") -> httpx.Response:
    headers = {"Sec-Fetch-Site": "same-origin", "Origin": "null"}
    return httpx.post(url, data={"answer": "acknowledge", "note": note}, headers=headers, timeout=60)


def test_a_drift_is_acknowledged_by_the_link_and_an_old_link_is_not_enough(
    house: House, mosquitto: Mosquitto, receiver: Receiver
) -> None:
    house.start()
    probe, told, sent = Probe(mosquitto.port), Told(receiver), 0
    start_ms = now_ms() - (CALM_MIN + 2 * DRIFT_MIN + 2 * BACK_MIN) * MINUTE_MS

    def minutes(count: int, value: float) -> None:
        nonlocal sent
        probe.temperatures((start_ms + minute * MINUTE_MS, value) for minute in range(sent, sent + count))
        sent += count
        house.settle(sent)

    minutes(CALM_MIN, 28.5)
    minutes(DRIFT_MIN, 31.2)
    [first] = told.to("ana")
    assert first["body"].splitlines()[-1] == first["acknowledge_url"]
    minutes(BACK_MIN, 28.6)
    minutes(DRIFT_MIN, 31.2)

    # A link outlives the daemon that sent it.
    house.service.kill()
    house.start()
    page = httpx.get(first["acknowledge_url"], timeout=60)
    assert "Things have changed since the message that you opened." in page.text
    refused = press(first["acknowledge_url"])
    assert "That was an older call; the alarm is unacknowledged now." in refused.text
    newer = first["acknowledge_url"].partition("/a/")[0] + action_of(refused.text)
    assert newer != first["acknowledge_url"]
    taken = press(newer, "door was open")
    assert "Noted, Ana: you see to it" in taken.text
    assert action_of(taken.text) == ""
    assert "Ana has acknowledged it already." in press(newer).text

    minutes(BACK_MIN, 28.6)
    probe.close()
    assert told.to("ana")[-1]["kind"] == "cleared"
    assert not any(each["acknowledge_url"] for each in told.to("ana") if each["kind"] == "cleared")
    assert_story(house)
    tokens = [each.rpartition("/")[2] for each in (first["acknowledge_url"], newer)]
    assert_no_secret(texts_of(house), tokens)


def assert_story(house: House) -> None:
    """Who did what is in the journal, in order, and nobody is called any more."""
    checked = check_site(house.folder)
    assert checked.site is not None
    with Journal.open(house.journal_path) as journal, journal.read() as conn:
        desk = DeskWork(checked.site, checked.profiles).read(conn)
        records = [each for each in alarm_records.newest(conn, 1000)[::-1] if each.alarm_key == HIGH]
    answers = [(each.who, each.accepted, each.after) for each in records if each.event == "acknowledge"]
    assert answers == [
        ("ana", False, "unacknowledged"),
        ("ana", True, "acknowledged"),
        ("ana", False, "acknowledged"),
    ]
    assert any("door was open" in each.reason for each in records if each.who == "ana")
    assert not any(each.pace is LadderPace.CALL for each in desk.ladders.values())
    assert HIGH not in desk.entries


def texts_of(house: House) -> list[str]:
    """Whatever the daemon shows or writes down."""
    pages = [house.read(path).text for path in ("/", "/health", "/messages", "/api/messages")]
    with Journal.open(house.journal_path) as journal, journal.read() as conn:
        tables = [name for (name,) in conn.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        rows = [repr(row) for name in tables for row in conn.execute(f"SELECT * FROM {name}").fetchall()]
    return [*pages, *rows, house.service.output()]
