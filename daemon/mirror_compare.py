"""Journal and mirror held against each other, channel by channel and day by day, and what differs written once more."""

from collections.abc import Callable, Iterator
from typing import NamedTuple

from config.mirror import MirrorSettings
from config.site import Site
from daemon.mirror.answers import Answer
from daemon.mirror.compare import Difference, events_differ, readings_differ
from daemon.mirror.errors import MirrorError
from daemon.mirror.points import ALARM_EVENT, READING, Batch, Origin
from daemon.mirror.spans import days, joined
from daemon.mirror_client import MirrorClient
from daemon.mirror_delivery import Delivery
from daemon.mirror_query import MirrorReader
from daemon.mirror_read import MirrorRead
from daemon.mirror_source import MirrorSource
from daemon.storage import identity, mirror
from daemon.storage.journal import Journal

EVENTS = "alarm events"
Advance = Callable[[int], None]


class DayCompared(NamedTuple):
    """One channel (or the alarm events) on one UTC day that begins at `start_ms`."""

    what: str
    start_ms: int
    rows: int
    difference: Difference


class MirrorCompare:
    """Compares a journal with its target, under whatever name its site had. What has not been sent yet is left out."""

    def __init__(self, journal: Journal, reader: MirrorReader, target: str) -> None:
        self._journal = journal
        with journal.read() as conn:
            self._read = MirrorRead(reader, identity.journal_id(conn))
            self._last_seq, self._last_event = mirror.cursors(conn, target)
            parked = mirror.parked(conn, target)
        self._parked = {
            source: frozenset(each.number for each in parked if each.source == source)
            for source in (READING, ALARM_EVENT)
        }

    def days(self, since_ms: int, started: Callable[[int], Advance]) -> Iterator[DayCompared]:
        """Give each day of each channel, and of the alarm events. Raises MirrorError and JournalError."""
        with self._journal.read() as conn:
            own = mirror.spans(conn)
            event_times = conn.execute("SELECT min(at_ms), max(at_ms) FROM alarm_event").fetchone()
        plan = [
            (channel, day)
            for channel, span in sorted(joined(own, self._read.spans()).items())
            for day in days(span, since_ms)
        ]
        events = {EVENTS: event_times} if event_times[0] is not None else {}
        mirrored = self._read.event_span()
        for span in joined(events, {EVENTS: mirrored} if mirrored else {}).values():
            plan += [(EVENTS, day) for day in days(span, since_ms)]
        advance = started(len(plan))
        for what, (start_ms, end_ms) in plan:
            found = (self._events if what == EVENTS else self._channel)(what, start_ms, end_ms)
            advance(1)
            if found.rows or found.difference.extra:
                yield found

    def _channel(self, channel: str, start_ms: int, end_ms: int) -> DayCompared:
        there = [row for row in self._read.readings(channel, start_ms, end_ms) if row[0] <= self._last_seq]
        with self._journal.read() as conn:
            own = mirror.samples_of(conn, channel, start_ms, end_ms, self._last_seq)
        return DayCompared(channel, start_ms, len(own), readings_differ(own, there, self._parked[READING]))

    def _events(self, what: str, start_ms: int, end_ms: int) -> DayCompared:
        read = self._read.events(start_ms, end_ms)
        there = {number: row for number, row in read.items() if number <= self._last_event}
        with self._journal.read() as conn:
            own = {row[0]: row for row in mirror.events_between(conn, start_ms, end_ms, self._last_event)}
        return DayCompared(what, start_ms, len(own), events_differ(own, there, self._parked[ALARM_EVENT]))


class Mender:
    """Writes once more what a comparison found missing or different. Raises MirrorError where it cannot be read."""

    def __init__(self, journal: Journal, site: Site, settings: MirrorSettings, now_ms: Callable[[], int]) -> None:
        self._journal = journal
        self._batch_size = settings.batch_size
        with journal.read() as conn:
            origin = Origin(site.name, identity.journal_id(conn))
        with MirrorReader(settings) as reader:
            former = MirrorRead(reader, origin.journal).former()
        self._source = MirrorSource(site, origin.journal, former)
        self._client = MirrorClient(settings)
        self._delivery = Delivery(journal, self._client, origin, now_ms)

    def close(self) -> None:
        """Give back what it holds."""
        self._client.close()

    def mend(self, day: DayCompared) -> int:
        """Write what a day lacks; gives how many points were sent. Raises MirrorError and JournalError."""
        numbers = day.difference.to_mend
        for first in range(0, len(numbers), self._batch_size):
            batch = self._batch(day, numbers[first : first + self._batch_size])
            answer = self._delivery.deliver(batch)
            if answer is not None:
                raise not_taken(self._client.target.address, answer)
        return len(numbers)

    def _batch(self, day: DayCompared, numbers: tuple[int, ...]) -> Batch:
        with self._journal.read() as conn:
            if day.what != EVENTS:
                return self._source.readings(conn, mirror.samples_by_number(conn, numbers))
            rows = [row for number in numbers for row in mirror.events_after(conn, number - 1, 1)]
        return self._source.events(rows)


def not_taken(address: str, answer: Answer) -> MirrorError:
    """Give the error for what a target did not take."""
    hint = "What it has stays there. Try again once it is well; the service goes on by itself."
    return MirrorError("the mirror takes nothing", address, answer.told, hint)
