"""The steps of every alarm in the journal: appended, never changed."""

import sqlite3
from collections.abc import Iterable
from typing import NamedTuple

from daemon.storage.text import storable

_COLUMNS = (
    "at_ms, recorded_at_ms, alarm_key, occurrence, priority, event, before, after, shown, who, reason, annunciated,"
    " accepted"
)
_LONGEST_TEXT = 2000


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


def newest(conn: sqlite3.Connection, limit: int) -> list[AlarmRecord]:
    """Give the steps that were written down last, the newest first."""
    rows = conn.execute(
        f"SELECT {_COLUMNS} FROM alarm_record ORDER BY record_id DESC LIMIT ?",  # noqa: S608 - a constant
        (limit,),
    )
    return [_record(*row) for row in rows]


def _record(*row: object) -> AlarmRecord:
    found = AlarmRecord(*row)  # type: ignore[arg-type]
    return found._replace(annunciated=bool(found.annunciated), accepted=bool(found.accepted))
