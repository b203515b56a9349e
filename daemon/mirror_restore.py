"""A new journal out of a mirror, where the old one is lost: readings and alarm events. Nothing else is in a mirror.

What comes back is read twice: once to store it, once more to prove that the new file holds the same, day by day.
"""

import sqlite3
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import NamedTuple

from config.mirror import MirrorSettings
from config.words import Quantity
from daemon.mirror.compare import Reading, digest
from daemon.mirror.errors import MirrorError
from daemon.mirror.points import EventRow
from daemon.mirror.spans import days
from daemon.mirror.target import target_of
from daemon.mirror_journals import under_name
from daemon.mirror_query import MirrorReader
from daemon.mirror_read import MirroredChannel, MirrorRead
from daemon.storage import heat, identity, mirror, samples
from daemon.storage.journal import Journal
from sensors.reading import ChannelKey

_TABLE = """CREATE TEMP TABLE mirrored (seq INTEGER, channel_id INTEGER, measured_at_ms INTEGER, received_at_ms INTEGER,
    value REAL, quality INTEGER)"""
_PUT = "INSERT INTO mirrored VALUES (?, ?, ?, ?, ?, ?)"
# The numbers of a journal have no gaps; where the mirror lacks a reading, those behind it move up.
_TAKE = """INSERT INTO sample (seq, channel_id, measured_at_ms, received_at_ms, value, quality)
    SELECT row_number() OVER (ORDER BY seq, measured_at_ms, channel_id), channel_id, measured_at_ms, received_at_ms,
    value, quality FROM mirrored"""
_EVENT = """INSERT INTO alarm_event
    (event_id, at_ms, recorded_at_ms, alarm_key, occurrence, event, value, limit_value, reason)
    VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)"""
_ALL = 2**62
Started = Callable[[int], Callable[[int], None]]


class Restored(NamedTuple):
    """What came back. `gaps`: numbers of readings that the mirror lacks; the others were given new ones then."""

    readings: int
    channels: int
    events: int
    gaps: int
    first_ms: int
    last_ms: int


def restore(
    to: Path, settings: MirrorSettings, site: str, copying: Started, proving: Started, journal_id: str = ""
) -> Restored:
    """Make the journal `to` out of what the mirror holds of a site, and prove it.

    `journal_id`: which one, where several have written under that name. Raises MirrorError where the file is there
    already, the mirror holds nothing of the site or of several, cannot be read, or does not say the same when it is
    asked again; and JournalError. What was begun is removed then.
    """
    if to.exists():
        hint = "It was left as it is. Name a file that is not there yet."
        raise MirrorError("nothing is restored", str(to), "there is a file of this name already", hint)
    try:
        with MirrorReader(settings) as reader, Journal.open(to) as journal:
            address = target_of(settings).address
            lost = journal_id or _only(reader, site, address)
            whole = _Whole(journal, MirrorRead(reader, lost), address, lost)
            whole.copy(copying)
            journal.write(lambda conn: identity.take(conn, lost))
            whole.begin_now(target_of(settings).key)
            return whole.prove(proving)
    except BaseException:
        for end in ("", "-wal", "-shm"):
            to.with_name(to.name + end).unlink(missing_ok=True)
        raise


def _only(reader: MirrorReader, site: str, address: str) -> str:
    """Give the one journal that has written under the name of a site."""
    known = under_name(reader, site)
    if not known:
        hint = "The name of the site is part of each point: see name in [site] of site.toml."
        raise MirrorError("nothing is restored", address, f'there are no readings of the site "{site}"', hint)
    if len(known) > 1:
        listed = ", ".join(
            f"{each.origin.journal} until {datetime.fromtimestamp(each.newest_ms / 1000, UTC):%Y-%m-%d %H:%M} UTC"
            for each in known
        )
        hint = f"Say which one with --journal: {listed}."
        raise MirrorError("nothing is restored", address, f'several journals have written as the site "{site}"', hint)
    return known[0].origin.journal


