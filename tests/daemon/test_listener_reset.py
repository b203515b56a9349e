"""A broker that goes away in the middle of work: the socket says so itself, and a keeper hears what it was."""

import logging
import socket
import struct
import threading
from collections.abc import Sequence
from concurrent.futures import Future

import pytest

from config.settings import BrokerSettings
from daemon import mqtt
from daemon.arrival import Arrival
from daemon.mqtt import Listener
from sensors.decoder import Decoder
from sensors.reading import Decoded
from tests.sensors.example_site import SITE
from tests.support.processes import wait_until

TOPIC = b"clutchwarden/north-air/measure"
LONG = 30.0


def packet(kind: int, body: bytes) -> bytes:
    """A short packet of MQTT 3.1.1 (OASIS), clause 2.2."""
    return bytes([kind, len(body)]) + body


def published(number: int) -> bytes:
    return packet(0x32, struct.pack("!H", len(TOPIC)) + TOPIC + struct.pack("!H", number) + b"{}")


class Slow:
    """Stores the first batch when it is told to, and the others at once."""

    def __init__(self) -> None:
        self.decoded, self.committing = 0, threading.Event()
        self.first: Future[None] = Future()
        self._decoder = Decoder(SITE)

    def decode(self, topic: str, payload: bytes, retained: bool, received_at_ms: int) -> Decoded:
        found = self._decoder.decode(topic, payload, retained, received_at_ms)
        self.decoded += 1
        return found

    def commit(self, arrivals: Sequence[Arrival]) -> "Future[None]":  # noqa: ARG002 - what is in it is all one here
        if not self.committing.is_set():
            self.committing.set()
            return self.first
        done: Future[None] = Future()
        done.set_result(None)
        return done


def test_a_working_connection_that_is_reset_is_not_blamed_on_tls(
    caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    caplog.set_level(logging.WARNING, "clutchwarden.broker")
    # The second message has to wait for the first one's commit, so that its acknowledgement comes after the reset.
    monkeypatch.setattr(mqtt, "LARGEST_BATCH", 1)
    slow = Slow()
    with socket.create_server(("127.0.0.1", 0)) as door:
        port = door.getsockname()[1]
        settings = BrokerSettings.model_validate({"port": port, "protocol": "3.1.1"})
        listener = Listener(settings, None, ["clutchwarden/#"], slow, lambda: 0)
        listener.start()
        connection = door.accept()[0]
        connection.recv(1024)
        connection.sendall(packet(0x20, b"\0\0"))
        subscribe = connection.recv(1024)
        connection.sendall(packet(0x90, subscribe[2:4] + b"\1"))
        connection.sendall(published(1))
        assert slow.committing.wait(LONG)
        connection.sendall(published(2))
        wait_until(lambda: slow.decoded == 2, "the second message", LONG)
        # Closed with nothing to wait for, the other side is told of a reset: socket(7), SO_LINGER.
        connection.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
        connection.close()
    slow.first.set_result(None)
    wait_until(lambda: "No broker: " in caplog.text, "word of it", LONG)
    assert listener.stop()
    assert f"No broker: the connection to 127.0.0.1:{port} ended: " in caplog.text
    assert "TLS" not in caplog.text
