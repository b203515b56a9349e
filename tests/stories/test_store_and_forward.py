"""The broker is away for an hour, and the probe keeps what it measures: nothing is lost, doubled or cried over.

Real broker, real daemon with a clock that the test sets, and the project's own publisher.
"""

import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from config.check import check_site
from daemon.alarms.lateness import QUIET_MS
from daemon.clutches import register
from daemon.evaluate import Evaluator
from daemon.storage import samples
from daemon.storage.journal import Journal
from sensors.decoder import Decoder
from sensors.publisher import ProbePublisher
from sensors.reading import Reading
from tests.support.clocked import ClockedHouse
from tests.support.household import DAY_MS, MINUTE_MS, a_clutch, now_ms, write_site
from tests.support.mosquitto import Mosquitto
from tests.support.processes import wait_until
from tests.support.receiver import Receiver

pytestmark = pytest.mark.services

AIR = "north-air/air"
GOOD_C, WARM_C = 28.5, 31.2
"""The species of the household wants 24 to 30 °C."""
BEFORE, AWAY, AFTER = 10, 60, 15
HOT = range(BEFORE + 20, BEFORE + 40)


@pytest.fixture
def receiver() -> Iterator[Receiver]:
    with Receiver() as running:
        yield running


@pytest.fixture
def house(tmp_path: Path, mosquitto: Mosquitto, receiver: Receiver) -> Iterator[ClockedHouse]:
    home = ClockedHouse(write_site(tmp_path / "site", mosquitto.port, receiver.url("/phone")), rate=20.0)
    yield home
    home.service.stop()


def value(minute: int) -> float:
    return WARM_C if minute in HOT else GOOD_C


def heat_of(journal: Journal) -> list[tuple[float, ...]]:
    with journal.read() as conn:
        return conn.execute("SELECT * FROM heat_hour ORDER BY 1, 2").fetchall()


def heat_without_a_break(house: ClockedHouse, folder: Path, start_ms: int) -> list[tuple[float, ...]]:
    """The same readings, each of which arrives when it is measured."""
    checked = check_site(house.folder)
    assert checked.site is not None
    assert checked.settings is not None
    channels = dict(Decoder(checked.site).channels)
    with Journal.open(folder / "unbroken.sqlite3") as journal:
        journal.write(lambda conn: register.add_clutch(conn, a_clutch(start_ms - DAY_MS), "test", start_ms))
        ids = journal.write(lambda conn: samples.channel_ids(conn, channels.values()))
        whole = Evaluator(journal, checked.site, checked.settings, dict(checked.profiles), channels, start_ms)
        for minute in range(BEFORE + AWAY + AFTER):
            at_ms = start_ms + minute * MINUTE_MS
            row = Reading(AIR, at_ms, at_ms, value(minute), 0)
            journal.write(lambda conn, row=row: samples.append(conn, ids, [row]))  # type: ignore[misc]
            whole.step(lambda at_ms=at_ms: at_ms)  # type: ignore[misc]
        return heat_of(journal)


def test_an_hour_without_a_broker_leaves_a_complete_record_and_one_message(
    house: ClockedHouse, mosquitto: Mosquitto, receiver: Receiver, tmp_path: Path
) -> None:
    start_ms = now_ms() - now_ms() % (60 * MINUTE_MS) - 3 * DAY_MS
    house.clock.set_to(start_ms)
    house.enter(a_clutch(start_ms - DAY_MS))
    house.start()
    agent = ProbePublisher("north-air", "127.0.0.1", mosquitto.port, pause_s=(0.1, 0.5))
    agent.start()

    def minutes(span: range) -> None:
        for minute in span:
            at_ms = start_ms + minute * MINUTE_MS
            house.clock.set_to(at_ms + 100)
            agent.publish(at_ms, {"air": (value(minute), "Cel")})
            if agent.connected:
                assert agent.flush(20)
                wait_until(lambda minute=minute: len(house.stored()) == minute + 1, "the reading", 20)  # type: ignore[misc]

    wait_until(lambda: agent.connected, "the probe to connect", 60)
    minutes(range(BEFORE))
    mosquitto.stop()
    wait_until(lambda: not agent.connected, "the probe to notice", 60)
    minutes(range(BEFORE, BEFORE + AWAY))
    assert agent.waiting == AWAY
    begun_s = time.monotonic()
    mosquitto.start()
    assert agent.flush(60)
    wait_until(lambda: len(house.stored()) == BEFORE + AWAY, "the hour that was kept", 60)
    came_in_s = time.monotonic() - begun_s
    minutes(range(BEFORE + AWAY, BEFORE + AWAY + AFTER))
    agent.stop()

    def about_heat() -> list[dict[str, Any]]:
        return [one.json() for one in receiver.received if one.json()["alarm"] == "temperature-high"]

    wait_until(lambda: "cleared" in [each["kind"] for each in about_heat()], "the message about the warm minutes", 60)
    whole = [(AIR, start_ms + minute * MINUTE_MS, value(minute), 0) for minute in range(BEFORE + AWAY + AFTER)]
    # By the order of storing, so: none is missing, none is there twice, and they came in order.
    assert house.stored() == whole
    assert agent.dropped == 0
    events = [each for each in house.events() if each.alarm_key == f"temperature-high:{AIR}"]
    kinds = [each["kind"] for each in about_heat()]
    # What came in at once is found afterwards. Where it came with a pause, the alarm may have been due before its end.
    if came_in_s * 1000 < QUIET_MS or events[0].event != "raised":
        assert [each.event for each in events] == ["found afterwards", "cleared"]
        assert events[0].at_ms == start_ms + HOT.start * MINUTE_MS
        assert kinds == ["cleared"]
        [body] = [one.json()["body"] for one in receiver.received if "Found afterwards" in one.json()["body"]]
        assert "North cabinet, upper shelf was 31.2 °C at most, above its limit of 30.0 °C" in body
    else:
        assert [each.event for each in events] == ["raised", "cleared"]
        assert kinds in (["alarm", "cleared"], ["cleared"])
    house.service.stop()
    with closing(Journal.open(house.journal_path)) as journal:
        assert heat_of(journal) == heat_without_a_break(house, tmp_path, start_ms)
