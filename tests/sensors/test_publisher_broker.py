"""The publisher against a real broker: what arrives, the Last Will, and a broker that goes and comes back."""

import json
import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from itertools import pairwise
from typing import Any, Literal

import paho.mqtt.client as paho
import pytest
from paho.mqtt.enums import CallbackAPIVersion

from config.model import ChannelSpec, Incubator, Probe, Site
from config.words import Quantity
from sensors import feed
from sensors.decoder import Decoder
from sensors.feed import run_feed
from sensors.publisher import ProbePublisher
from sensors.reading import Accepted
from tests.support.mosquitto import Mosquitto
from tests.support.processes import wait_until

pytestmark = pytest.mark.services

MOMENT_MS = 1_780_000_000_123
PAUSE_S = (0.02, 0.1)
MEASURE, STATUS = "clutchwarden/north-air/measure", "clutchwarden/north-air/status"


class Listener:
    """A subscriber with a lasting session; keeps what arrives, in order."""

    def __init__(self, broker: Mosquitto) -> None:
        self.messages: list[tuple[str, bytes, bool]] = []
        self.subscribed = threading.Event()
        client = paho.Client(CallbackAPIVersion.VERSION2, client_id="listener", clean_session=False)
        client.on_connect = self._on_connect
        client.on_subscribe = self._on_subscribe
        client.on_message = self._on_message
        client.reconnect_delay_set(1, 1)
        client.connect(broker.host, broker.port)
        client.loop_start()
        self.client = client

    def _on_connect(self, client: paho.Client, *_: Any) -> None:
        client.subscribe("clutchwarden/#", qos=1)

    def _on_subscribe(self, *_: Any) -> None:
        self.subscribed.set()

    def _on_message(self, _client: paho.Client, _data: Any, message: paho.MQTTMessage) -> None:
        found = message.topic, bytes(message.payload), message.retain
        # After a restart the broker repeats, marked as such, what this listener had no time to acknowledge. A reading
        # that the publisher sent twice carries no mark here (MQTT 5.0, clause 3.3.1.1) and is kept twice.
        if not (message.dup and found in self.messages):
            self.messages.append(found)

    def of(self, topic: str) -> list[bytes]:
        return [payload for found, payload, _ in self.messages if found == topic]

    def values(self) -> list[float]:
        return [json.loads(payload)[0]["v"] for payload in self.of(MEASURE)]


@contextmanager
def listening(broker: Mosquitto) -> Iterator[Listener]:
    listener = Listener(broker)
    assert listener.subscribed.wait(10)
    try:
        yield listener
    finally:
        listener.client.disconnect()
        listener.client.loop_stop()


class Relay:
    """A stretch of network between probe and broker that a test can cut."""

    host = "127.0.0.1"

    def __init__(self, broker: Mosquitto) -> None:
        self._broker = broker
        self._server = socket.create_server((self.host, 0))
        self.port: int = self._server.getsockname()[1]
        self._ends: list[socket.socket] = []
        threading.Thread(target=self._accept, name="relay", daemon=True).start()

    def _accept(self) -> None:
        with suppress(OSError):
            while True:
                near, _ = self._server.accept()
                far = socket.create_connection((self._broker.host, self._broker.port))
                self._ends += [near, far]
                for source, target in ((near, far), (far, near)):
                    threading.Thread(target=self._carry, args=(source, target), daemon=True).start()

    @staticmethod
    def _carry(source: socket.socket, target: socket.socket) -> None:
        with suppress(OSError):
            while data := source.recv(4096):
                target.sendall(data)
        for end in (source, target):
            with suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)

    def cut(self) -> None:
        """End every connection, without a word of MQTT."""
        ends, self._ends = self._ends, []
        for end in ends:
            with suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)
            end.close()

    def close(self) -> None:
        """Cut, and take no more connections."""
        with suppress(OSError):
            self._server.shutdown(socket.SHUT_RDWR)
        self._server.close()
        self.cut()


@contextmanager
def relaying(broker: Mosquitto) -> Iterator[Relay]:
    relay = Relay(broker)
    try:
        yield relay
    finally:
        relay.close()


