"""How long the courier sleeps, and what it does while the journal cannot be written. One thread, step by step."""

from collections.abc import Callable
from contextlib import AbstractContextManager
from sqlite3 import Connection
from typing import Any, cast

import pytest

from config.words import Priority
from daemon.alarms.courier import LONGEST_PAUSE_S, TROUBLE_PAUSE_S, Courier
from daemon.alarms.delivery import Delivered, OutgoingMessage, SendResult, TryAgain
from daemon.storage import outbox
from daemon.storage.journal import Journal, JournalError
from tests.alarms.attempts import Clock
from tests.alarms.outboxes import NOW_MS, put, rows, running, wait_for_state
from tests.support.processes import wait_until


class Answers:
    """A channel that gives these results in turn, the last one again and again, and notes what it was given."""

    def __init__(self, *results: SendResult) -> None:
        self.results = list(results)
        self.sent: list[str] = []

    def send(self, message: OutgoingMessage) -> SendResult:
        self.sent.append(message.message_id)
        return self.results.pop(0) if len(self.results) > 1 else self.results[0]


class FailingDisk:
    """A journal whose writes fail as long as a test says so."""

    def __init__(self, journal: Journal) -> None:
        self.journal = journal
        self.failing = False

    def read(self) -> AbstractContextManager[Connection]:
        return self.journal.read()

    def write(self, work: Callable[[Connection], Any]) -> Any:
        if self.failing:
            raise JournalError("cannot write to the journal", "journal.sqlite3", "the disk is full", "Free some space.")
        return self.journal.write(work)


def stepper(journal: Journal | FailingDisk, clock: Clock, channel: Answers, rate: float = 1.0) -> Callable[[], float]:
    """One turn of the worker of `ada/0`; gives the pause in real seconds that it would sleep."""
    built = Courier(cast("Journal", journal), {"ada/0": channel}, clock.now_ms, rate=rate, jitter=lambda: 0.0)
    return built._workers[0]._step


def test_an_empty_outbox_lets_the_worker_sleep_long(journal: Journal) -> None:
    assert stepper(journal, Clock(), Answers(Delivered()))() == LONGEST_PAUSE_S


@pytest.mark.parametrize(("rate", "pause_s"), [(1.0, 5.0), (10.0, 0.5)])
def test_the_worker_sleeps_exactly_until_the_next_attempt_in_real_seconds(
    journal: Journal, rate: float, pause_s: float
) -> None:
    put(journal, "m")
    put(journal, "of-another", "bea/0")
    step = stepper(journal, Clock(), Answers(TryAgain("busy")), rate)
    assert step() == 0.0
    assert step() == pytest.approx(pause_s)


def test_a_row_from_an_earlier_run_is_waited_for_exactly(journal: Journal) -> None:
    put(journal, "m")
    stepper(journal, Clock(), Answers(TryAgain("busy")))()
    clock = Clock()
    clock.at_ms += 2_000
    assert stepper(journal, clock, Answers(Delivered()))() == pytest.approx(3.0)


def test_the_schedule_of_a_critical_alarm_is_kept_to_the_millisecond(journal: Journal) -> None:
    put(journal, "m")
    clock, channel = Clock(), Answers(TryAgain("busy"))
    step = stepper(journal, clock, channel)
    for number, wait_s in enumerate((5, 15, 30, 60, 120, 300, 300), start=1):
        step()
        assert rows(journal)["m"][:3] == ("waiting", number, clock.at_ms + wait_s * 1000)
        clock.at_ms += wait_s * 1000 - 1
        step()
        assert len(channel.sent) == number
        clock.at_ms += 1


def test_the_wait_that_a_receiver_asks_for_is_in_real_seconds(journal: Journal) -> None:
    put(journal, "m")
    step = stepper(journal, Clock(), Answers(TryAgain("busy", after_s=40.0)), rate=60.0)
    step()
    assert rows(journal)["m"].next_attempt_at_ms == NOW_MS + 40 * 60 * 1000
    assert step() == pytest.approx(40.0)


