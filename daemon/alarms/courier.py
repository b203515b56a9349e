"""Empties the outbox: one thread per contact, so that a receiver that hangs delays nobody else.

An attempt is recorded after its result, in one transaction. A crash in between leads to a second sending with the same
message id. A result that cannot be recorded is kept in memory and recorded later; other messages go out meanwhile.

A receiver that says that its address is gone makes its contact unusable: only critical calls, slowly, urgent ones,
once each, and tests are still tried, until one is accepted or the daemon starts again, for then the keeper may have
given the contact another address. Which contacts took nothing at their last attempts is kept in the journal.
"""

import logging
import random
import sqlite3
import threading
import time
import traceback
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Literal, NamedTuple

from config.words import Priority
from daemon.alarms.delivery import (
    Channel,
    Delivered,
    GiveUp,
    Gone,
    MessageKind,
    OutgoingMessage,
    Plan,
    SendResult,
    TryAgain,
    Undeliverable,
    after_refusal,
    as_sent,
    next_attempt,
)
from daemon.storage import deliveries, outbox
from daemon.storage.journal import Journal, JournalError
from daemon.storage.outbox import OutboxRow

log = logging.getLogger("clutchwarden.courier")

LONGEST_PAUSE_S = 60.0
"""The outbox is looked at this often at least: where the system clock is set, a computed wait is wrong."""
TROUBLE_PAUSE_S = 5.0
"""Pause before a failed record or a failed look at the outbox is tried again."""


class _Attempt(NamedTuple):
    """One attempt with its result, as the outbox records it."""

    message_id: str
    state: Literal["delivered", "waiting", "abandoned"]
    at_ms: int
    next_attempt_at_ms: int | None
    error: str
    contact: str
    result: SendResult | None
    """what it says of the contact; None where nothing was sent"""


@dataclass(frozen=True, slots=True)
class _Means:
    """What every worker of a courier works with."""

    journal: Journal
    now_ms: Callable[[], int]
    rate: float
    jitter: Callable[[], float]


class _NobodyAnyLonger:
    """Stands for every contact that the outbox names and the site does not."""

    def send(self, message: OutgoingMessage) -> SendResult:  # noqa: ARG002 - the protocol's signature
        return Undeliverable("this contact is no longer in site.toml, so the message has nowhere to go")


class Courier:
    """Delivers what the outbox holds, for as long as the daemon runs.

    `channels` has one entry per contact id. `rate` is that of the clock: waits are in the time of `now_ms`.
    """

    def __init__(
        self,
        journal: Journal,
        channels: Mapping[str, Channel],
        now_ms: Callable[[], int],
        *,
        rate: float = 1.0,
        jitter: Callable[[], float] = random.random,
    ) -> None:
        means = _Means(journal, now_ms, rate, jitter)
        known = frozenset(channels)
        self._workers = [_Worker(contact, contact.__eq__, channel, means) for contact, channel in channels.items()]
        self._workers.append(_Worker("unknown", lambda named: named not in known, _NobodyAnyLonger(), means))

    def start(self) -> None:
        """Begin, also with what an earlier run left in the outbox."""
        for worker in self._workers:
            worker.thread.start()

    def wake(self) -> None:
        """Tell that new messages are committed. May be called from any thread; returns at once."""
        for worker in self._workers:
            worker.woken.set()

    def stop(self, seconds: float = 10.0) -> bool:
        """End; True where every thread ended in time. An attempt still under way is made again by the next run."""
        for worker in self._workers:
            worker.stopping.set()
            worker.woken.set()
        deadline = time.monotonic() + seconds
        for worker in self._workers:
            if worker.thread.is_alive():
                worker.thread.join(max(0.0, deadline - time.monotonic()))
        return not any(worker.thread.is_alive() for worker in self._workers)

    @property
    def alive(self) -> bool:
        """True while every thread runs; a dead one is a fault that health must report."""
        return all(worker.thread.is_alive() for worker in self._workers)


