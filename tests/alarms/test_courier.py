"""The courier with a real journal and a real HTTP receiver."""

import logging
import threading
from collections.abc import Callable
from pathlib import Path

import pytest
from pydantic import SecretStr

from config.words import Priority
from daemon.alarms.courier import Courier
from daemon.alarms.delivery import Channel, Delivered, GiveUp, OutgoingMessage, SendResult
from daemon.alarms.push import PushChannel
from daemon.alarms.webhook import WebhookChannel
from daemon.clock import AcceleratedClock
from daemon.storage.journal import Journal
from tests.alarms.outboxes import NOW_MS, all_text, put, rows, running, wait_for_attempts, wait_for_state
from tests.support.journals import new_journal
from tests.support.receiver import Answer, Manner, Receiver
from tests.support.secrets import assert_no_secret, secrets_of

pytestmark = pytest.mark.filterwarnings("ignore:'imghdr' is deprecated:DeprecationWarning")

IDS = "clutchwarden-message-id"


def hook(receiver: Receiver, timeout_s: float = 10.0) -> WebhookChannel:
    return WebhookChannel(SecretStr(receiver.url()), timeout_s)


def courier(
    journal: Journal, now_ms: Callable[[], int] = lambda: NOW_MS, rate: float = 1.0, **channels: Channel
) -> Courier:
    """Make a courier without chance in it; `ada` stands for the contact `ada/0`."""
    named = {f"{name}/0": channel for name, channel in channels.items()}
    return Courier(journal, named, now_ms, rate=rate, jitter=lambda: 0.0)


def ids(receiver: Receiver, count: int) -> list[str]:
    return [request.headers[IDS] for request in receiver.wait_for(count)]


def test_the_most_urgent_goes_first_and_then_the_oldest(journal: Journal, receiver: Receiver) -> None:
    put(journal, "low-old", priority=Priority.LOW, created_at_ms=NOW_MS - 9000)
    put(journal, "critical-new", created_at_ms=NOW_MS - 1000)
    put(journal, "critical-old", created_at_ms=NOW_MS - 5000)
    put(journal, "high", priority=Priority.HIGH, created_at_ms=NOW_MS - 7000)
    with running(courier(journal, ada=hook(receiver))):
        assert ids(receiver, 4) == ["critical-old", "critical-new", "high", "low-old"]


def test_a_message_put_in_later_goes_out_when_the_courier_is_woken(journal: Journal, receiver: Receiver) -> None:
    """Without waking, the next look would come after a minute, later than this test waits."""
    with running(courier(journal, ada=hook(receiver))) as started:
        put(journal, "first")
        started.wake()
        wait_for_state(journal, "first", "delivered")
        put(journal, "second")
        started.wake()
        assert ids(receiver, 2) == ["first", "second"]


def test_a_contact_that_hangs_does_not_delay_another(journal: Journal, receiver: Receiver) -> None:
    receiver.answer_with(Answer(manner=Manner.LATE))
    put(journal, "to-hanging", "bea/0")
    for name in ("one", "two", "three"):
        put(journal, name, "ada/0")
    with Receiver() as quick, running(courier(journal, ada=hook(quick), bea=hook(receiver, 30))):
        receiver.wait_for(1)
        assert sorted(ids(quick, 3)) == ["one", "three", "two"]
        for name in ("one", "two", "three"):
            wait_for_state(journal, name, "delivered")
        assert rows(journal)["to-hanging"].attempts == 0
        receiver.release()
        wait_for_state(journal, "to-hanging", "delivered")


def test_what_the_outbox_says_is_delivered_is_never_sent_again(journal: Journal, receiver: Receiver) -> None:
    put(journal, "first")
    with running(courier(journal, ada=hook(receiver))):
        wait_for_state(journal, "first", "delivered")
    put(journal, "second")
    with running(courier(journal, ada=hook(receiver))) as again:
        wait_for_state(journal, "second", "delivered")
        again.wake()
    assert ids(receiver, 2) == ["first", "second"]


def test_attempts_and_the_next_time_survive_a_restart(tmp_path: Path, receiver: Receiver) -> None:
    receiver.answer_with(Answer(503))
    with new_journal(tmp_path / "j.sqlite3") as journal:
        put(journal, "m")
        with running(courier(journal, ada=hook(receiver))):
            wait_for_attempts(journal, "m", 1)
    with new_journal(tmp_path / "j.sqlite3") as journal:
        assert rows(journal)["m"][:3] == ("waiting", 1, NOW_MS + 5_000)
        put(journal, "other")
        with running(courier(journal, lambda: NOW_MS + 4_999, ada=hook(receiver))):
            wait_for_attempts(journal, "other", 1)
        assert rows(journal)["m"].attempts == 1
        with running(courier(journal, lambda: NOW_MS + 5_000, ada=hook(receiver))):
            assert wait_for_attempts(journal, "m", 2).next_attempt_at_ms == NOW_MS + 20_000