@contextmanager
def publishing(broker: Mosquitto | Relay, protocol: Literal["5", "3.1.1"] = "5") -> Iterator[ProbePublisher]:
    publisher = ProbePublisher("north-air", broker.host, broker.port, protocol=protocol, pause_s=PAUSE_S)
    publisher.start()
    try:
        yield publisher
    finally:
        publisher.stop()


def retained_status(broker: Mosquitto) -> bytes:
    """What somebody who comes later is told."""
    found: list[bytes] = []
    arrived = threading.Event()
    client = paho.Client(CallbackAPIVersion.VERSION2)

    def on_connect(client: paho.Client, *_: Any) -> None:
        client.subscribe(STATUS)

    def on_message(_client: paho.Client, _data: Any, message: paho.MQTTMessage) -> None:
        if message.retain:
            found.append(bytes(message.payload))
            arrived.set()

    client.on_connect, client.on_message = on_connect, on_message
    client.connect(broker.host, broker.port)
    client.loop_start()
    assert arrived.wait(10)
    client.disconnect()
    client.loop_stop()
    return found[0]


def eventually(condition: Callable[[], bool], what: str) -> None:
    wait_until(condition, what, 20)


@pytest.mark.parametrize("protocol", ["5", "3.1.1"])
def test_a_reading_arrives_as_senml_and_the_site_understands_it(
    mosquitto: Mosquitto, protocol: Literal["5", "3.1.1"]
) -> None:
    with listening(mosquitto) as listener, publishing(mosquitto, protocol) as publisher:
        publisher.publish(MOMENT_MS, {"t": (30.25, "Cel"), "rh": (84.6, "%RH")})
        assert publisher.flush(10)
        eventually(lambda: bool(listener.of(MEASURE)), "the reading")
    payload = listener.of(MEASURE)[0]
    assert json.loads(payload) == [
        {"bt": 1_780_000_000.123, "n": "t", "u": "Cel", "v": 30.25},
        {"n": "rh", "u": "%RH", "v": 84.6},
    ]
    channels = (
        ChannelSpec(name="t", quantity=Quantity.AIR_TEMPERATURE),
        ChannelSpec(name="rh", quantity=Quantity.RELATIVE_HUMIDITY),
    )
    probe = Probe(id="north-air", place="north", channels=channels)
    site = Site(name="Barn", time_zone="UTC", incubators=(Incubator(id="north", name="North"),), probes=(probe,))
    decoded = Decoder(site).decode(MEASURE, payload, retained=False, received_at_ms=MOMENT_MS + 40)
    assert isinstance(decoded, Accepted)
    assert {(one.channel, one.measured_at_ms, one.value) for one in decoded.readings} == {
        ("north-air/t", MOMENT_MS, 30.25),
        ("north-air/rh", MOMENT_MS, 84.6),
    }


@pytest.mark.parametrize("protocol", ["5", "3.1.1"])
def test_the_status_is_retained_online_and_offline_after_a_goodbye(
    mosquitto: Mosquitto, protocol: Literal["5", "3.1.1"]
) -> None:
    with listening(mosquitto) as listener:
        with publishing(mosquitto, protocol):
            eventually(lambda: listener.of(STATUS) == [b"online"], "online")
            assert retained_status(mosquitto) == b"online"
        eventually(lambda: listener.of(STATUS) == [b"online", b"offline"], "offline")
        assert retained_status(mosquitto) == b"offline"


@pytest.mark.parametrize("protocol", ["5", "3.1.1"])
def test_a_connection_cut_without_goodbye_leaves_the_last_will(
    mosquitto: Mosquitto, protocol: Literal["5", "3.1.1"]
) -> None:
    with listening(mosquitto) as listener, relaying(mosquitto) as relay, publishing(relay, protocol):
        eventually(lambda: listener.of(STATUS) == [b"online"], "online")
        relay.cut()
        eventually(lambda: listener.of(STATUS)[:2] == [b"online", b"offline"], "the Last Will")
        eventually(lambda: listener.of(STATUS)[:3] == [b"online", b"offline", b"online"], "online again")


