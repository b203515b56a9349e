"""The broker as `deploy/mosquitto` states it: who may come in, who may say what, what outlasts a power cut."""

import json
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import paho.mqtt.client as paho
import pytest
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

from daemon.enrol_file import EnrolError
from tests.support.enrolled import House, opened_house
from tests.support.mqtt_client import LONG, Client
from tests.support.processes import wait_until

pytestmark = pytest.mark.services

NOT_AUTHORISED = 135
"""MQTT 5.0, table 2-6."""
DAY_S = 86_400
MORE_THAN_USUAL = 1_500
"""Mosquitto keeps 1,000 messages for who is away where nothing else is said: mosquitto.conf(5), max_queued_messages."""


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    with opened_house(tmp_path_factory.mktemp("house")) as house:
        # A reload takes a moment; whoever comes before it is turned away.
        wait_until(lambda: all(let_in(house, name) for name in house.passwords), "all to be let in", LONG)
        yield house


@contextmanager
def connected(
    house: House,
    name: str | None,
    *,
    client_id: str = "",
    password: str | None = None,
    tls: bool = False,
    will: str | None = None,
    lasting: bool = False,
) -> Iterator[Client]:
    """A connection by MQTT 5, with the password that was shown where none is given."""
    made = paho.Client(
        CallbackAPIVersion.VERSION2,
        client_id=client_id,
        protocol=MQTTProtocolVersion.MQTTv5,
        reconnect_on_failure=False,
    )
    if name is not None:
        made.username_pw_set(name, house.passwords.get(name) if password is None else password)
    if will is not None:
        made.will_set(will, b"offline", qos=1, retain=True)
    if tls:
        made.tls_set(str(house.broker.authority))
    properties: Any = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call]
    properties.SessionExpiryInterval = DAY_S if lasting else 0
    port = house.broker.tls_port if tls else house.broker.port
    client = Client(made, house.broker.host, port, clean_start=not lasting, properties=properties)
    try:
        yield client
    finally:
        client.leave()


def let_in(house: House, name: str | None, **options: Any) -> bool:
    with connected(house, name, **options) as client:
        return client.is_in


def test_nobody_comes_in_without_the_right_password(house: House) -> None:
    for name, password in ((None, None), ("north-air", "guessed"), ("north-air", ""), ("nobody", "guessed")):
        with connected(house, name, password=password) as client:
            assert client.refused == "Not authorized", (name, password)
    assert not let_in(house, None, tls=True)
    assert let_in(house, "north-air", tls=True)


def test_a_probe_sends_to_its_own_topics_alone_and_hears_nothing(house: House) -> None:
    with connected(house, "clutchwarden") as daemon, connected(house, "north-air") as probe:
        daemon.hear("#")
        probe.hear("#")
        own = [f"clutchwarden/north-air/{leaf}" for leaf in ("measure", "status", "agent")]
        others = [
            "clutchwarden/north-lid/measure",
            "clutchwarden/north-lid/status",
            "clutchwarden/north-air/other",
            "clutchwarden/north-air",
            "clutchwarden/north-air/measure/more",
            "elsewhere/north-air/measure",
        ]
        assert [probe.say(topic) for topic in others] == [NOT_AUTHORISED] * len(others)
        assert NOT_AUTHORISED not in [probe.say(topic) for topic in own]
        with connected(house, "north-lid", will="clutchwarden/north-air/status") as rude:
            assert rude.say("clutchwarden/north-lid/measure") != NOT_AUTHORISED
            rude.leave(rudely=True)
        with connected(house, "north-lid", will="clutchwarden/north-lid/status") as rude:
            rude.leave(rudely=True)
        wait_until(
            lambda: ("clutchwarden/north-lid/status", b"offline") in daemon.heard, "the will that is allowed", LONG
        )
        assert [topic for topic, _ in daemon.heard] == [
            *own,
            "clutchwarden/north-lid/measure",
            "clutchwarden/north-lid/status",
        ]
        assert probe.heard == []


def test_a_probe_cannot_come_in_the_place_of_the_daemon_or_of_another_probe(house: House) -> None:
    with (
        connected(house, "clutchwarden", client_id="clutchwarden") as daemon,
        connected(house, "north-lid", tls=True) as other,
        connected(house, "north-air", tls=True, client_id="clutchwarden") as first,
        connected(house, "north-air", tls=True, client_id="north-lid"),
    ):
        # By now the broker has dealt with the newest of them: the one before it had the same user name.
        assert first.gone.wait(LONG)
        daemon.hear("#")
        assert other.say("clutchwarden/north-lid/measure") != NOT_AUTHORISED
        assert not daemon.gone.is_set()
        assert not other.gone.is_set()


def test_what_came_while_the_daemon_was_away_outlasts_a_power_cut(house: House) -> None:
    sent = [str(number).encode() for number in range(MORE_THAN_USUAL)]
    with connected(house, "clutchwarden", client_id="lasting", lasting=True) as daemon:
        daemon.hear("clutchwarden/north-air/measure")
    with connected(house, "north-air") as probe:
        assert NOT_AUTHORISED not in probe.pour("clutchwarden/north-air/measure", sent)
        house.broker.save()
        house.broker.kill()
    house.broker.start()
    with connected(house, "clutchwarden", client_id="lasting", lasting=True) as daemon:
        wait_until(lambda: len(daemon.heard) >= len(sent), "everything that was kept", LONG)
        assert [payload for _, payload in daemon.heard] == sent


def test_a_new_password_counts_at_once_and_who_is_dismissed_is_put_out(house: House) -> None:
    old = house.passwords["north-lid"]
    with pytest.raises(EnrolError, match="north-lid is enrolled already; nothing was changed"):
        house.enrol("north-lid")
    assert "reads its password file again" in house.enrol("north-lid", "--again")
    wait_until(lambda: let_in(house, "north-lid"), "the new password", LONG)
    assert not let_in(house, "north-lid", password=old)
    with connected(house, "north-lid") as probe:
        assert probe.is_in
        assert "north-lid is not enrolled any more." in house.command("dismiss", "north-lid")
        assert probe.gone.wait(LONG)
    wait_until(lambda: not let_in(house, "north-lid"), "nobody of that name", LONG)
    assert let_in(house, "north-air")
    standing = {row["name"]: row["standing"] for row in json.loads(house.command("enroll", "--list", "--json"))}
    assert standing == {"north-air": "enrolled", "north-lid": "not enrolled", "clutchwarden": "the daemon itself"}
