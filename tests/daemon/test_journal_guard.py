"""A journal that cannot be written: people are told past it, in time, again and again, and once that it is over.

SQLite itself runs out of pages here (https://www.sqlite.org/pragma.html#pragma_max_page_count); the receiver is real.
"""

import logging
import sqlite3
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from config.site import Site
from config.words import AlarmKind
from daemon.alarms.delivery import MessageStatus
from daemon.commands.site_folder import read_site
from daemon.contacts import channels
from daemon.direct_calls import DirectCalls
from daemon.journal_guard import HANGS_S, JournalGuard
from daemon.storage import alarm_log
from daemon.storage.connections import connect
from daemon.storage.journal import Journal, JournalError
from tests.alarms.outboxes import rows
from tests.daemon.kept import START_MS
from tests.support.called import SECOND_PERSON
from tests.support.household import write_site
from tests.support.processes import wait_until
from tests.support.receiver import Answer, Manner, Receiver
from tests.support.secrets import assert_no_secret, secrets_of

PATH = "/hooks/T0pS3cret-x9Yz"


class Clock:
    """The time of the house and of the guard, moved by the test."""

    rate = 1.0

    def __init__(self) -> None:
        self.passed_s = 0.0

    def now_ms(self) -> int:
        return START_MS + round(self.passed_s * 1000)


class Disk:
    """A disk with so much room for the journal."""

    pages = 100_000

    def connect(self, path: Path, busy_timeout_s: float) -> sqlite3.Connection:
        conn = connect(path, busy_timeout_s)
        conn.execute(f"PRAGMA max_page_count = {self.pages}")
        return conn


class Guarded:
    """A house with Ana's real receiver, a disk that can be filled, and a guard that looks when it is told to."""

    def __init__(
        self, folder: Path, receiver: Receiver, status: MessageStatus = MessageStatus.ACTUAL, timeout_s: float = 10.0
    ) -> None:
        site = read_site(write_site(folder / "site", 1883, receiver.url(PATH), SECOND_PERSON))
        self.site: Site = site.site
        self.clock, self.disk = Clock(), Disk()
        self.journal = Journal.open(folder / "journal.sqlite3", bare=self.disk.connect)
        self.error: BaseException | None = None
        self.calls = DirectCalls(channels(self.site, site.folder, timeout_s), self.clock.now_ms)
        self.guard = JournalGuard(
            self.journal, self.site, self.calls, self.clock, status, self.touch, self.met, lambda: self.clock.passed_s
        )

    def touch(self, conn: sqlite3.Connection) -> None:
        """A write that needs room."""
        conn.execute("CREATE TABLE IF NOT EXISTS filling (content BLOB)")
        conn.execute("INSERT INTO filling VALUES (zeroblob(20000))")

    def met(self) -> BaseException | None:
        return self.error

    def fill(self) -> None:
        """Let the disk have no more room than what is used."""
        (used,) = self.journal.write(lambda conn: conn.execute("PRAGMA page_count").fetchone())
        self.disk.pages = used
        self.journal.write(lambda conn: conn.execute(f"PRAGMA max_page_count = {used}").fetchone())

    def empty(self) -> None:
        """Let there be room again; a connection that met a full disk is opened anew."""
        self.disk.pages = 100_000

    def seconds(self, count: int, step_s: int = 5) -> None:
        """Let time pass; each look sees what came of the write before it."""
        for _ in range(0, count, step_s):
            self.clock.passed_s += step_s
            self.guard.look()
            writing = self.guard._writing
            if writing is not None:
                writing.exception(30)


@pytest.fixture
def receiver() -> Iterator[Receiver]:
    with Receiver() as started:
        yield started


@pytest.fixture
def guarded(tmp_path: Path, receiver: Receiver, request: pytest.FixtureRequest) -> Iterator[Guarded]:
    """A parameter is how long a receiver may take, in seconds."""
    made = Guarded(tmp_path, receiver, timeout_s=getattr(request, "param", 10.0))
    yield made
    made.guard._stopping.set()
    made.calls.stop()
    made.journal.close()


def heard(receiver: Receiver) -> list[tuple[str, str]]:
    return [(each.json()["kind"], each.json()["headline"]) for each in receiver.received]


RAISED = ("alarm", "CRITICAL Test house: readings cannot be stored")
STILL = ("reminder", "UPDATE CRITICAL Test house: readings cannot be stored")
CLEARED = ("cleared", "CLEARED Test house: readings are stored again")


def test_a_full_disk_is_told_after_a_minute_every_half_hour_and_when_it_is_over(
    guarded: Guarded, receiver: Receiver
) -> None:
    guarded.seconds(60)
    assert guarded.guard.trouble == ""
    guarded.fill()
    guarded.seconds(60)
    assert guarded.guard.trouble == "The journal cannot be written: the disk is full."
    assert heard(receiver) == []
    guarded.seconds(30)
    receiver.wait_for(1)
    guarded.seconds(1800)
    receiver.wait_for(2)
    guarded.empty()
    guarded.seconds(90)
    receiver.wait_for(3)
    guarded.seconds(3600)
    assert heard(receiver) == [RAISED, STILL, CLEARED]
    assert guarded.guard.trouble == ""


