"""What is wrong with the daemon itself, in sentences for the page, for `/health` and for the heartbeat."""

import sqlite3
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from config.site import Site
from daemon import held_messages
from daemon.alarms.courier import Courier
from daemon.evaluation import Evaluation
from daemon.heartbeat import Heartbeat
from daemon.journal_guard import JournalGuard
from daemon.letters import Letters
from daemon.mqtt import Listener
from daemon.storage import chain, heat, samples
from daemon.storage.journal import Journal, JournalError
from daemon.undelivered import undelivered

UNSEALED_S = 600.0
"""A daemon writes at least with each round of readings. Project choice."""
_UNSEALED = (
    "Something in the journal cannot be sealed, so nothing shows whether it is changed later. Nothing is lost: run "
    "clutchwarden verify, and keep the log."
)
LATE_S = 30.0
"""A step of evaluation takes a second or two; readings that wait so long wait for one that hangs."""


class EvaluationProgress:
    """Notices an evaluation that stands still although its thread lives: readings are there, and nothing takes them."""

    def __init__(self, journal: Journal, monotonic_s: Callable[[], float] = time.monotonic) -> None:
        self._journal = journal
        self._monotonic_s = monotonic_s
        self._waiting: tuple[int, float] | None = None
        """what was evaluated last when readings began to wait behind it, and when that was seen"""

    def reasons(self) -> tuple[str, ...]:
        """Look; a reason where the reading that waited some time ago still waits. May be asked at any pace."""
        with self._journal.read() as conn:
            done = heat.get_cursor(conn)
            waits = bool(samples.after(conn, done, 1))
        now_s, before = self._monotonic_s(), self._waiting
        if not waits:
            self._waiting = None
        elif before is None or before[0] != done:
            self._waiting = (done, now_s)
        elif now_s - before[1] >= LATE_S:
            return ("Readings are stored, but they wait to be evaluated: alarms may be late.",)
        return ()


class Sealing:
    """Notices rows that stay outside the chain: all that is written is sealed with it, or with the next writing."""

    def __init__(self, monotonic_s: Callable[[], float] = time.monotonic) -> None:
        self._monotonic_s = monotonic_s
        self._waiting: tuple[int, float] | None = None
        """the row that has waited longest, and when that was seen"""

    def reasons(self, conn: sqlite3.Connection) -> tuple[str, ...]:
        """Look; a reason where the row that waited some time ago still waits."""
        place, now_s, before = chain.longest_waiting(conn), self._monotonic_s(), self._waiting
        if place is None:
            self._waiting = None
        elif before is None or before[0] != place:
            self._waiting = (place, now_s)
        elif now_s - before[1] >= UNSEALED_S:
            return (_UNSEALED,)
        return ()


@dataclass(frozen=True, slots=True)
class Parts:
    """The parts of a daemon that runs, as far as something may be wrong with them."""

    listener: Listener
    evaluation: Evaluation
    courier: Courier
    guard: JournalGuard
    heartbeat: Heartbeat
    letters: Letters


class Troubles:
    """Asks all parts of a daemon; until there are `parts` it is starting."""

    def __init__(self, journal: Journal, site: Site, now_ms: Callable[[], int], largest_payload_bytes: int) -> None:
        self._journal = journal
        self._largest_payload_bytes = largest_payload_bytes
        self._site = site
        self._now_ms = now_ms
        self._progress = EvaluationProgress(journal)
        self._sealing = Sealing()
        self.parts: Parts | None = None
        self.remark = ""
        """something more that is wrong until the next start, as a sentence"""

    def sentences(self) -> tuple[str, ...]:
        """All that is wrong at this moment."""
        if self.parts is None:
            return ("Clutchwarden is starting.",)
        remark = (self.remark,) if self.remark else ()
        return (*remark, *_of_parts(self.parts), *self._of_journal())

    def _of_journal(self) -> tuple[str, ...]:
        try:
            with self._journal.read() as conn:
                missed = undelivered(conn, self._site, self._now_ms())
                unsealed = self._sealing.reasons(conn)
                no_room = held_messages.full(conn, self._largest_payload_bytes)
            return (*self._progress.reasons(), *missed, *unsealed, *([no_room] if no_room else []))
        except JournalError as error:
            return (f"The daemon does not know how it fares: {error}",)


def _of_parts(parts: Parts) -> Iterator[str]:
    if parts.evaluation.trouble:
        yield parts.evaluation.trouble
    if not parts.listener.alive:
        yield "Nothing listens to the broker any more: restart clutchwarden."
    if parts.listener.store_error is not None:
        yield f"Readings cannot be stored: {parts.listener.store_error}"
    if not parts.evaluation.alive:
        yield "Readings are not evaluated any more: restart clutchwarden."
    if not parts.courier.alive:
        yield "Alerts are not sent any more: restart clutchwarden."
    if not parts.guard.alive:
        yield "Nobody would be told of a journal that fails: restart clutchwarden."
    if parts.guard.trouble:
        yield parts.guard.trouble
    if not parts.letters.alive:
        yield "Tests and digests are not sent any more: restart clutchwarden."
    if parts.heartbeat.trouble:
        yield parts.heartbeat.trouble
    yield from parts.evaluation.failing
