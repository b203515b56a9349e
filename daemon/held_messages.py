"""Messages that wait for the time of their arrival to be known, and what becomes of them once it is."""

import logging
import sqlite3
from collections.abc import Callable
from dataclasses import dataclass

from daemon.arrival import Arrival
from daemon.clock_trust import ClockTrust
from daemon.storage import held
from daemon.storage.held import HeldMessage
from daemon.storage.journal import Journal, JournalError
from sensors.decoder import Decoder
from sensors.reading import Outcome, Rejection

log = logging.getLogger("clutchwarden.clock")

AT_ONCE = 5_000
PAUSE_MS = 10_000
_LONGEST_TOPIC_BYTES = 65_535
"""MQTT 5.0, 1.5.4: the length of a text is said in two bytes."""
SETTLED_MS = 120_000
"""What was held last may still be on its way into the journal: it is looked for until so long after."""
_FULL = (
    "So many messages wait for the clock of this machine to be right ({} of them, {} MB) that there is no room for "
    "more, or none for a large one: what does not fit is refused, counted and lost. Set the clock, or let the probes "
    "send their own time."
)
_OTHER_BOOT = (
    "it came before the clock of the machine was set, and the machine was started anew before it was: nobody knows "
    "when it was sent. Let the probe send its own time, or give the machine a battery for its clock"
)


@dataclass(frozen=True, slots=True)
class Held(Rejection):
    """A message that cannot be dated yet; refused only where there is no room to hold it."""

    boot: str = ""
    steady_ms: int = 0

    def message(self, arrival: Arrival) -> HeldMessage:
        """What is kept of it."""
        return HeldMessage(0, arrival.topic, arrival.payload, arrival.retained, self.boot, self.steady_ms)


class HeldMessages:
    """Of one journal; used by the thread that decodes."""

    def __init__(self, journal: Journal, decoder: Decoder, trust: ClockTrust) -> None:
        self._journal = journal
        self._decoder = decoder
        self._trust = trust
        self._said, self._again_ms = False, 0
        self._held_ms: int | None = None
        """when a message was held last, by the steady clock; None where none may be left"""
        with journal.read() as conn:
            first = held.oldest(conn, 0, 1)
        if first:
            self._held_ms = trust.steady_ms
            if first[0].boot == trust.boot:
                trust.has_waited_since(first[0].steady_ms)

    def held(self) -> Held | None:
        """What a message of now is as long as its time is not known; None where it is."""
        doubt = self._trust.doubt()
        if not doubt:
            return None
        if not self._said:
            log.warning("Readings without a time of their own wait to be dated: %s.", doubt)
            self._said = True
        self._held_ms = self._trust.steady_ms
        return Held(Outcome.UNTIMED, f"{doubt}, and more wait than can be held", self._trust.boot, self._held_ms)

    def place(self, store: Callable[[list[Arrival], int, int], None]) -> None:
        """Once the time is known, date what waits: `store` is given messages, and the first and last number of them."""
        if self._held_ms is None or self._trust.doubt() or self._trust.steady_ms < self._again_ms:
            return
        try:
            last = self._place(store)
        except JournalError as error:
            log.error("Readings that can be dated now wait on: %s", error)  # noqa: TRY400 - the text is whole
            self._again_ms = self._trust.steady_ms + PAUSE_MS
            return
        if last:
            log.info("The time is known: readings that waited for it were dated.")
        elif self._trust.steady_ms - self._held_ms > SETTLED_MS:
            self._held_ms = None

    def _place(self, store: Callable[[list[Arrival], int, int], None]) -> int:
        last = 0
        while True:
            with self._journal.read() as conn:
                rows = held.oldest(conn, last, AT_ONCE)
            if not rows:
                return last
            last = rows[-1].held_id
            store([self._dated(row) for row in rows], rows[0].held_id, last)

    def _dated(self, row: HeldMessage) -> Arrival:
        at_ms = self._trust.moment_of(row.steady_ms)
        if row.boot == self._trust.boot:
            decoded = self._decoder.decode(row.topic, row.payload, row.retained, at_ms)
        else:
            decoded = Rejection(Outcome.UNTIMED, _OTHER_BOOT)
        return Arrival(row.topic, row.payload, row.retained, at_ms, decoded, 0, 0)


def full(conn: sqlite3.Connection, largest_payload_bytes: int) -> str:
    """A sentence for people where a message of the largest size could not be held; empty where there is room."""
    present = held.load(conn)
    size_bytes = present.size_bytes + largest_payload_bytes + _LONGEST_TOPIC_BYTES
    if present.messages < held.MOST_HELD and size_bytes <= held.MOST_HELD_BYTES:
        return ""
    return _FULL.format(f"{present.messages:,}", round(present.size_bytes / 2**20))


class NoRoom:
    """Says in the log that messages are refused for want of room: the first time, and at each doubling."""

    def __init__(self) -> None:
        self._count, self._say_at = 0, 1

    def refused(self, count: int) -> None:
        """So many were refused."""
        self._count += count
        if count and self._count >= self._say_at:
            self._say_at = 2 * self._count
            log.error(
                "Messages without a time are refused, %d by now: no more can be held until the clock is set.",
                self._count,
            )
