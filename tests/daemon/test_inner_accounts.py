"""Enrolled probes at the inner broker: the same rule as at Mosquitto, and no way round it by the session of another."""

import gc
from collections.abc import Iterator
from pathlib import Path

import paho.mqtt.client as paho
import pytest
from amqtt.session import Session
from paho.mqtt.enums import CallbackAPIVersion

from config.settings import BrokerSettings
from daemon.embedded import EmbeddedBroker, own_place
from daemon.enrol import enrolment
from daemon.enrol_inner import FILE
from sensors.topics import AGENT_ID
from tests.support.enrolled import MORE
from tests.support.household import SITE
from tests.support.mqtt_client import LONG, Client
from tests.support.processes import free_port, wait_until

REFUSED_SUBSCRIPTION = 0x80
OWN = "clutchwarden/north-air/measure"


class House:
    """The inner broker with its accounts, and the words that are known."""

    def __init__(self, folder: Path) -> None:
        (folder / "site.toml").write_text(SITE + MORE)
        settings = '[broker]\nembedded = true\nhost = "0.0.0.0"\nusername = "warden"\npassword_file = "secrets/word"\n'
        (folder / "settings.toml").write_text(settings)
        self.desk = enrolment(folder)
        self.port = free_port()
        self.broker = EmbeddedBroker("127.0.0.1", self.port, "warden", "a word of passage", folder / FILE)
        self.words = {"warden": "a word of passage"}

    def client(self, name: str | None, client_id: str, *, word: str = "", will: str = "") -> Client:
        """A connection by MQTT 3.1.1, with a lasting session."""
        made = paho.Client(
            CallbackAPIVersion.VERSION2, client_id=client_id, clean_session=False, reconnect_on_failure=False
        )
        if name is not None:
            made.username_pw_set(name, word or self.words.get(name, ""))
        if will:
            made.will_set(will, b"offline", qos=1)
        return Client(made, "127.0.0.1", self.port)


@pytest.fixture
def house(tmp_path: Path) -> Iterator[House]:
    house = House(tmp_path)
    house.broker.start()
    yield house
    house.broker.stop()


def test_an_enrolled_probe_sends_to_its_own_topics_and_is_nobody_else(house: House) -> None:
    for name in ("north-air", "north-lid"):
        house.words[name] = house.desk.enrol(name, again=False).password
    daemon, probe = house.client("warden", "daemon"), house.client("north-air", "some-board")
    assert daemon.is_in
    assert probe.is_in
    assert daemon.hear("#") != REFUSED_SUBSCRIPTION
    assert probe.hear("#") == REFUSED_SUBSCRIPTION
    for number, topic in enumerate(["clutchwarden/north-lid/measure", "elsewhere/t", "clutchwarden/north-air/more"]):
        probe.say(topic, str(number).encode())
    probe.say(OWN, b"own")
    wait_until(lambda: daemon.heard == [(OWN, b"own")], f"its own alone; {daemon.heard}", LONG)

    for stranger in ("north-air", "nobody", None):
        assert not house.client(stranger, "stranger", word="guessed").is_in
    assert not house.client("north-lid", "with-a-will", will="clutchwarden/north-air/status").is_in
    assert not house.client("north-lid", f"{AGENT_ID}north-air").is_in
    assert house.client("north-lid", f"{AGENT_ID}north-lid", will="clutchwarden/north-lid/status").is_in

    # The library gives a session away by its client id before it asks for a password.
    assert not house.client("warden", "some-board", word="guessed", will="clutchwarden/north-lid/measure").is_in
    probe.say(OWN, b"still here")
    wait_until(lambda: len(daemon.heard) > 1, "the connection as it was", LONG)
    probe.leave()
    probe = house.client("north-air", "some-board")
    probe.say("clutchwarden/north-lid/measure", b"as the daemon")
    house.desk.dismiss("north-air")
    probe.say(OWN, b"dismissed")
    lid = house.client("north-lid", "other-board")
    lid.say("clutchwarden/north-lid/measure", b"last")
    wait_until(lambda: bool(daemon.heard) and daemon.heard[-1][1] == b"last", "the last one", LONG)
    assert [payload for _, payload in daemon.heard] == [b"own", b"still here", b"last"]
    assert not house.client("north-air", "some-board").is_in
    for each in (daemon, probe, lid):
        each.leave()


# What other tests of the same process have left to be collected is collected here too.
@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
def test_nothing_is_kept_of_who_is_turned_away(house: House) -> None:
    def sessions() -> int:
        gc.collect()
        return sum(isinstance(each, Session) for each in gc.get_objects())

    house.client("warden", "daemon").leave()
    before = sessions()
    for number in range(20):
        assert not house.client("nobody", f"board-{number}", word="guessed").is_in
    wait_until(lambda: sessions() <= before + 2, f"the sessions of 20 strangers to be gone; before: {before}", LONG)


def test_nobody_can_guess_the_session_of_the_daemon_at_the_inner_broker() -> None:
    inner = BrokerSettings.model_validate({"embedded": True})
    found = {own_place(inner).client_id for _ in range(3)}
    assert len(found) == 3
    assert all(len(client_id) >= len(inner.client_id) + 24 for client_id in found)
    outer = BrokerSettings()
    assert own_place(outer) == outer
