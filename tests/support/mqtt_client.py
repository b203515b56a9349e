"""A client of a broker for tests of brokers: what it hears, and what it is answered."""

import threading
from collections.abc import Sequence
from typing import Any

import paho.mqtt.client as paho

from tests.support.processes import wait_until

LONG = 60.0


class Client:
    """One connection. `refused`: in the broker's words, None for who was let in; `answers` to what it sent."""

    def __init__(self, client: paho.Client, host: str, port: int, **options: Any) -> None:
        self.heard: list[tuple[str, bytes]] = []
        self.answers: list[int] = []
        self.granted: list[int] = []
        self.refused: str | None = None
        self._settled, self.gone = threading.Event(), threading.Event()
        self.client = client
        client.on_connect = self._on_connect
        client.on_message = self._on_message
        client.on_publish = lambda _client, _data, _mid, reason, _properties: self.answers.append(reason.value)
        client.on_subscribe = lambda _client, _data, _mid, reasons, _p: self.granted.extend(r.value for r in reasons)
        client.on_disconnect = lambda *_: self.gone.set()
        client.connect(host, port, **options)
        client.loop_start()
        assert self._settled.wait(LONG)

    def _on_connect(self, _client: paho.Client, _data: Any, _flags: Any, reason: Any, _properties: Any) -> None:
        self.refused = reason.getName() if reason.is_failure else None
        self._settled.set()

    def _on_message(self, _client: paho.Client, _data: Any, message: paho.MQTTMessage) -> None:
        self.heard.append((message.topic, bytes(message.payload)))

    @property
    def is_in(self) -> bool:
        return self.refused is None

    def hear(self, topic: str) -> int:
        """Subscribe; gives the reason code of the broker."""
        before = len(self.granted)
        self.client.subscribe(topic, qos=1)
        wait_until(lambda: len(self.granted) > before, f"an answer about the subscription to {topic}", LONG)
        return self.granted[-1]

    def say(self, topic: str, payload: bytes = b"x") -> int:
        """Publish at QoS 1; gives the reason code of the broker."""
        return self.pour(topic, [payload])[0]

    def pour(self, topic: str, payloads: Sequence[bytes]) -> list[int]:
        """Publish all of them at QoS 1 before the first answer is waited for; gives the reason codes."""
        before = len(self.answers)
        for payload in payloads:
            self.client.publish(topic, payload, qos=1)
        wait_until(lambda: len(self.answers) >= before + len(payloads), f"all answers about {topic}", LONG)
        return self.answers[before:]

    def leave(self, *, rudely: bool = False) -> None:
        if rudely:
            connection: Any = self.client.socket()
            connection.close()
        else:
            self.client.disconnect()
        self.client.loop_stop()
