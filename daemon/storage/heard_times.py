"""When channels were heard in a span, and between which readings nothing came for long.

A reading counts as heard where it arrived at most `late_ms` after it was measured. What is asked costs the readings of
the span, and never those of other times: each query walks one stretch of the index on (channel_id, measured_at_ms).
SQLite compares neighbours itself, without holding up other threads.
"""

import sqlite3
from typing import NamedTuple

_STEPS = """SELECT before_ms, at_ms FROM (
    SELECT measured_at_ms AS at_ms, lag(measured_at_ms) OVER (ORDER BY measured_at_ms) AS before_ms FROM sample
    WHERE channel_id = :number AND measured_at_ms BETWEEN :start_ms AND :end_ms
        AND received_at_ms - measured_at_ms <= :late_ms)
    WHERE at_ms - before_ms > :longest_ms ORDER BY at_ms"""
_BEFORE = """SELECT measured_at_ms FROM sample WHERE channel_id = ? AND measured_at_ms >= ? AND measured_at_ms < ?
    AND received_at_ms - measured_at_ms <= ? ORDER BY measured_at_ms DESC LIMIT 1"""
_BEHIND = """SELECT measured_at_ms FROM sample WHERE channel_id = ? AND measured_at_ms > ? AND measured_at_ms <= ?
    AND received_at_ms - measured_at_ms <= ? ORDER BY measured_at_ms LIMIT 1"""
_FILLED = """SELECT count(*), max(received_at_ms), min(measured_at_ms), max(measured_at_ms) FROM sample
    WHERE channel_id = ? AND measured_at_ms > ? AND measured_at_ms < ?"""
_HOLE = """SELECT max(at_ms - before_ms) FROM (
    SELECT measured_at_ms AS at_ms, lag(measured_at_ms, 1, :start_ms) OVER (ORDER BY measured_at_ms) AS before_ms
    FROM sample WHERE channel_id = :number AND measured_at_ms > :start_ms AND measured_at_ms < :end_ms)"""
_RUNS = """SELECT measured_at_ms, value FROM (
    SELECT measured_at_ms, value, lag(value) OVER (ORDER BY measured_at_ms) AS was FROM sample
    WHERE channel_id = ? AND measured_at_ms BETWEEN ? AND ? AND quality = 0)
    WHERE was IS NULL OR was != value ORDER BY measured_at_ms"""
_OTHER_BEFORE = """SELECT measured_at_ms FROM sample WHERE channel_id = ? AND measured_at_ms < ? AND quality = 0
    AND value != ? ORDER BY measured_at_ms DESC LIMIT 1"""
_OTHER_BEHIND = """SELECT measured_at_ms FROM sample WHERE channel_id = ? AND measured_at_ms > ? AND quality = 0
    AND value != ? ORDER BY measured_at_ms LIMIT 1"""
_FIRST_BEHIND = """SELECT measured_at_ms FROM sample WHERE channel_id = ? AND measured_at_ms > ? AND quality = 0
    ORDER BY measured_at_ms LIMIT 1"""
_LATE_DAYS = """SELECT DISTINCT measured_at_ms / :width_ms FROM sample
    WHERE seq > :after AND seq <= :until AND received_at_ms - measured_at_ms > :late_ms ORDER BY 1"""


class Filled(NamedTuple):
    """What came afterwards of a span: how many readings, when the last one came, and the longest hole that is left."""

    readings: int
    came_ms: int
    hole_ms: int


def number_of(conn: sqlite3.Connection, channel: str) -> int | None:
    """Give the number of a channel; None where nothing of it was ever stored."""
    found = conn.execute("SELECT channel_id FROM channel WHERE channel = ?", (channel,)).fetchone()
    return None if found is None else int(found[0])


def steps(
    conn: sqlite3.Connection, number: int, start_ms: int, end_ms: int, late_ms: int, longest_ms: int
) -> list[tuple[int, int]]:
    """Give (before, after) of neighbouring readings that were heard, where more than `longest_ms` lies between."""
    span = {"number": number, "start_ms": start_ms, "end_ms": end_ms, "late_ms": late_ms, "longest_ms": longest_ms}
    return [(int(before_ms), int(at_ms)) for before_ms, at_ms in conn.execute(_STEPS, span)]


def heard_before(conn: sqlite3.Connection, number: int, at_ms: int, late_ms: int, not_before_ms: int) -> int | None:
    """Give the last reading before a moment that was heard, from `not_before_ms` on."""
    found = conn.execute(_BEFORE, (number, not_before_ms, at_ms, late_ms)).fetchone()
    return None if found is None else int(found[0])


def heard_behind(conn: sqlite3.Connection, number: int, at_ms: int, late_ms: int, not_after_ms: int) -> int | None:
    """Give the first reading behind a moment that was heard, up to `not_after_ms`."""
    found = conn.execute(_BEHIND, (number, at_ms, not_after_ms, late_ms)).fetchone()
    return None if found is None else int(found[0])


def filled(conn: sqlite3.Connection, number: int, start_ms: int, end_ms: int) -> Filled | None:
    """Give what there is between two moments, neither included; None where there is nothing."""
    count, came_ms, _, last_ms = conn.execute(_FILLED, (number, start_ms, end_ms)).fetchone()
    if not count:
        return None
    span = {"number": number, "start_ms": start_ms, "end_ms": end_ms}
    (hole_ms,) = conn.execute(_HOLE, span).fetchone()
    return Filled(int(count), int(came_ms), max(int(hole_ms), end_ms - int(last_ms)))


def runs_of(
    conn: sqlite3.Connection, number: int, value: float, start_ms: int, end_ms: int
) -> list[tuple[int, int | None]]:
    """Give the stretches in which a contact's word was this value, that have a moment in the span.

    From its first word to that effect to the next other word, whole, also where they lie outside of the span; None
    where there is no other word yet.
    """
    changes = [(int(at_ms), float(said)) for at_ms, said in conn.execute(_RUNS, (number, start_ms, end_ms))]
    found: list[tuple[int, int | None]] = []
    before = conn.execute(
        "SELECT value FROM sample WHERE channel_id = ? AND measured_at_ms < ? AND quality = 0"
        " ORDER BY measured_at_ms DESC LIMIT 1",
        (number, start_ms),
    ).fetchone()
    if before is not None and before[0] == value:
        other = conn.execute(_OTHER_BEFORE, (number, start_ms, value)).fetchone()
        first = conn.execute(_FIRST_BEHIND, (number, -1 if other is None else other[0])).fetchone()
        found.append((int(first[0]), _other_behind(conn, number, start_ms - 1, value)))
        changes = [change for change in changes if found[0][1] is not None and change[0] >= found[0][1]]
    found += [(at_ms, _other_behind(conn, number, at_ms, value)) for at_ms, said in changes if said == value]
    return found


def late_days(conn: sqlite3.Connection, after: int, until: int, late_ms: int, width_ms: int) -> list[int]:
    """Give which stretches of time (by number, counted from the epoch) readings stored in between came late for."""
    asked = {"after": after, "until": until, "late_ms": late_ms, "width_ms": width_ms}
    return [int(day) for (day,) in conn.execute(_LATE_DAYS, asked)]


def _other_behind(conn: sqlite3.Connection, number: int, at_ms: int, value: float) -> int | None:
    found = conn.execute(_OTHER_BEHIND, (number, at_ms, value)).fetchone()
    return None if found is None else int(found[0])
