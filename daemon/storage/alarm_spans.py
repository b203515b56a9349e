"""When alarms of some kinds were on, in a span of time. Costs what is in the span, and one step for each alarm."""

import sqlite3
from collections.abc import Collection
from typing import NamedTuple

# From each alarm straight to the next one by the index on (alarm_key, at_ms).
_KEYS = """WITH RECURSIVE each_alarm (name) AS (
    SELECT min(alarm_key) FROM alarm_event WHERE alarm_key >= :kind AND alarm_key < :behind
    UNION ALL
    SELECT (SELECT min(alarm_key) FROM alarm_event WHERE alarm_key > name AND alarm_key < :behind)
        FROM each_alarm WHERE name IS NOT NULL)
    SELECT name FROM each_alarm WHERE name IS NOT NULL"""
# What is explained by another alarm, or found afterwards, has words behind the first one.
# The first raising behind the span may be of a condition that began in it.
_RAISED = """SELECT occurrence, at_ms, value, limit_value, reason FROM alarm_event
    WHERE alarm_key = :key AND event GLOB 'raised*' AND at_ms >= coalesce(
        (SELECT max(at_ms) FROM alarm_event WHERE alarm_key = :key AND at_ms < :start_ms AND event GLOB 'raised*'),
        :start_ms)
    AND at_ms <= coalesce(
        (SELECT min(at_ms) FROM alarm_event WHERE alarm_key = :key AND at_ms > :end_ms AND event GLOB 'raised*'),
        :end_ms)
    ORDER BY at_ms, event_id"""
_CLEARED = "SELECT max(at_ms) FROM alarm_event WHERE occurrence = ? AND event >= 'cleared' AND event < 'cleare~'"


class AlarmSpan(NamedTuple):
    """An alarm that was on. `since_ms`: when its condition began; values in the unit of the quantity."""

    kind: str
    subject: str
    occurrence: str
    since_ms: int
    raised_ms: int
    cleared_ms: int | None
    value: float | None
    limit: float | None
    reason: str


def spans(conn: sqlite3.Connection, kinds: Collection[str], start_ms: int, end_ms: int) -> list[AlarmSpan]:
    """Give each alarm of these kinds that was on at some moment of the span, whole, in the order of raising."""
    found = [
        span
        for kind in sorted(kinds)
        for (key,) in conn.execute(_KEYS, {"kind": f"{kind}:", "behind": f"{kind};"}).fetchall()
        for span in _of_key(conn, key, start_ms, end_ms)
    ]
    return sorted(found, key=lambda span: (span.raised_ms, span.occurrence))


def latest_event(conn: sqlite3.Connection) -> int:
    """Give the number of the newest event; 0 where there is none."""
    (last,) = conn.execute("SELECT coalesce(max(event_id), 0) FROM alarm_event").fetchone()
    return int(last)


def moments_before(conn: sqlite3.Connection, after: int, until: int, before_ms: int) -> list[int]:
    """Give when events happened that were written down in between and happened before a moment, in order of time."""
    rows = conn.execute(
        "SELECT DISTINCT at_ms FROM alarm_event WHERE event_id > ? AND event_id <= ? AND at_ms < ? ORDER BY at_ms",
        (after, until, before_ms),
    )
    return [int(at_ms) for (at_ms,) in rows]


def _of_key(conn: sqlite3.Connection, key: str, start_ms: int, end_ms: int) -> list[AlarmSpan]:
    kind, _, subject = key.partition(":")
    found: dict[str, AlarmSpan] = {}
    for occurrence, at_ms, value, limit, reason in conn.execute(
        _RAISED, {"key": key, "start_ms": start_ms, "end_ms": end_ms}
    ).fetchall():
        if occurrence in found:
            continue
        (cleared_ms,) = conn.execute(_CLEARED, (occurrence,)).fetchone()
        since_ms = min(_since_ms(occurrence, at_ms), at_ms)
        if since_ms <= end_ms and (cleared_ms is None or cleared_ms >= start_ms):
            found[occurrence] = AlarmSpan(kind, subject, occurrence, since_ms, at_ms, cleared_ms, value, limit, reason)
    return list(found.values())


def _since_ms(occurrence: str, at_ms: int) -> int:
    """An occurrence ends with the moment at which its condition began."""
    number = occurrence.rpartition(":")[2]
    return int(number) if number.isdigit() else at_ms