def test_the_message_says_why_since_when_and_what_to_do_and_goes_past_the_outbox(
    guarded: Guarded, receiver: Receiver
) -> None:
    guarded.fill()
    guarded.seconds(90)
    [came] = receiver.wait_for(1)
    told = came.json()
    assert (told["alarm"], told["priority"], told["status"]) == ("journal-failing", 1, "actual")
    assert "free or mend the disk of this machine" in told["body"]
    assert "Why: the disk is full." in told["body"]
    assert "Told: Ben." in told["body"]
    assert told["acknowledge_url"] is None
    assert rows(guarded.journal) == {}


def test_afterwards_the_journal_tells_it(guarded: Guarded, receiver: Receiver) -> None:
    guarded.fill()
    guarded.seconds(90)
    guarded.empty()
    guarded.seconds(90)
    receiver.wait_for(2)

    def events() -> list[str]:
        with guarded.journal.read() as conn:
            return [f"{each.alarm_key} {each.event}" for each in alarm_log.events(conn, 10)[::-1]]

    key = f"{AlarmKind.JOURNAL_FAILING}:journal"
    wait_until(lambda: events() == [f"{key} raised", f"{key} cleared"], "the record")


def test_what_others_meet_counts_although_small_writes_succeed(guarded: Guarded, receiver: Receiver) -> None:
    guarded.error = JournalError("cannot write", "here", "the disk reports an input/output error", "Check it.")
    guarded.seconds(65)
    receiver.wait_for(1)
    assert "input/output error" in receiver.received[0].json()["body"]
    guarded.error = None
    guarded.seconds(65)
    receiver.wait_for(2)
    assert heard(receiver) == [RAISED, CLEARED]


def test_a_disk_that_hangs_is_told_and_holds_nobody_up(guarded: Guarded, receiver: Receiver) -> None:
    hangs, entered = threading.Event(), threading.Event()

    def hang(_: sqlite3.Connection) -> None:
        entered.set()
        hangs.wait(60)

    guarded.journal.submit(hang)
    assert entered.wait(10)
    for _ in range(70):
        guarded.clock.passed_s += 1
        guarded.guard.look()
        assert guarded.guard.trouble == "" or guarded.clock.passed_s >= HANGS_S
    receiver.wait_for(1)
    assert "Why: the disk does not answer." in receiver.received[0].json()["body"]
    hangs.set()
    wait_until(lambda: guarded.guard._writing is None or guarded.guard._writing.done(), "the write")
    guarded.seconds(90)
    receiver.wait_for(2)
    assert heard(receiver) == [RAISED, CLEARED]


@pytest.mark.parametrize("guarded", [1.0], indirect=True)
def test_a_receiver_that_refuses_is_tried_again_and_one_that_hangs_delays_nothing(
    guarded: Guarded, receiver: Receiver, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("daemon.direct_calls.AGAIN_S", 0.02)
    receiver.answer_with(Answer(503), Answer(manner=Manner.HANG), Answer(200))
    guarded.fill()
    guarded.seconds(90)
    receiver.wait_for(3, 30)
    wait_until(lambda: guarded.calls._ways["ana/0"].reached, "the answer")
    assert len({each.json()["message_id"] for each in receiver.received}) == 1
    guarded.seconds(60)
    assert set(heard(receiver)) == {RAISED}


def test_who_never_heard_of_it_does_not_hear_that_it_is_over(guarded: Guarded, receiver: Receiver) -> None:
    receiver.answer_with(Answer(401))
    guarded.fill()
    guarded.seconds(90)
    receiver.wait_for(1)
    receiver.answer_with(Answer(200))
    guarded.empty()
    guarded.seconds(90)
    guarded.fill()
    guarded.seconds(90)
    receiver.wait_for(2)
    assert heard(receiver) == [RAISED, RAISED]


def test_a_demo_says_that_it_is_one(tmp_path: Path, receiver: Receiver) -> None:
    made = Guarded(tmp_path, receiver, MessageStatus.DEMO)
    made.fill()
    made.seconds(90)
    [came] = receiver.wait_for(1)
    assert came.json()["headline"].startswith("DEMO: ")
    assert came.json()["status"] == "demo"
    made.calls.stop()
    made.journal.close()


def test_nothing_secret_is_said_and_the_thread_outlives_a_fault(
    guarded: Guarded, receiver: Receiver, caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("daemon.journal_guard.LOOK_S", 0.01)
    caplog.set_level(logging.DEBUG)
    monkeypatch.setattr(guarded, "error", ZeroDivisionError())
    guarded.guard._errors = lambda: 1 / 0  # type: ignore[assignment, return-value]
    guarded.guard.start()
    wait_until(lambda: "A look at the journal failed" in caplog.text, "the fault")
    assert guarded.guard.alive
    guarded.guard._errors = guarded.met
    guarded.clock.passed_s += 1
    wait_until(lambda: "fault in the program: ZeroDivisionError" in guarded.guard.trouble, "the sign")
    guarded.clock.passed_s += 70
    receiver.wait_for(1)
    guarded.guard.stop()
    assert_no_secret([caplog.text, guarded.guard.trouble], secrets_of(receiver.url(PATH)))
