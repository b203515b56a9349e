"""The power fails while an alert is on its way: it is sent again, with the same message id, until it is recorded."""

import signal
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from pydantic import SecretStr

from daemon.alarms.courier import Courier
from daemon.alarms.webhook import WebhookChannel
from daemon.clock import SystemClock
from daemon.storage import outbox
from daemon.storage.journal import Journal
from tests.alarms.outboxes import put, rows, running, wait_for_state
from tests.support.processes import Service, wait_until
from tests.support.receiver import Answer, Manner, Receiver

PROGRAM = """
import os, signal, sys, threading
from pathlib import Path
from pydantic import SecretStr
from daemon.alarms.courier import Courier
from daemon.alarms.webhook import WebhookChannel
from daemon.clock import SystemClock
from daemon.storage.journal import Journal

class DiesOnceAnswered(WebhookChannel):
    def send(self, message):
        super().send(message)
        os.kill(os.getpid(), signal.SIGKILL)

kind = DiesOnceAnswered if sys.argv[3] == "dies" else WebhookChannel
journal = Journal.open(Path(sys.argv[1]))
Courier(journal, {"ada/0": kind(SecretStr(sys.argv[2]), 60.0)}, SystemClock().now_ms).start()
threading.Event().wait()
"""


@pytest.fixture
def receiver() -> Iterator[Receiver]:
    with Receiver() as started:
        yield started


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """Make a journal with one alert in its outbox."""
    path = tmp_path / "journal.sqlite3"
    with Journal.open(path) as journal:
        put(journal, "m-0001", created_at_ms=SystemClock().now_ms())
    return path


def delivered_by_next_run(file: Path, receiver: Receiver) -> list[str]:
    """Start again after the crash; give the message ids that the receiver has got in all."""
    with Journal.open(file) as journal:
        assert rows(journal)["m-0001"][:2] == ("waiting", 0)
        channel = WebhookChannel(SecretStr(receiver.url()), 10.0)
        with running(Courier(journal, {"ada/0": channel}, SystemClock().now_ms)):
            wait_for_state(journal, "m-0001", "delivered")
        with journal.read() as conn:
            assert outbox.totals(conn) == {"waiting": 0, "delivered": 1, "abandoned": 0, "superseded": 0}
    return [request.headers["clutchwarden-message-id"] for request in receiver.received]


def test_killed_while_the_receiver_thinks_the_next_run_sends_again(
    file: Path, receiver: Receiver, tmp_path: Path
) -> None:
    receiver.answer_with(Answer(manner=Manner.LATE), Answer(200))
    child = Service([sys.executable, "-c", PROGRAM, str(file), receiver.url(), "lives"], tmp_path / "child.log")
    child.start()
    try:
        receiver.wait_for(1, 30)
    finally:
        child.stop(how=signal.SIGKILL)
    assert delivered_by_next_run(file, receiver) == ["m-0001", "m-0001"], child.output()


def test_killed_between_the_answer_and_its_record_the_next_run_sends_again(
    file: Path, receiver: Receiver, tmp_path: Path
) -> None:
    child = Service([sys.executable, "-c", PROGRAM, str(file), receiver.url(), "dies"], tmp_path / "child.log")
    child.start()
    try:
        wait_until(lambda: not child.running, "the child to die", 30)
    finally:
        child.stop(how=signal.SIGKILL)
    assert len(receiver.received) == 1, child.output()
    assert delivered_by_next_run(file, receiver) == ["m-0001", "m-0001"]
