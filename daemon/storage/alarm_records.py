"""The steps of every alarm in the journal: appended, never changed."""

import itertools
import sqlite3
from collections.abc import Iterable
from typing import NamedTuple

from daemon.storage.text import storable

_COLUMNS = (
    "at_ms, recorded_at_ms, alarm_key, occurrence, priority, event, before, after, shown, who, reason, annunciated,"
    " accepted"
)
_LONGEST_TEXT = 2000
_NORMAL = "normal"


class AlarmRecord(NamedTuple):
    """One step of one alarm: the alarm memory before and after, the state that is shown, who did it, and why."""

    at_ms: int
    recorded_at_ms: int
    alarm_key: str
    occurrence: str
    priority: int
    event: str
    before: str
    after: str
    shown: str
    who: str
    reason: str
    annunciated: bool
    accepted: bool


def append(conn: sqlite3.Connection, records: Iterable[AlarmRecord]) -> None:
    """Write steps down for ever."""
    conn.executemany(
        f"INSERT INTO alarm_record ({_COLUMNS}) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",  # noqa: S608 - a constant
        [
            each._replace(who=storable(each.who, _LONGEST_TEXT), reason=storable(each.reason, _LONGEST_TEXT))
            for each in records
        ],
    )


def between(conn: sqlite3.Connection, from_ms: int, to_ms: int) -> list[AlarmRecord]:
    """Give the steps from a moment up to another, in the order in which they were written down."""
    rows = conn.execute(
        f"SELECT {_COLUMNS} FROM alarm_record WHERE at_ms >= ? AND at_ms < ? ORDER BY record_id",  # noqa: S608 - a constant
        (from_ms, to_ms),
    )
    return [_record(*row) for row in rows]


# From each alarm straight to the next one by the index on (alarm_key).
_EACH_ALARM = """WITH RECURSIVE each_alarm (name) AS (
    SELECT min(alarm_key) FROM alarm_record
    UNION ALL
    SELECT (SELECT min(alarm_key) FROM alarm_record WHERE alarm_key > name) FROM each_alarm WHERE name IS NOT NULL)
    SELECT name FROM each_alarm WHERE name IS NOT NULL"""
_BACKWARDS = f"""SELECT {_COLUMNS} FROM alarm_record WHERE alarm_key = ? AND at_ms < ? AND accepted
    ORDER BY at_ms DESC, record_id DESC"""  # noqa: S608 - a constant


def leading_up_to(conn: sqlite3.Connection, from_ms: int) -> list[AlarmRecord]:
    """Give what says how each alarm stood at a moment: its accepted steps since it was normal and told last.

    In the order of time. Of an alarm that was normal then there is none, however often it came before.
    """
    found: list[AlarmRecord] = []
    for (key,) in conn.execute(_EACH_ALARM).fetchall():
        steps = (_record(*row) for row in conn.execute(_BACKWARDS, (key, from_ms)))
        since = list(itertools.takewhile(lambda step: (step.after, step.shown) != (_NORMAL, _NORMAL), steps))
        found += reversed(since)
    return sorted(found, key=lambda step: step.at_ms)


def newest(conn: sqlite3.Connection, limit: int) -> list[AlarmRecord]:
    """Give the steps that were written down last, the newest first."""
    rows = conn.execute(
        f"SELECT {_COLUMNS} FROM alarm_record ORDER BY record_id DESC LIMIT ?",  # noqa: S608 - a constant
        (limit,),
    )
    return [_record(*row) for row in rows]


class NumberedRecord(NamedTuple):
    """A step with its number in the journal; a later one has a higher number."""

    number: int
    step: AlarmRecord


def page(conn: sqlite3.Connection, before: int | None, alarm_key: str, limit: int) -> list[NumberedRecord]:
    """Give the newest steps before the one with this number, the newest first; of one alarm where it is named."""
    conditions, values = ["record_id < :before"] if before is not None else [], {"before": before, "limit": limit}
    conditions += ["alarm_key = :key"] if alarm_key else []
    where = f" WHERE {' AND '.join(conditions)}" if conditions else ""
    rows = conn.execute(
        f"SELECT record_id, {_COLUMNS} FROM alarm_record{where} ORDER BY record_id DESC LIMIT :limit",  # noqa: S608 - constants
        {**values, "key": alarm_key},
    )
    return [NumberedRecord(int(number), _record(*row)) for number, *row in rows]


def last_number(conn: sqlite3.Connection) -> int:
    """Give the number of the newest step; 0 where there is none."""
    (last,) = conn.execute("SELECT coalesce(max(record_id), 0) FROM alarm_record").fetchone()
    return int(last)


def acknowledged_ms(conn: sqlite3.Connection, since_ms: int) -> dict[str, int]:
    """Give when each alarm was acknowledged last, of all steps since then."""
    return dict(
        conn.execute(
            "SELECT alarm_key, max(at_ms) FROM alarm_record"
            # The plus keeps SQLite from walking through all steps of all alarms, which it would do in order of keys.
            " WHERE at_ms >= ? AND event = 'acknowledge' AND accepted GROUP BY +alarm_key",
            (since_ms,),
        ).fetchall()
    )


def acknowledgements(conn: sqlite3.Connection, from_ms: int, to_ms: int) -> list[AlarmRecord]:
    """Give the acknowledgements that were taken from a moment up to another, the oldest first."""
    rows = conn.execute(
        f"SELECT {_COLUMNS} FROM alarm_record WHERE at_ms >= ? AND at_ms < ? AND event = 'acknowledge' AND accepted"  # noqa: S608
        " ORDER BY at_ms, record_id",
        (from_ms, to_ms),
    )
    return [_record(*row) for row in rows]


def _record(*row: object) -> AlarmRecord:
    found = AlarmRecord(*row)  # type: ignore[arg-type]
    return found._replace(annunciated=bool(found.annunciated), accepted=bool(found.accepted))
