"""The broker is absent, killed, or delivers what cannot be stored: nothing that it keeps is lost."""

import logging
import random
import threading
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future
from pathlib import Path

import pytest

from config.settings import BrokerSettings
from daemon import mqtt
from daemon.arrival import Arrival
from daemon.mqtt import Listener
from sensors.reading import Accepted, Decoded, Reading
from tests.support.household import Probe
from tests.support.mosquitto import Mosquitto
from tests.support.processes import wait_until

pytestmark = pytest.mark.services


@pytest.fixture(autouse=True)
def quick_retries(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(mqtt, "PAUSE_SECONDS", (0.05, 0.2))
    monkeypatch.setattr(mqtt, "COMMIT_PAUSE_SECONDS", 0.05)


class Book:
    """Takes batches; refuses while `broken` holds."""

    def __init__(self) -> None:
        self.taken: list[bytes] = []
        self.refusals = 0
        self.broken: Callable[[Sequence[Arrival]], bool] = lambda _: False

    def decode(self, topic: str, payload: bytes, retained: bool, received_at_ms: int) -> Decoded:  # noqa: ARG002
        return Accepted("p", (Reading("p/air", received_at_ms, received_at_ms, 1.0, 0),))

    def commit(self, arrivals: Sequence[Arrival]) -> "Future[None]":
        stored: Future[None] = Future()
        if self.broken(arrivals):
            self.refusals += 1
            stored.set_exception(OSError("no space left on device"))
        else:
            self.taken += [arrival.payload for arrival in arrivals]
            stored.set_result(None)
        return stored


@pytest.fixture
def book() -> Book:
    return Book()


def listener(broker: Mosquitto, book: Book, **options: object) -> Listener:
    stated = BrokerSettings.model_validate({"port": broker.port, "keep_alive_s": 5, **options})
    return Listener(stated, None, ["clutchwarden/+/measure"], book, lambda: 1)


@pytest.fixture
def running(mosquitto: Mosquitto, book: Book) -> Iterator[Listener]:
    started = listener(mosquitto, book)
    started.start()
    wait_until(lambda: started.state.connected, "a connection")
    yield started
    assert started.stop()


def test_a_broker_that_is_absent_at_start_is_said_once_and_found_when_it_comes(
    mosquitto: Mosquitto, book: Book, caplog: pytest.LogCaptureFixture
) -> None:
    mosquitto.stop()
    caplog.set_level(logging.INFO, "clutchwarden.broker")
    waiting = listener(mosquitto, book)
    attempts = threading.Event()
    seen: list[int] = []

    def count(*_: object) -> float:
        seen.append(1)
        if len(seen) >= 4:
            attempts.set()
        return 0.5

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(random, "random", count)
        waiting.start()
        assert attempts.wait(15)
    assert [record.levelname for record in caplog.records] == ["WARNING"]
    assert "cannot reach 127.0.0.1" in caplog.text
    mosquitto.start()
    wait_until(lambda: waiting.state.connected, "a connection")
    probe = Probe(mosquitto.port)
    probe.send([b"one"])
    wait_until(lambda: book.taken == [b"one"], "the message")
    probe.close()
    assert waiting.stop()
    assert [record.levelname for record in caplog.records] == ["WARNING", "INFO"]


def test_what_a_killed_or_restarted_broker_kept_arrives_in_order(
    mosquitto: Mosquitto, running: Listener, book: Book
) -> None:
    probe = Probe(mosquitto.port)
    probe.send([b"1", b"2"])
    wait_until(lambda: len(book.taken) == 2, "two messages")
    mosquitto.stop()
    wait_until(lambda: not running.state.connected, "the loss to be noticed")
    mosquitto.start()
    probe.close()
    again = Probe(mosquitto.port)
    again.send([b"3", b"4"])
    # QoS 1 is at least once: what was committed when the broker ended, but not acknowledged yet, comes a second time.
    wait_until(lambda: list(dict.fromkeys(book.taken)) == [b"1", b"2", b"3", b"4"], "what came while away")
    again.close()


@pytest.mark.parametrize("protocol", ["5", "3.1.1"])
def test_messages_sent_while_the_daemon_is_away_wait_for_it(mosquitto: Mosquitto, book: Book, protocol: str) -> None:
    first = listener(mosquitto, book, protocol=protocol)
    first.start()
    wait_until(lambda: first.state.connected, "a connection")
    assert first.stop()
    probe = Probe(mosquitto.port)
    probe.send(str(n).encode() for n in range(300))
    probe.close()
    second = listener(mosquitto, book, protocol=protocol)
    second.start()
    wait_until(lambda: len(book.taken) >= 300, "all messages")
    assert second.stop()
    assert book.taken == [str(n).encode() for n in range(300)]


def test_a_full_disk_acknowledges_nothing_and_loses_nothing(
    mosquitto: Mosquitto, running: Listener, book: Book, caplog: pytest.LogCaptureFixture
) -> None:
    book.broken = lambda _: book.refusals < 3
    probe = Probe(mosquitto.port)
    probe.send(str(n).encode() for n in range(50))
    wait_until(lambda: len(book.taken) == 50, "room on the disk again")
    probe.close()
    assert book.refusals == 3
    assert book.taken == [str(n).encode() for n in range(50)]
    assert running.state.connected
    assert "could not be stored and stay with the broker" in caplog.text


def test_what_was_refused_until_the_end_comes_again_after_a_restart(mosquitto: Mosquitto, book: Book) -> None:
    book.broken = lambda _: True
    first = listener(mosquitto, book)
    first.start()
    wait_until(lambda: first.state.connected, "a connection")
    probe = Probe(mosquitto.port)
    probe.send([b"kept"])
    wait_until(lambda: book.refusals > 0, "a refusal")
    assert first.stop()
    book.broken = lambda _: False
    second = listener(mosquitto, book)
    second.start()
    wait_until(lambda: book.taken == [b"kept"], "the message once more")
    probe.close()
    assert second.stop()


def test_a_fault_in_the_program_ends_one_session_and_not_the_listening(
    mosquitto: Mosquitto, running: Listener, book: Book, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An exception in a callback would end the library's own thread in silence (seen with paho-mqtt 2.2)."""
    monkeypatch.setattr(Book, "decode", lambda *_: 1 / 0)
    probe = Probe(mosquitto.port)
    probe.send([b"boom"])
    wait_until(lambda: "fault in the program" in running.state.detail, "the fault to be said")
    assert running.alive
    monkeypatch.undo()
    monkeypatch.setattr(mqtt, "PAUSE_SECONDS", (0.05, 0.2))
    wait_until(lambda: book.taken == [b"boom"], "the message once more")
    probe.close()


def test_a_refused_password_is_said_with_what_to_do(tmp_path: Path, mosquitto: Mosquitto, book: Book) -> None:
    mosquitto.stop()
    configuration = tmp_path / "mosquitto" / "mosquitto.conf"
    configuration.write_text(configuration.read_text().replace("allow_anonymous true", "allow_anonymous false"))
    mosquitto.start()
    refused = listener(mosquitto, book)
    refused.start()
    wait_until(lambda: "refused" in refused.state.detail, "the refusal")
    assert "password_file in [broker] of settings.toml" in refused.state.detail
    assert refused.stop()