def test_connections_cut_under_load_lose_nothing_and_keep_the_order(mosquitto: Mosquitto) -> None:
    with listening(mosquitto) as listener, relaying(mosquitto) as relay, publishing(relay) as publisher:
        for number in range(600):
            publisher.publish(MOMENT_MS + number * 1000, {"t": (float(number), "Cel")})
            if number % 150 == 149:
                eventually(lambda: publisher.connected, "a connection to cut")
                relay.cut()
        assert publisher.flush(20)
        eventually(lambda: 599.0 in listener.values(), "the last reading")
    # QoS 1 is "at least once" (MQTT 5.0, clause 4.3.2): a cut may repeat a reading, never lose or overtake one.
    first_seen = list(dict.fromkeys(listener.values()))
    assert first_seen == [float(number) for number in range(600)]


def test_readings_queued_while_the_broker_was_away_arrive_once_and_in_order(mosquitto: Mosquitto) -> None:
    with listening(mosquitto) as listener, publishing(mosquitto) as publisher:
        publisher.publish(MOMENT_MS, {"t": (0.0, "Cel")})
        assert publisher.flush(10)
        eventually(lambda: listener.values() == [0.0], "the first reading")
        mosquitto.stop()
        eventually(lambda: not publisher.connected, "the loss noticed")
        for number in range(1, 201):
            publisher.publish(MOMENT_MS + number * 1000, {"t": (float(number), "Cel")})
        assert publisher.waiting == 200
        mosquitto.start()
        assert publisher.flush(20)
        eventually(lambda: len(listener.values()) >= 201, "all readings")
        assert listener.values() == [float(number) for number in range(201)]
        assert publisher.dropped == 0


def test_a_broker_that_is_not_there_at_first_gets_everything_later(mosquitto: Mosquitto) -> None:
    with listening(mosquitto) as listener:
        mosquitto.stop()
        with publishing(mosquitto) as publisher:
            for number in range(50):
                publisher.publish(MOMENT_MS + number * 1000, {"t": (float(number), "Cel")})
            mosquitto.start()
            assert publisher.flush(20)
            eventually(lambda: len(listener.values()) >= 50, "all readings")
            assert listener.values() == [float(number) for number in range(50)]


def test_a_simulated_site_is_published_by_all_its_probes(mosquitto: Mosquitto, monkeypatch: pytest.MonkeyPatch) -> None:
    # What a busy machine has not sent by then is given up, which is not what this is about.
    monkeypatch.setattr(feed, "_FLUSH_SECONDS", 60.0)
    channels = (
        ChannelSpec(name="t", quantity=Quantity.AIR_TEMPERATURE),
        ChannelSpec(name="rh", quantity=Quantity.RELATIVE_HUMIDITY),
    )
    probes = tuple(
        Probe(id=name, place="north", interval_s=10, channels=channels) for name in ("north-air", "north-two")
    )
    site = Site(name="Barn", time_zone="UTC", incubators=(Incubator(id="north", name="North"),), probes=probes)
    rate, started = 600.0, time.monotonic()

    def now_ms() -> int:
        return MOMENT_MS + int((time.monotonic() - started) * 1000 * rate)

    with listening(mosquitto) as listener:
        run_feed(
            site,
            mosquitto.host,
            mosquitto.port,
            seed=1,
            rate=rate,
            now_ms=now_ms,
            stop=threading.Event(),
            duration_s=300,
        )
        for probe in probes:
            topic = f"clutchwarden/{probe.id}/measure"
            eventually(lambda topic=topic: len(listener.of(topic)) == 30, f"30 readings of {topic}")  # type: ignore[misc]
            moments = [json.loads(payload)[0]["bt"] for payload in listener.of(topic)]
            assert [round(later - earlier, 3) for earlier, later in pairwise(moments)] == [10.0] * 29
            status = f"clutchwarden/{probe.id}/status"
            eventually(lambda status=status: listener.of(status) == [b"online", b"offline"], status)  # type: ignore[misc]
