"""Readings that came late: what is gathered of them, how often some came, and what they belong between."""

import sqlite3
from collections.abc import Collection, Iterable, Iterator
from typing import NamedTuple

_GOOD_KNOWN = """SELECT measured_at_ms, value FROM sample
    WHERE channel_id = (SELECT channel_id FROM channel WHERE channel = ?)
    AND measured_at_ms >= ? AND measured_at_ms <= ? AND seq <= ? AND quality = 0
    ORDER BY measured_at_ms DESC LIMIT ?"""
_GOOD_AFTER = """SELECT measured_at_ms, value FROM sample
    WHERE channel_id = (SELECT channel_id FROM channel WHERE channel = ?)
    AND measured_at_ms > ? AND measured_at_ms <= ? AND seq <= ? AND quality = 0
    ORDER BY measured_at_ms LIMIT ?"""
# As in the index alarm_event_of_subject.
_TOLD = """SELECT alarm_key, at_ms, occurrence,
    (SELECT at_ms FROM alarm_event AS over WHERE over.occurrence = told.occurrence AND over.event = 'cleared'
        AND over.event_id <= :last ORDER BY over.event_id DESC LIMIT 1)
    FROM alarm_event AS told
    WHERE substr(alarm_key, instr(alarm_key, ':') + 1) = :subject AND event IN ('raised', 'found afterwards')
    AND at_ms >= :start_ms AND at_ms < :end_ms AND event_id <= :last"""
# One stretch of the index on (channel_id, measured_at_ms) is walked.
_CAME_LATE = """SELECT min(measured_at_ms), max(measured_at_ms), coalesce(max(step_ms), 0), max(received_at_ms)
    FROM (SELECT measured_at_ms, received_at_ms, measured_at_ms - lag(measured_at_ms) OVER in_time AS step_ms
        FROM sample WHERE channel_id = (SELECT channel_id FROM channel WHERE channel = :channel)
        AND measured_at_ms >= :start_ms AND measured_at_ms < :end_ms AND quality = 0
        AND received_at_ms - measured_at_ms > :late_ms WINDOW in_time AS (ORDER BY measured_at_ms))"""


def gathering(conn: sqlite3.Connection) -> str:
    """Give what was gathered and is not told yet, as it was kept; empty where nothing is."""
    row = conn.execute("SELECT state FROM late_gathering").fetchone()
    return "" if row is None else str(row[0])


def keep_gathering(conn: sqlite3.Connection, state: str) -> None:
    """Keep what is gathered over a restart; nothing where it is empty."""
    if state:
        conn.execute("INSERT OR REPLACE INTO late_gathering (only, state) VALUES (1, ?)", (state,))
    else:
        conn.execute("DELETE FROM late_gathering")


def count_change(conn: sqlite3.Connection, channels: Iterable[str]) -> None:
    """Late readings of these channels have come in."""
    conn.executemany(
        "INSERT INTO late_change (channel, changes) VALUES (?, 1) ON CONFLICT (channel) DO UPDATE SET"
        " changes = changes + 1",
        [(channel,) for channel in channels],
    )


def changes(conn: sqlite3.Connection, channels: Collection[str] | None = None) -> dict[str, int]:
    """Give how often late readings came, by channel; of those where none came nothing."""
    found = dict(conn.execute("SELECT channel, changes FROM late_change").fetchall())
    return found if channels is None else {one: found[one] for one in channels if one in found}


def good_known(
    conn: sqlite3.Connection, channel: str, start_ms: int, end_ms: int, seq: int, most: int
) -> list[tuple[int, float]]:
    """Give (measured_at_ms, value) of the good readings from start to end, both included, in order of time.

    As if nothing had been stored after a sequence number; of more than `most` the newest.
    """
    return conn.execute(_GOOD_KNOWN, (channel, start_ms, end_ms, seq, most)).fetchall()[::-1]


def newest_known(
    conn: sqlite3.Connection, channel: str, start_ms: int, end_ms: int, seq: int
) -> Iterator[tuple[int, float]]:
    """The same from the newest to the oldest, as many as are taken."""
    yield from conn.execute(_GOOD_KNOWN, (channel, start_ms, end_ms, seq, -1))


def good_after(
    conn: sqlite3.Connection, channel: str, after_ms: int, end_ms: int, seq: int, most: int
) -> list[tuple[int, float]]:
    """The same of those behind one moment and until another, the oldest of more than `most`."""
    return conn.execute(_GOOD_AFTER, (channel, after_ms, end_ms, seq, most)).fetchall()


class Told(NamedTuple):
    """An alarm that people were told of, or that was found afterwards; `ended_ms`: None where it had not ended."""

    alarm_key: str
    at_ms: int
    occurrence: str
    ended_ms: int | None


def told(conn: sqlite3.Connection, subject: str, start_ms: int, end_ms: int, last_event: int) -> list[Told]:
    """Give what was told of a subject from start until before end, as if nothing had been told after `last_event`."""
    asked = {"subject": subject, "start_ms": start_ms, "end_ms": end_ms, "last": last_event}
    return list(map(Told._make, conn.execute(_TOLD, asked)))


class Filled(NamedTuple):
    """Good readings that came late into a span: the last one came at `came_ms`; `longest_hole_ms` is what is left."""

    came_ms: int
    longest_hole_ms: int


def filled(conn: sqlite3.Connection, channel: str, start_ms: int, end_ms: int, late_ms: int) -> Filled | None:
    """Give what came so late, and later, into a span from start until before end; None where nothing did."""
    span = {"channel": channel, "start_ms": start_ms, "end_ms": end_ms, "late_ms": late_ms}
    first_ms, last_ms, step_ms, came_ms = conn.execute(_CAME_LATE, span).fetchone()
    return None if came_ms is None else Filled(came_ms, max(first_ms - start_ms, step_ms, end_ms - last_ms))
