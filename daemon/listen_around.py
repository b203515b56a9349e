"""Hears everything that a broker has for a short time, on the wish of a keeper: devices whose topics nobody knows yet.

A client of its own, with a name of its own and a session that ends with it: what the daemon listens to, and what the
broker keeps for it, is not touched. Messages come at QoS 0, and so many of them at the most.
"""

import logging
import threading
import time
import uuid
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any

import paho.mqtt.client as paho
from paho.mqtt.enums import CallbackAPIVersion, MQTTErrorCode, MQTTProtocolVersion

from config.settings import BrokerSettings
from daemon.buffered_client import introduce
from daemon.probe_values import Listening, UnknownTopic
from daemon.recent_messages import LARGEST_BYTES, RawMessage
from daemon.take_up import own_probe

log = logging.getLogger("clutchwarden.broker")

SECONDS = 120.0
MOST_TOPICS = 200
MOST_MESSAGES = 20_000
KEPT_OF_EACH = 6
TIMES_OF_EACH = 20
_CONNECT_S = 10.0
_TURN_S = 0.25


@dataclass(slots=True)
class HeardTopic:
    """What was heard on one topic."""

    count: int = 0
    first_ms: int = 0
    times_ms: deque[int] = field(default_factory=lambda: deque(maxlen=TIMES_OF_EACH))
    payloads: deque[bytes] = field(default_factory=lambda: deque(maxlen=KEPT_OF_EACH))


class ListenAround:
    """Listens once at a time. Safe to use from several threads.

    `topics`: what was heard the last time; it stays until the next time, also where the daemon starts anew meanwhile.
    """

    def __init__(
        self,
        broker: BrokerSettings,
        password: str | None,
        now_ms: Callable[[], int],
        topics: dict[str, HeardTopic],
        seconds: float = SECONDS,
    ) -> None:
        self._broker = broker
        self._password = password
        self._now_ms = now_ms
        self._seconds = seconds
        self._lock = threading.Lock()
        self._stop = threading.Event()
        self._thread: threading.Thread | None = None
        self._topics = topics
        self._state = Listening()
        self._until_s = 0.0

    def start(self) -> None:
        """Begin, where it does not listen already; returns at once."""
        with self._lock:
            if self._thread is not None and self._thread.is_alive():
                return
            self._topics.clear()
            self._stop.clear()
            self._until_s = time.monotonic() + self._seconds
            self._state = Listening(left_s=self._seconds)
            self._thread = threading.Thread(target=self._run, name="listen-around", daemon=True)
            self._thread.start()

    def stop(self) -> None:
        """End at once."""
        self._stop.set()
        if self._thread is not None:
            self._thread.join(_CONNECT_S + 1)

    def look(self) -> tuple[Listening, tuple[UnknownTopic, ...]]:
        """Give whether it listens, and every topic that was heard, the most often heard first."""
        with self._lock:
            found = [
                UnknownTopic(
                    topic=topic,
                    probe=own_probe(topic),
                    count=heard.count,
                    first_ms=heard.first_ms,
                    last_ms=heard.times_ms[-1],
                    newest=RawMessage(topic, heard.times_ms[-1], heard.payloads[-1]),
                    times_ms=tuple(heard.times_ms),
                    payloads=tuple(reversed(heard.payloads)),
                )
                for topic, heard in self._topics.items()
            ]
            state = self._state
            if state.left_s is not None:
                state = replace(state, left_s=max(0.0, self._until_s - time.monotonic()))
            return state, tuple(sorted(found, key=lambda each: -each.count))

    def _run(self) -> None:
        try:
            ended = self._listen()
        except OSError as error:
            ended = f"The broker cannot be reached ({error.strerror or error})."
        except Exception:
            log.exception("Listening to everything ended by a fault in the program")
            ended = "It ended by a fault in the program; the log says more."
        with self._lock:
            self._state = Listening(None, self._state.heard, ended)

    def _listen(self) -> str:
        """Listen until the time or the room is up; gives why it ended."""
        client, refused, subscribed = self._client()
        connect_until_s = time.monotonic() + _CONNECT_S
        client.connect(self._broker.host, self._broker.port, int(self._broker.keep_alive_s))
        try:
            while not self._stop.is_set() and time.monotonic() < self._until_s:
                code = client.loop(_TURN_S)
                if refused:
                    return f"The broker refused it: {refused[0]}."
                if code is not MQTTErrorCode.MQTT_ERR_SUCCESS:
                    return f"The connection ended: {paho.error_string(code).rstrip('.').lower()}."
                if not subscribed and time.monotonic() > connect_until_s:
                    return "The broker did not answer."
                if self._state.heard >= MOST_MESSAGES:
                    return f"It ended early: {MOST_MESSAGES:,} messages came."
        finally:
            client.disconnect()
        return "It has ended."

    def _client(self) -> tuple[paho.Client, list[str], list[bool]]:
        refused: list[str] = []
        subscribed: list[bool] = []
        five = self._broker.protocol == "5"
        client = paho.Client(
            CallbackAPIVersion.VERSION2,
            client_id=f"clutchwarden-{uuid.uuid4().hex[:10]}",
            clean_session=None if five else True,
            protocol=MQTTProtocolVersion.MQTTv5 if five else MQTTProtocolVersion.MQTTv311,
        )
        introduce(client, self._broker, self._password)

        def on_connect(one: paho.Client, _data: Any, _flags: Any, reason: Any, _properties: Any) -> None:
            if reason.is_failure:
                refused.append(reason.getName().lower())
            else:
                one.subscribe("#", 0)

        def on_subscribe(_client: Any, _data: Any, _mid: Any, reasons: Any, _properties: Any) -> None:
            refusals = [reason.getName().lower() for reason in reasons if reason.is_failure]
            refused.extend(refusals)
            subscribed.append(not refusals)

        client.on_connect = on_connect
        client.on_subscribe = on_subscribe
        client.on_message = lambda _client, _data, message: self._heard(message.topic, bytes(message.payload))
        return client, refused, subscribed

    def _heard(self, topic: str, payload: bytes) -> None:
        now_ms = self._now_ms()
        with self._lock:
            self._state = replace(self._state, heard=self._state.heard + 1)
            if topic not in self._topics and len(self._topics) >= MOST_TOPICS:
                return
            heard = self._topics.setdefault(topic, HeardTopic(first_ms=now_ms))
            heard.count += 1
            heard.times_ms.append(now_ms)
            heard.payloads.append(payload[:LARGEST_BYTES])
