"""Daily digests of readings: what was stored one after another on one UTC day, with a hash over all of it.

A reading belongs to the day on which it was stored, so one that comes late changes no older digest.
"""

import hashlib
import sqlite3
from collections.abc import Callable, Iterator
from typing import Any, NamedTuple

from daemon.chain_rules import BLOCK, day_name, day_of, packed

_RECEIVED = 2
_READINGS = """SELECT channel_id, measured_at_ms, received_at_ms, value, quality FROM sample
    WHERE seq BETWEEN ? AND ? ORDER BY seq"""
_ADD = "INSERT INTO sample_day (day, first_seq, last_seq, readings, sha256, made_ms) VALUES (?, ?, ?, ?, ?, ?)"
Rows = list[tuple[Any, ...]]


class DayDigest(NamedTuple):
    """The digest of so many readings, from the first sequence number to the last. `day`: UTC, as `2026-08-03`."""

    day: str
    first_seq: int
    last_seq: int
    readings: int
    sha256: str


def blocks(conn: sqlite3.Connection, first_seq: int, last_seq: int) -> Iterator[Rows]:
    """Give the readings as they are hashed, in order of storing, in blocks; the last may be smaller."""
    rows = conn.execute(_READINGS, (first_seq, last_seq))
    while block := rows.fetchmany(BLOCK):
        yield block


def stored(conn: sqlite3.Connection, since: str = "") -> list[DayDigest]:
    """Give all digests in the order in which they were made, from the first one of a day on."""
    rows = conn.execute(
        "SELECT day, first_seq, last_seq, readings, sha256 FROM sample_day WHERE digest_id >="
        " (SELECT min(digest_id) FROM sample_day WHERE day >= ?) ORDER BY digest_id",
        (since,),
    )
    return list(map(DayDigest._make, rows))


def digested_to(conn: sqlite3.Connection) -> int:
    """Give the last sequence number that a digest holds; 0 where there is none."""
    (last,) = conn.execute("SELECT coalesce(max(last_seq), 0) FROM sample_day").fetchone()
    return int(last)


def due(conn: sqlite3.Connection, now_ms: int, stopping: Callable[[], bool]) -> DayDigest | None:
    """Work out the next digest; None where no day is over that has none, or it was to be stopped.

    A day is over once the clock says so, or once readings of another day were stored behind it.
    """
    first = digested_to(conn) + 1
    ends = conn.execute(
        "SELECT (SELECT received_at_ms FROM sample WHERE seq = ?), seq, received_at_ms FROM sample"
        " ORDER BY seq DESC LIMIT 1",
        (first,),
    ).fetchone()
    if ends is None or ends[0] is None:
        return None
    day, newest_seq, today = day_of(ends[0]), int(ends[1]), day_of(now_ms)
    if day >= today and day_of(ends[2]) == day:
        return None
    hashed, count = hashlib.sha256(), 0
    for block in blocks(conn, first, newest_seq):
        if stopping():
            return None
        same = _leading(block, day)
        hashed.update(packed(block[:same]))
        count += same
        if same < len(block):
            break
    else:
        if day >= today:
            return None
    return DayDigest(day_name(day), first, first + count - 1, count, hashed.hexdigest())


def _leading(block: Rows, day: int) -> int:
    """Count the readings at the beginning that were stored on a day."""
    if {day_of(row[_RECEIVED]) for row in block} == {day}:
        return len(block)
    return next(place for place, row in enumerate(block) if day_of(row[_RECEIVED]) != day)


def add(conn: sqlite3.Connection, digest: DayDigest, now_ms: int) -> bool:
    """Store a digest; False where somebody else stored one of these readings meanwhile."""
    if digest.first_seq != digested_to(conn) + 1:
        return False
    conn.execute(_ADD, (*digest, now_ms))
    return True