class _Worker:
    """The thread of one contact."""

    def __init__(self, name: str, takes: Callable[[str], bool], channel: Channel, means: _Means) -> None:
        self._name = name
        self._takes = takes
        self._channel = channel
        self._means = means
        self._unrecorded: list[_Attempt] = []
        self._trouble = ""
        self._unusable = ""
        self.woken = threading.Event()
        self.stopping = threading.Event()
        self.thread = threading.Thread(target=self._run, name=f"courier-{name}", daemon=True)

    def _run(self) -> None:
        while True:
            # Cleared before the look, so that a message committed after it ends the wait below.
            self.woken.clear()
            if self.stopping.is_set():
                return
            try:
                pause_s = self._step()
            except Exception as error:  # noqa: BLE001 - nothing may end the delivery of alarms
                self._say_trouble(f"the outbox could not be read: {_describe(error)}")
                pause_s = TROUBLE_PAUSE_S
            self.woken.wait(pause_s)

    def _step(self) -> float:
        """Make at most one attempt, record what is unrecorded, and give the real seconds to pause."""
        self._record()
        now_ms = self._means.now_ms()
        row, next_ms = self._look(now_ms)
        if row is not None:
            self._unrecorded.append(self._attempt(row))
            self._record()
            return 0.0
        pause_s = LONGEST_PAUSE_S if next_ms is None else (next_ms - now_ms) / 1000 / self._means.rate
        return min(pause_s, TROUBLE_PAUSE_S if self._unrecorded else LONGEST_PAUSE_S)

    def _look(self, now_ms: int) -> tuple[OutboxRow | None, int | None]:
        """Find the message to send now, most urgent and then oldest first, and when the next one after it is due."""
        with self._means.journal.read() as conn:
            rows = [row for row in outbox.due(conn, now_ms) if self._takes(row.contact)]
            later = [at_ms for contact, at_ms in outbox.next_attempts_ms(conn, now_ms).items() if self._takes(contact)]
        for row in rows:
            made = [attempt for attempt in self._unrecorded if attempt.message_id == row.message_id]
            if not made:
                return row, None
            # What is known here, and not yet in the outbox, counts.
            at_ms = made[-1].next_attempt_at_ms
            if at_ms is not None and at_ms <= now_ms:
                return row._replace(attempts=row.attempts + len(made)), None
            if at_ms is not None:
                later.append(at_ms)
        return None, min(later, default=None)

    def _attempt(self, row: OutboxRow) -> _Attempt:
        """Send one message and judge what came of it."""
        kind, result = self._read_and_send(row)
        now_ms = self._means.now_ms()
        if isinstance(result, Delivered):
            self._unusable = ""
            log.info("Alert %s delivered to %s.", row.message_id, row.contact)
            return _Attempt(row.message_id, "delivered", now_ms, None, "", row.contact, result)
        wait_ms, reason = self._plan(row, kind, result, now_ms)
        error = f"{result.error}; {reason}"
        if isinstance(result, Gone) and not self._unusable:
            self._unusable = result.error
            log.error("Contact %s is unusable: %s. Other alerts to it are not sent.", row.contact, result.error)
        said = None if isinstance(result, Undeliverable) else result
        level = logging.ERROR if wait_ms is None else logging.WARNING
        log.log(level, "Alert %s not delivered to %s: %s.", row.message_id, row.contact, error)
        if wait_ms is None:
            return _Attempt(row.message_id, "abandoned", now_ms, None, error, row.contact, said)
        return _Attempt(row.message_id, "waiting", now_ms, now_ms + wait_ms, error, row.contact, said)

    def _plan(self, row: OutboxRow, kind: MessageKind | None, result: TryAgain | GiveUp, now_ms: int) -> Plan:
        jitter = self._means.jitter()
        if isinstance(result, GiveUp):
            return after_refusal(result, _priority(row), kind, jitter=jitter)
        # The receiver speaks of real seconds; the outbox keeps the time of this clock.
        after_s = None if result.after_s is None else result.after_s * self._means.rate
        attempts = row.attempts + 1
        return next_attempt(_priority(row), attempts, row.created_at_ms, now_ms, after_s=after_s, jitter=jitter)

    def _read_and_send(self, row: OutboxRow) -> tuple[MessageKind | None, SendResult]:
        try:
            message = OutgoingMessage.from_json(row.body)
        except ValueError as error:
            return None, Undeliverable(str(error))
        refused = Undeliverable(f"not sent, because earlier {self._unusable}")
        # Urgent calls come to such a contact only where there is no other way to anybody: each is tried once.
        calls = message.kind in (MessageKind.ALARM, MessageKind.REMINDER) and _priority(row) is not Priority.LOW
        if self._unusable and not calls and message.kind is not MessageKind.TEST:
            return message.kind, refused
        try:
            return message.kind, self._channel.send(as_sent(message, self._means.now_ms()))
        except Exception as error:  # noqa: BLE001 - whatever a channel does, the next message must go out
            return message.kind, TryAgain(f"fault in the program: {_describe(error)}; please report it")

    def _record(self) -> None:
        """Write the attempts down in the order they were made; what cannot be written stays for the next time."""
        while self._unrecorded:
            attempt = self._unrecorded[0]
            try:
                settled = self._means.journal.write(partial(_store, attempt=attempt))
            except Exception as error:  # noqa: BLE001 - any failure to record means the same: keep it, try again
                self._say_trouble(f"a result could not be recorded: {_describe(error)}")
                return
            if not settled:
                log.warning("Alert %s was settled by somebody else while it was sent.", attempt.message_id)
            self._trouble = ""
            del self._unrecorded[0]

    def _say_trouble(self, trouble: str) -> None:
        """Tell a trouble once, not with every try."""
        if trouble != self._trouble:
            self._trouble = trouble
            log.error("Courier of %s: %s. It is tried again every %g s.", self._name, trouble, TROUBLE_PAUSE_S)


def _store(conn: sqlite3.Connection, attempt: _Attempt) -> bool:
    """Write an attempt down, and what it says of its contact; False where the message waits no longer."""
    result = attempt.result
    if isinstance(result, Delivered):
        deliveries.note_accepted(conn, attempt.contact)
    elif result is not None:
        gone = isinstance(result, Gone)
        deliveries.note_failed(conn, attempt.contact, attempt.at_ms, result.error, gone=gone)
    try:
        outbox.record_attempt(
            conn, attempt.message_id, attempt.state, attempt.at_ms, attempt.next_attempt_at_ms, attempt.error
        )
    except LookupError:
        return False
    return True


def _priority(row: OutboxRow) -> Priority:
    return Priority(min(max(row.priority, Priority.CRITICAL), Priority.LOW))


def _describe(error: Exception) -> str:
    """Name an error. Only our own errors speak for themselves: the text of another may hold an address."""
    if isinstance(error, JournalError):
        return str(error)
    frame = traceback.extract_tb(error.__traceback__)[-1:]
    place = f" at {Path(frame[0].filename).name}:{frame[0].lineno}" if frame else ""
    return f"{type(error).__name__}{place}"
