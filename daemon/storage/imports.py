"""A whole record into the journal at once, beside a running daemon.

Everything is made ready first, in a table of this connection's own that lives in memory and locks nobody out. Then one
short transaction takes it over, so that the daemon waits as little as can be and a kill leaves all of it or nothing.
"""

import sqlite3
import time
from array import array
from collections.abc import Sequence
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

from daemon.storage.chain import seal_all
from daemon.storage.connections import Connect, connect, open_writer
from daemon.storage.errors import explained
from daemon.storage.samples import channel_ids
from sensors.reading import ChannelKey

BUSY_TIMEOUT_S = 30.0
_MARK = "import "
"""The name of a cursor begins so and ends with the first sequence number of an import; it holds the last one."""
_CACHE_KIB = 65_536
"""Holds the pages of a season of two channels. A smaller cache writes many of them twice while the lock is held."""

_STAGED = """CREATE TEMP TABLE staged (
    measured_at_ms INTEGER NOT NULL, slot INTEGER NOT NULL, value REAL NOT NULL, quality INTEGER NOT NULL,
    PRIMARY KEY (measured_at_ms, slot)) WITHOUT ROWID"""
_SLOTS = "CREATE TEMP TABLE slot_channel (slot INTEGER PRIMARY KEY, channel_id INTEGER NOT NULL)"
# In order of time over all channels, as the readings would have come.
_TAKE_OVER = """INSERT INTO sample (channel_id, measured_at_ms, received_at_ms, value, quality)
    SELECT channel_id, measured_at_ms, ?, value, quality
    FROM staged CROSS JOIN slot_channel USING (slot) WHERE true ORDER BY measured_at_ms, slot
    ON CONFLICT (channel_id, measured_at_ms) DO NOTHING"""
_THERE = """SELECT measured_at_ms, value FROM sample JOIN channel USING (channel_id)
    WHERE channel = ? AND measured_at_ms BETWEEN ? AND ? ORDER BY measured_at_ms"""
_GOOD_BEFORE = """SELECT measured_at_ms, value FROM sample JOIN channel USING (channel_id)
    WHERE channel = ? AND measured_at_ms < ? AND quality = 0 ORDER BY measured_at_ms DESC LIMIT 1"""


@dataclass(frozen=True, slots=True)
class Series:
    """The readings of one channel in rising order of time: UTC ms, canonical unit, quality."""

    key: ChannelKey
    times_ms: "array[int]"
    values: "array[float]"
    qualities: "array[int]"


class Conflict(NamedTuple):
    """A time for which the journal has another value than the one offered. The first stays."""

    measured_at_ms: int
    stored: float
    offered: float


@dataclass(frozen=True, slots=True)
class Comparison:
    """What of a series the journal lacks, has already, and has otherwise."""

    new: Series
    duplicates: int
    conflicts: tuple[Conflict, ...]


class Stored(NamedTuple):
    """How many readings were new, and how long (s) nobody else could write."""

    new: int
    locked_s: float


def before(conn: sqlite3.Connection, channel: str, start_ms: int, span_ms: int) -> list[tuple[int, float]]:
    """Give (measured_at_ms, value) of a channel's stretch before a moment, and of the good one before the stretch."""
    first_ms = start_ms - span_ms
    good = conn.execute(_GOOD_BEFORE, (channel, first_ms)).fetchall()
    return [*good, *conn.execute(_THERE, (channel, first_ms, start_ms - 1)).fetchall()]


def compare(conn: sqlite3.Connection, series: Series) -> Comparison:
    """Hold a series against what the journal has of its channel."""
    if not series.times_ms:
        return Comparison(series, 0, ())
    there = conn.execute(_THERE, (series.key.channel, series.times_ms[0], series.times_ms[-1]))
    stored_ms, stored = next(there, (None, 0.0))
    duplicates, conflicts = 0, []
    new = Series(series.key, array("q"), array("d"), array("b"))
    for at_ms, value, quality in zip(series.times_ms, series.values, series.qualities, strict=True):
        while stored_ms is not None and stored_ms < at_ms:
            stored_ms, stored = next(there, (None, 0.0))
        if stored_ms != at_ms:
            new.times_ms.append(at_ms)
            new.values.append(value)
            new.qualities.append(quality)
        elif stored == value:
            duplicates += 1
        else:
            conflicts.append(Conflict(at_ms, stored, value))
    return Comparison(new, duplicates, tuple(conflicts))


def store(
    path: Path,
    every: Sequence[Series],
    received_at_ms: int,
    *,
    bare: Connect = connect,
    busy_timeout_s: float = BUSY_TIMEOUT_S,
) -> Stored:
    """Store all readings or none; what the journal has already stays as it is.

    Raises JournalError where nothing was stored.
    """
    try:
        with closing(open_writer(path, busy_timeout_s, bare)) as conn:
            conn.execute("PRAGMA temp_store = MEMORY")
            conn.execute(f"PRAGMA cache_size = -{_CACHE_KIB}")
            _stage(conn, every)
            return _take_over(conn, every, received_at_ms)
    except sqlite3.DatabaseError as error:
        clear = explained(error, "cannot store the import", str(path))
        raise (clear or error) from error


def _stage(conn: sqlite3.Connection, every: Sequence[Series]) -> None:
    conn.execute(_STAGED)
    conn.execute(_SLOTS)
    conn.execute("BEGIN")
    for slot, series in enumerate(every):
        rows = zip(series.times_ms, series.values, series.qualities, strict=True)
        readings = ((at_ms, slot, value, quality) for at_ms, value, quality in rows)
        conn.executemany("INSERT INTO staged VALUES (?, ?, ?, ?)", readings)
    conn.execute("COMMIT")


def _take_over(conn: sqlite3.Connection, every: Sequence[Series], received_at_ms: int) -> Stored:
    conn.execute("BEGIN IMMEDIATE")
    began = time.monotonic()
    try:
        ids = channel_ids(conn, [series.key for series in every])
        numbers = [(slot, ids[series.key.channel]) for slot, series in enumerate(every)]
        conn.executemany("INSERT INTO slot_channel VALUES (?, ?)", numbers)
        before_changes = conn.total_changes
        conn.execute(_TAKE_OVER, (received_at_ms,))
        new = conn.total_changes - before_changes
        if new:
            _mark(conn, new)
        seal_all(conn)
        conn.execute("COMMIT")
    except BaseException:
        if conn.in_transaction:
            conn.execute("ROLLBACK")
        raise
    return Stored(new, time.monotonic() - began)


def _mark(conn: sqlite3.Connection, new: int) -> None:
    """Note which sequence numbers are an import's: they tell of the past, whatever else the journal has."""
    (last,) = conn.execute("SELECT max(seq) FROM sample").fetchone()
    conn.execute("INSERT INTO cursor (name, seq) VALUES (?, ?)", (f"{_MARK}{last - new + 1}", last))


def marked(conn: sqlite3.Connection, from_seq: int) -> list[range]:
    """Give the sequence numbers of imports that end at `from_seq` or later, as ranges."""
    rows = conn.execute("SELECT name, seq FROM cursor WHERE name GLOB ? AND seq >= ?", (f"{_MARK}*", from_seq))
    return [range(int(name.removeprefix(_MARK)), last + 1) for name, last in rows]
