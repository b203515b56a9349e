"""Listening to everything for a short time: what is on the broker is found, and nothing of the daemon's is touched."""

from collections.abc import Iterator

import pytest

from config.settings import BrokerSettings
from daemon.listen_around import KEPT_OF_EACH, MOST_TOPICS, ListenAround
from daemon.probe_values import UnknownTopic
from tests.support.household import Probe
from tests.support.mosquitto import Mosquitto
from tests.support.processes import free_port, wait_until

pytestmark = pytest.mark.services
NOW_MS = 1_780_000_000_000


@pytest.fixture(params=["5", "3.1.1"])
def around(mosquitto: Mosquitto, request: pytest.FixtureRequest) -> Iterator[ListenAround]:
    settings = BrokerSettings(port=mosquitto.port, protocol=request.param)
    made = ListenAround(settings, None, lambda: NOW_MS, {}, seconds=60)
    yield made
    made.stop()


def topics(around: ListenAround) -> dict[str, UnknownTopic]:
    return {each.topic: each for each in around.look()[1]}


def test_a_device_that_nobody_knows_is_found(around: ListenAround, mosquitto: Mosquitto) -> None:
    assert around.look()[0].left_s is None
    around.start()
    probe = Probe(mosquitto.port)

    def heard() -> bool:
        probe.send([b'{"t": 28}'], "hut/shelf/state")
        probe.send([b"x" * 9000], "hut/long")
        return {"hut/shelf/state", "hut/long"} <= set(topics(around))

    wait_until(heard, "the device to be heard")
    probe.close()
    found = topics(around)
    assert found["hut/shelf/state"].newest.payload == b'{"t": 28}'
    assert found["hut/shelf/state"].probe is None
    assert len(found["hut/long"].newest.payload) == 4096
    state, _ = around.look()
    assert state.left_s is not None
    assert 0 < state.left_s <= 60
    around.stop()
    state, still = around.look()
    assert state.left_s is None
    assert state.ended
    assert {each.topic for each in still} >= {"hut/shelf/state"}


def test_a_flood_of_topics_takes_no_more_room_than_was_set_aside(around: ListenAround, mosquitto: Mosquitto) -> None:
    around.start()
    probe = Probe(mosquitto.port)

    def heard() -> bool:
        probe.send([b"1"], "first/of/all")
        return "first/of/all" in topics(around)

    wait_until(heard, "the first message")
    for number in range(MOST_TOPICS + 50):
        probe.send([b"1"], f"flood/{number}")
    probe.send([b"1"] * 30, "first/of/all")
    wait_until(lambda: topics(around)["first/of/all"].count > 30, "the last messages")
    probe.close()
    assert len(topics(around)) == MOST_TOPICS
    assert len(topics(around)["first/of/all"].payloads) == KEPT_OF_EACH


def test_its_session_is_its_own_and_leaves_nothing_behind(mosquitto: Mosquitto, around: ListenAround) -> None:
    around.start()
    probe = Probe(mosquitto.port, "clutchwarden")

    def heard() -> bool:
        probe.send([b"1"], "any/thing")
        return bool(topics(around))

    wait_until(heard, "a message")
    around.stop()
    # The name of the daemon is still the other client's: nobody has taken it over.
    probe.send([b"1"], "any/thing")
    probe.close()


def test_without_a_broker_it_says_so(mosquitto: Mosquitto) -> None:
    del mosquitto
    around = ListenAround(BrokerSettings(port=free_port()), None, lambda: NOW_MS, {}, seconds=5)
    around.start()
    wait_until(lambda: around.look()[0].left_s is None, "it to end")
    assert "cannot be reached" in around.look()[0].ended


def test_it_ends_by_itself(mosquitto: Mosquitto) -> None:
    around = ListenAround(BrokerSettings(port=mosquitto.port), None, lambda: NOW_MS, {}, seconds=0.4)
    around.start()
    wait_until(lambda: around.look()[0].left_s is None, "it to end")
    assert around.look()[0].ended == "It has ended."

    def listens_again() -> bool:
        around.start()
        return around.look()[0].left_s is not None

    # Once more where the short time was over before it was asked.
    wait_until(listens_again, "it to listen again")
    around.stop()