def test_a_clock_set_back_does_not_silence_a_waiting_alarm(journal: Journal) -> None:
    put(journal, "m")
    clock, channel = Clock(), Answers(TryAgain("busy"), Delivered())
    step = stepper(journal, clock, channel)
    step()
    clock.at_ms -= 86_400_000
    step()
    assert rows(journal)["m"].state == "delivered"


def test_a_delivery_that_cannot_be_recorded_is_recorded_later_and_not_sent_twice(
    journal: Journal, caplog: pytest.LogCaptureFixture
) -> None:
    put(journal, "m")
    disk, channel = FailingDisk(journal), Answers(Delivered())
    step = stepper(disk, Clock(), channel)
    disk.failing = True
    step()
    assert step() == TROUBLE_PAUSE_S
    step()
    assert channel.sent == ["m"]
    assert rows(journal)["m"].state == "waiting"
    assert caplog.text.count("the disk is full") == 1
    disk.failing = False
    step()
    assert rows(journal)["m"][:2] == ("delivered", 1)
    assert channel.sent == ["m"]


def test_while_nothing_can_be_recorded_other_messages_go_out_and_failed_ones_are_tried_again(journal: Journal) -> None:
    put(journal, "first", created_at_ms=NOW_MS - 1)
    put(journal, "second")
    clock, channel = Clock(), Answers(TryAgain("busy"), Delivered())
    disk = FailingDisk(journal)
    step = stepper(disk, clock, channel)
    disk.failing = True
    for _ in range(3):
        step()
    assert channel.sent == ["first", "second"]
    clock.at_ms += 5_000
    for _ in range(3):
        step()
    assert channel.sent == ["first", "second", "first"]
    disk.failing = False
    step()
    assert rows(journal)["first"][:2] == ("delivered", 2)
    assert rows(journal)["second"][:2] == ("delivered", 1)


def test_attempts_that_are_not_recorded_yet_count_in_the_schedule(journal: Journal) -> None:
    put(journal, "m")
    clock, channel = Clock(), Answers(TryAgain("busy"))
    disk = FailingDisk(journal)
    step = stepper(disk, clock, channel)
    disk.failing = True
    step()
    clock.at_ms += 5_000
    step()
    disk.failing = False
    step()
    assert channel.sent == ["m", "m"]
    assert rows(journal)["m"][:3] == ("waiting", 2, clock.at_ms + 15_000)


def test_a_woken_worker_goes_back_to_sleep(journal: Journal) -> None:
    built = Courier(journal, {"ada/0": Answers(Delivered())}, lambda: NOW_MS)
    with running(built):
        built.wake()
        wait_until(lambda: not any(worker.woken.is_set() for worker in built._workers), "the calls to be taken up")


def test_a_message_settled_by_somebody_else_meanwhile_stays_as_they_left_it(journal: Journal) -> None:
    class SettlesFirst(Answers):
        def send(self, message: OutgoingMessage) -> SendResult:
            if not self.sent:
                journal.write(lambda conn: outbox.record_attempt(conn, "m", "delivered", NOW_MS, None, ""))
            return super().send(message)

    put(journal, "m", created_at_ms=NOW_MS - 1)
    channel = SettlesFirst(TryAgain("busy"))
    step = stepper(journal, Clock(), channel)
    step()
    put(journal, "next")
    step()
    assert rows(journal)["m"][:2] == ("delivered", 1)
    assert channel.sent == ["m", "next"]


def test_the_worker_outlives_a_journal_that_cannot_be_read(
    journal: Journal, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    monkeypatch.setattr("daemon.alarms.courier.TROUBLE_PAUSE_S", 0.01)
    failures = [OSError("one"), OSError("two")]

    class FailsTwice(FailingDisk):
        def read(self) -> AbstractContextManager[Connection]:
            if failures:
                raise failures.pop()
            return self.journal.read()

    put(journal, "m", priority=Priority.HIGH)
    channel = Answers(Delivered())
    with running(Courier(cast("Journal", FailsTwice(journal)), {"ada/0": channel}, lambda: NOW_MS)):
        wait_for_state(journal, "m", "delivered")
    assert channel.sent == ["m"]
    assert "could not be read" in caplog.text
