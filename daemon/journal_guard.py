"""Notices a journal that cannot be written, and has people told past it.

It asks by small writes of its own, which the journal's thread does: a disk that refuses, and one that hangs, are both
noticed, and neither holds this thread up. What evaluation and ingest found out counts as well.
"""

import logging
import sqlite3
import threading
import time
from collections.abc import Callable
from concurrent.futures import Future
from dataclasses import dataclass

from config.site import Site
from config.words import AlarmKind
from daemon.alarms.definitions import tuned
from daemon.alarms.delivery import MessageStatus
from daemon.alarms.wording import Stage
from daemon.clock import Clock
from daemon.direct_calls import DirectCalls
from daemon.journal_messages import KEY, journal_messages, occurrence
from daemon.standing.journal_failing import JournalTrouble, look
from daemon.storage import alarm_log
from daemon.storage.alarm_log import AlarmEvent
from daemon.storage.journal import Journal, JournalClosedError, JournalError

log = logging.getLogger("clutchwarden.guard")

LOOK_S = 1.0
WRITE_EVERY_S = 15.0
"""A small write now and then costs a disk nothing beside the readings of probes."""
WRITE_AGAIN_S = 5.0
HANGS_S = 20.0
"""Longer than the journal waits for a lock, and than its largest writings take."""


@dataclass(frozen=True, slots=True)
class Sign:
    """That the journal fails: why, and since when (seconds of the guard's own clock)."""

    why: str
    since_s: float


class JournalGuard:
    """One thread. `touch` is the write that is made; `errors` gives what others met at their last writing, or None."""

    def __init__(
        self,
        journal: Journal,
        site: Site,
        calls: DirectCalls,
        clock: Clock,
        status: MessageStatus,
        touch: Callable[[sqlite3.Connection], None],
        errors: Callable[[], BaseException | None],
        monotonic_s: Callable[[], float] = time.monotonic,
    ) -> None:
        self._journal, self._site, self._calls, self._clock, self._status = journal, site, calls, clock, status
        self._touch, self._errors, self._monotonic_s = touch, errors, monotonic_s
        self._definition = tuned(AlarmKind.JOURNAL_FAILING, site.alarms)
        self._writing: Future[None] | None = None
        self._asked_s = 0.0
        self._write_at_s = monotonic_s()
        self._refused: Sign | None = None
        self._memory = JournalTrouble()
        self._why = ""
        self._begun_ms = 0
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, name="journal-guard", daemon=True)

    def start(self) -> None:
        """Begin to look."""
        self._thread.start()

    def stop(self, seconds: float = 5.0) -> None:
        """End. A write that hangs is not waited for."""
        self._stopping.set()
        self._thread.join(seconds)
        self._calls.stop()

    @property
    def alive(self) -> bool:
        """True while the thread runs; a dead one is a fault that health must report."""
        return self._thread.is_alive()

    @property
    def trouble(self) -> str:
        """That the journal cannot be written, as a sentence; empty while it can."""
        return f"The journal cannot be written: {self._why}." if self._why else ""

    def _run(self) -> None:
        while not self._stopping.wait(LOOK_S):
            try:
                self.look()
            except Exception:
                log.exception("A look at the journal failed; the next one comes all the same.")

    def look(self) -> None:
        """Look once, and have people told what follows. Waits for nothing."""
        now_s = self._monotonic_s()
        self._write(now_s)
        sign = self._sign(now_s)
        since_ms = None if sign is None else round(sign.since_s * 1000)
        before = self._memory
        self._memory, stage = look(before, since_ms, round(now_s * 1000), self._definition)
        if before.since_ms is None and self._memory.since_ms is not None:
            self._begun_ms = self._clock.now_ms() - round((now_s * 1000 - self._memory.since_ms) * self._clock.rate)
        if sign is not None:
            self._why = sign.why
        if stage is not None:
            self._tell(stage)
        if sign is None:
            self._why = ""

    def _write(self, now_s: float) -> None:
        """Ask for the next write where it is time, and see how the last one went."""
        if self._writing is not None and self._writing.done():
            error = self._writing.exception()
            self._writing = None
            since_s = self._asked_s if self._refused is None else self._refused.since_s
            self._refused = None if error is None else Sign(why_of(error), since_s)
            self._write_at_s = now_s + (WRITE_EVERY_S if error is None else WRITE_AGAIN_S)
        if self._writing is None and now_s >= self._write_at_s:
            try:
                self._writing = self._journal.submit(self._touch)
            except JournalClosedError:
                # The daemon ends.
                self._write_at_s = float("inf")
                return
            self._asked_s = now_s

    def _sign(self, now_s: float) -> Sign | None:
        """What says that the journal fails, the earliest first."""
        if self._refused is not None:
            return self._refused
        if self._writing is not None and now_s - self._asked_s >= HANGS_S:
            return Sign("the disk does not answer", self._asked_s)
        error = self._errors()
        return None if error is None else Sign(why_of(error), now_s)

    def _tell(self, stage: Stage) -> None:
        now_ms = self._clock.now_ms()
        log.error("The journal: %s (%s).", stage, self._why or "it can be written again")
        self._calls.tell(journal_messages(self._site, self._status, stage, self._begun_ms, now_ms, self._why))
        if stage is Stage.RAISED:
            self._raised = (now_ms, self._why)
        elif stage is Stage.CLEARED:
            self._write_down(now_ms)

    def _write_down(self, now_ms: int) -> None:
        """Now that it can be written again, the journal is told what it missed."""
        raised_ms, why = self._raised
        name = occurrence(self._begun_ms)
        events = (
            AlarmEvent(raised_ms, now_ms, KEY, name, "raised", None, None, why),
            AlarmEvent(now_ms, now_ms, KEY, name, "cleared", None, None, "it can be written again"),
        )

        def append(conn: sqlite3.Connection) -> None:
            for event in events:
                alarm_log.append_event(conn, event)

        self._journal.submit(append)


def why_of(error: BaseException) -> str:
    """Why a write failed, in words for people."""
    return (
        error.why if isinstance(error, JournalError) else f"fault in the program: {type(error).__name__}, see its log"
    )