class _Whole:
    def __init__(self, journal: Journal, read: MirrorRead, address: str, lost: str) -> None:
        self._journal = journal
        self._read = read
        self._address = address
        self._channels = read.channels()
        self._spans = read.spans()
        self._plan = [(each, day) for each in self._channels for day in days(self._spans[each.channel])]
        self._gaps = 0
        if not self._plan:
            hint = "Leave --journal out: then the one of the site is taken, or those that there are are named."
            raise MirrorError("nothing is restored", address, f"there are no readings of the journal {lost}", hint)

    def copy(self, started: Started) -> None:
        """Bring everything into the new file."""
        ids = self._journal.write(lambda conn: samples.channel_ids(conn, map(_key, self._channels)))
        self._journal.write(lambda conn: conn.execute(_TABLE).rowcount)
        advance = started(len(self._plan))
        for channel, (start_ms, end_ms) in self._plan:
            rows = self._once(channel.channel, self._read.readings(channel.channel, start_ms, end_ms))
            number = ids[channel.channel]
            put = [(seq, number, at_ms, came_ms, value, quality) for seq, at_ms, came_ms, value, quality in rows]
            self._journal.write(lambda conn, put=put: conn.executemany(_PUT, put).rowcount)  # type: ignore[misc]
            advance(1)
        self._gaps = self._journal.write(_take)
        events = self._events()
        self._journal.write(lambda conn: conn.executemany(_EVENT, events).rowcount)

    def begin_now(self, target: str) -> None:
        """Let a service begin behind what was restored: it was judged once, and people were told of it."""

        def store(conn: sqlite3.Connection) -> None:
            readings, events = mirror.last_numbers(conn)
            heat.set_cursor(conn, readings)
            if not self._gaps:
                mirror.raise_cursors(conn, target, readings, events)

        self._journal.write(store)

    def prove(self, started: Started) -> Restored:
        """Ask the mirror once more and compare; gives what came back."""
        advance, count = started(len(self._plan)), 0
        for channel, (start_ms, end_ms) in self._plan:
            there = self._once(channel.channel, self._read.readings(channel.channel, start_ms, end_ms))
            with self._journal.read() as conn:
                own = mirror.samples_of(conn, channel.channel, start_ms, end_ms, _ALL)
            if len(own) != len(there) or digest(self._comparable(own)) != digest(self._comparable(there)):
                raise self._differs(f"{channel.channel} from {start_ms} to {end_ms} (UTC ms)")
            count += len(own)
            advance(1)
        with self._journal.read() as conn:
            stored, events = samples.count(conn), mirror.events_after(conn, 0, -1)
        if stored != count or sorted(events) != sorted(self._events()):
            raise self._differs("the number of readings, or the alarm events")
        first_ms = min(span[0] for span in self._spans.values())
        last_ms = max(span[1] for span in self._spans.values())
        return Restored(count, len(self._channels), len(events), self._gaps, first_ms, last_ms)

    def _events(self) -> list[EventRow]:
        span = self._read.event_span()
        found: dict[int, EventRow] = {}
        for start_ms, end_ms in days(span) if span else ():
            found |= self._read.events(start_ms, end_ms)
        return [found[number] for number in sorted(found)]

    def _once(self, channel: str, rows: Sequence[Reading]) -> Sequence[Reading]:
        """Give the readings; two that say something else of one moment cannot both be right."""
        times = [row[1] for row in rows]
        if len(set(times)) != len(times):
            raise self._differs(f"{channel}, of which it holds two values for one moment,")
        return rows

    def _comparable(self, rows: Sequence[Reading]) -> Sequence[Reading]:
        """Leave out the numbers where they had to be given anew."""
        return [(0, *row[1:]) for row in rows] if self._gaps else rows

    def _differs(self, what: str) -> MirrorError:
        hint = "Something writes there meanwhile, or it is damaged. End the service that writes to it, then try again."
        return MirrorError("nothing is restored", self._address, f"{what} is not the same when it is asked again", hint)


def _take(conn: sqlite3.Connection) -> int:
    (gaps,) = conn.execute("SELECT coalesce(max(seq), 0) - count(*) FROM mirrored").fetchone()
    conn.execute(_TAKE)
    conn.execute("DROP TABLE mirrored")
    return int(gaps)


def _key(channel: MirroredChannel) -> ChannelKey:
    return ChannelKey(
        channel.channel, channel.probe, channel.channel.removeprefix(f"{channel.probe}/"), Quantity(channel.quantity)
    )
