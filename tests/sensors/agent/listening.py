"""Whoever listens to the agent: a subscriber with a lasting session, and the project's own decoder and journal."""

import json
import threading
from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import paho.mqtt.client as paho
from paho.mqtt.enums import CallbackAPIVersion

from config.words import Quantity
from daemon.arrival import Arrival
from daemon.ingest import store_batch
from daemon.storage import messages, samples
from daemon.storage.journal import Journal
from sensors.decoder import Decoder
from sensors.reading import Outcome
from tests.sensors.example_site import one_probe
from tests.support.mosquitto import Mosquitto

MEASURE, STATUS, STATE = (f"clutchwarden/north-air/{leaf}" for leaf in ("measure", "status", "agent"))
SITE = one_probe("north-air", t=Quantity.AIR_TEMPERATURE, door=Quantity.DOOR)


class Listener:
    """Keeps what arrives, in order."""

    def __init__(self, broker: Mosquitto) -> None:
        self.found: list[tuple[str, bytes]] = []
        self.subscribed = threading.Event()
        self.client = paho.Client(CallbackAPIVersion.VERSION2, client_id="listener", clean_session=False)
        self.client.on_connect = lambda client, *_: client.subscribe("clutchwarden/#", qos=1)
        self.client.on_subscribe = lambda *_: self.subscribed.set()
        self.client.on_message = self._on_message
        self.client.reconnect_delay_set(1, 1)
        self.client.connect(broker.host, broker.port)
        self.client.loop_start()

    def _on_message(self, _client: paho.Client, _data: Any, message: paho.MQTTMessage) -> None:
        self.found.append((message.topic, bytes(message.payload)))

    def of(self, topic: str) -> list[bytes]:
        return [payload for found, payload in self.found if found == topic]

    def numbers(self) -> list[int]:
        return [number_of(payload) for payload in self.of(MEASURE)]


@contextmanager
def listening(broker: Mosquitto) -> Iterator[Listener]:
    listener = Listener(broker)
    assert listener.subscribed.wait(10)
    try:
        yield listener
    finally:
        listener.client.disconnect()
        listener.client.loop_stop()


def number_of(payload: bytes) -> int:
    """The number that a message carries."""
    return next(int(record["v"]) for record in json.loads(payload) if record.get("n") == "seq")


def state_of(payload: bytes) -> dict[str, Any]:
    """What the agent says of itself, by name."""
    return {record["n"]: record.get("v", record.get("vs")) for record in json.loads(payload)}


def stored(folder: Path, payloads: Sequence[bytes], now_ms: int) -> tuple[list[tuple[int, float]], Counter[Outcome]]:
    """Take messages into a real journal as the daemon does; gives moments and values in it, and the outcomes."""
    decoder = Decoder(SITE)
    with Journal.open(folder / "journal.sqlite3") as journal:
        ids = journal.write(lambda conn: samples.channel_ids(conn, decoder.channels.values()))
        for first in range(0, len(payloads), 100):
            arrivals = [
                Arrival(MEASURE, payload, False, now_ms, decoder.decode(MEASURE, payload, False, now_ms), at, 1)
                for at, payload in enumerate(payloads[first : first + 100], first + 1)
            ]
            journal.write(lambda conn, arrivals=arrivals: store_batch(conn, ids, arrivals))  # type: ignore[misc]
        with journal.read() as conn:
            rows = conn.execute("SELECT measured_at_ms, value FROM sample ORDER BY measured_at_ms").fetchall()
            return [(row[0], row[1]) for row in rows], Counter(messages.outcome_counts(conn))
