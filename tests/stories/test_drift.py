"""From a drifting incubator to a phone: real broker, real daemon process, real HTTP receiver."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.support.household import MINUTE_MS, House, Probe, a_clutch, now_ms, write_site
from tests.support.mosquitto import Mosquitto
from tests.support.processes import wait_until
from tests.support.receiver import Receiver

pytestmark = pytest.mark.services

START_MIN, DRIFT_MIN, BACK_MIN = 90, 60, 40


@pytest.fixture
def receiver() -> Iterator[Receiver]:
    with Receiver() as running:
        yield running


@pytest.fixture
def house(tmp_path: Path, mosquitto: Mosquitto, receiver: Receiver) -> Iterator[House]:
    home = House(write_site(tmp_path / "site", mosquitto.port, receiver.url("/phone")))
    home.enter(a_clutch(now_ms() - 10 * 86_400_000))
    yield home
    home.service.stop()


def drift_and_return(end_ms: int) -> list[tuple[int, float]]:
    """A reading a minute: in range, an hour at 31.2 where 30.0 is the most, in range again."""
    start_ms = end_ms - (START_MIN + BACK_MIN + DRIFT_MIN) * MINUTE_MS
    values = [28.5] * START_MIN + [31.2] * DRIFT_MIN + [28.6] * BACK_MIN
    return [(start_ms + minute * MINUTE_MS, value) for minute, value in enumerate(values)]


def test_a_drift_is_told_once_with_the_right_text_and_its_end_once(
    house: House, mosquitto: Mosquitto, receiver: Receiver
) -> None:
    house.start()
    probe = Probe(mosquitto.port)
    series = drift_and_return(now_ms())
    until_return = START_MIN + DRIFT_MIN

    probe.temperatures(series[:until_return])
    house.settle(until_return)
    [alert] = [request.json() for request in receiver.received]
    assert alert["kind"] == "alarm"
    assert alert["status"] == "actual"
    assert alert["alarm"] == "temperature-high"
    assert alert["headline"] == "URGENT North cabinet, upper shelf: 31.2 °C, too warm"
    assert alert["limit"] == 30.0
    lines = alert["body"].splitlines()
    assert lines[0].startswith("Limit 30.0 °C. Since ")
    assert lines[1] == "Check the room and the thermostat setting, and let some warm air out."
    assert lines[2] == "Time left: unknown, look within the hour."
    assert "Inside: Juniper." in lines

    probe.temperatures(series[until_return:])
    house.settle(len(series))
    probe.close()
    kinds = [request.json()["kind"] for request in receiver.received]
    assert kinds == ["alarm", "cleared"]
    cleared = receiver.received[1].json()
    assert cleared["headline"] == "CLEARED North cabinet, upper shelf: 28.6 °C, was too warm"
    assert cleared["occurrence"] == alert["occurrence"]
    assert [event.event for event in house.events()] == ["raised", "cleared"]


def test_a_kill_between_publish_and_acknowledgement_loses_nothing_and_tells_nothing_twice(
    house: House, mosquitto: Mosquitto, receiver: Receiver
) -> None:
    house.start()
    probe = Probe(mosquitto.port)
    series = drift_and_return(now_ms())
    sent = 0
    for share in (0.3, 0.55, 0.7, 0.95):
        # The broker delivers to a daemon that stands still, so nothing of this part is acknowledged ...
        house.service.pause()
        until = int(len(series) * share)
        probe.temperatures(series[sent:until])
        sent = until
        # ... and then it is killed.
        house.service.kill()
        house.start()
    probe.temperatures(series[sent:])
    house.settle(len(series))
    probe.close()
    wait_until(lambda: len(receiver.received) > 0, "the message about the drift", 120)

    assert house.stored() == [("north-air/air", at_ms, value, 0) for at_ms, value in series]
    # Where the drift and its end were both in what waited, it is found afterwards: the call would be to what is over.
    # What was sent just before a kill is sent again under the same name: each once.
    told = list({each.json()["message_id"]: each.json() for each in receiver.received}.values())
    kinds = [each["kind"] for each in told]
    assert kinds in (["alarm", "cleared"], ["cleared"])
    assert "31.2 °C" in told[-1]["body"]
    events = [event.event for event in house.events()]
    # A start that takes longer than a held alarm waits: it was due before its end was read, and is told by its end.
    assert events[-1] == "cleared"
    assert events[:-1] in ([["raised"]] if "alarm" in kinds else [["found afterwards"], ["raised"]])