def test_every_attempt_carries_the_same_id_and_its_own_time(journal: Journal, receiver: Receiver) -> None:
    receiver.answer_with(Answer(503), Answer(manner=Manner.CLOSE_EARLY), Answer(200))
    put(journal, "m")
    clock = AcceleratedClock(NOW_MS, 1000)
    with running(courier(journal, clock.now_ms, clock.rate, ada=hook(receiver))):
        row = wait_for_state(journal, "m", "delivered")
    requests = receiver.received
    assert row == ("delivered", 3, None, "")
    assert [request.headers[IDS] for request in requests] == ["m"] * 3
    assert [request.json()["message_id"] for request in requests] == ["m"] * 3
    times = [request.json()["sent_at"] for request in requests]
    assert times == sorted(set(times))
    # 5 s after the first and 15 s after the second failure, by the running clock.
    assert times[2] >= "2026-01-01T00:00:20"


def test_a_lasting_refusal_is_abandoned_with_its_reason_and_the_next_message_goes_out(
    journal: Journal, receiver: Receiver
) -> None:
    receiver.answer_with(Answer(401), Answer(200))
    put(journal, "refused", priority=Priority.HIGH, created_at_ms=NOW_MS - 1)
    put(journal, "accepted", priority=Priority.HIGH)
    with running(courier(journal, ada=hook(receiver))):
        wait_for_state(journal, "accepted", "delivered")
    assert rows(journal)["refused"][:3] == ("abandoned", 1, None)
    assert "401" in rows(journal)["refused"].error


def test_a_message_that_cannot_be_read_does_not_block_the_next(journal: Journal, receiver: Receiver) -> None:
    put(journal, "bad", created_at_ms=NOW_MS - 1, stored='{"kind": "poem"}')
    put(journal, "good")
    with running(courier(journal, ada=hook(receiver))):
        wait_for_state(journal, "good", "delivered")
    assert rows(journal)["bad"].state == "abandoned"
    assert ids(receiver, 1) == ["good"]


def test_messages_of_a_contact_that_is_gone_are_abandoned_with_a_reason(journal: Journal, receiver: Receiver) -> None:
    put(journal, "left-behind", "former/0")
    put(journal, "kept", "ada/0")
    with running(courier(journal, ada=hook(receiver))):
        row = wait_for_state(journal, "left-behind", "abandoned")
        wait_for_state(journal, "kept", "delivered")
    assert "no longer in site.toml" in row.error
    assert ids(receiver, 1) == ["kept"]


def test_a_lower_priority_is_abandoned_after_a_day_of_failures(journal: Journal, receiver: Receiver) -> None:
    receiver.answer_with(Answer(500))
    put(journal, "m", priority=Priority.LOW)
    clock = AcceleratedClock(NOW_MS, 100_000)
    with running(courier(journal, clock.now_ms, clock.rate, ada=hook(receiver))):
        row = wait_for_state(journal, "m", "abandoned")
    assert row.attempts >= 6
    assert "given up after" in row.error


class Raises:
    """A channel with a fault in it, whose exception even holds the address."""

    def __init__(self, *results: SendResult | Exception) -> None:
        self.results = list(results)

    def send(self, _message: OutgoingMessage) -> SendResult:
        result = self.results.pop(0) if len(self.results) > 1 else self.results[0]
        if isinstance(result, Exception):
            raise result
        return result


def test_a_fault_in_a_channel_neither_ends_the_worker_nor_tells_the_address(
    journal: Journal, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.DEBUG)
    put(journal, "m")
    clock = AcceleratedClock(NOW_MS, 1000)
    faulty = Raises(RuntimeError("cannot post to https://alerts.example/T0pS3cret/x9Yz-42"), Delivered())
    with running(courier(journal, clock.now_ms, clock.rate, ada=faulty)):
        assert wait_for_state(journal, "m", "delivered").attempts == 2
    assert "RuntimeError at test_courier.py:" in caplog.text
    assert_no_secret([caplog.text, all_text(journal)], ["T0pS3cret", "x9Yz-42", "alerts.example"])


def test_stop_tells_whether_an_attempt_is_still_under_way(journal: Journal) -> None:
    entered, leave = threading.Event(), threading.Event()

    class Waits:
        def send(self, _message: OutgoingMessage) -> SendResult:
            entered.set()
            leave.wait(30)
            return GiveUp("enough")

    put(journal, "m")
    started = courier(journal, ada=Waits())
    started.start()
    assert entered.wait(15)
    assert started.stop(0.01) is False
    leave.set()
    assert started.stop() is True
    assert not started.alive


@pytest.mark.parametrize("answer", [Answer(200), Answer(403), Answer(500), Answer(manner=Manner.CLOSE_EARLY)])
@pytest.mark.parametrize("kind", [WebhookChannel, PushChannel])
def test_no_part_of_an_address_reaches_the_log_or_the_outbox(
    journal: Journal,
    receiver: Receiver,
    caplog: pytest.LogCaptureFixture,
    answer: Answer,
    kind: type[WebhookChannel | PushChannel],
) -> None:
    caplog.set_level(logging.DEBUG)
    receiver.answer_with(answer)
    scheme = "json" if kind is PushChannel else "http"
    url = receiver.url("/T0pS3cret/x9Yz-42", scheme, "keeper-login:pa55phrase")
    put(journal, "m")
    with running(courier(journal, ada=kind(SecretStr(url), 10.0))):
        wait_for_attempts(journal, "m", 1)
    assert receiver.received[0].path == "/T0pS3cret/x9Yz-42"
    assert "ada/0" in caplog.text
    assert_no_secret([caplog.text, all_text(journal)], secrets_of(url))
