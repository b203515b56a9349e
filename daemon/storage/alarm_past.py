"""What the journal holds of the alarms about some subjects in some spans of time. Times are UTC ms.

Each question goes by an index to its own rows, so that it costs what it gives and not what all alarms ever were.
"""

import sqlite3
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from daemon.storage.alarm_log import FOUND_AFTERWARDS

# As in the index alarm_event_of_subject: without the kind of the alarm.
_ABOUT = (
    "substr(alarm_key, instr(alarm_key, ':') + 1) = ? AND event IN ('raised', 'found afterwards')"
    " AND at_ms >= ? AND at_ms < ?"
)
_COUNT = f"SELECT count(*) FROM alarm_event WHERE {_ABOUT}"  # noqa: S608 - a constant
_NEWEST = f"""SELECT at_ms, event_id, alarm_key, occurrence, value, limit_value, reason, event FROM alarm_event
    WHERE {_ABOUT} ORDER BY at_ms DESC, event_id DESC LIMIT ?"""  # noqa: S608 - a constant
_ENDED = """SELECT occurrence, at_ms FROM alarm_event
    WHERE occurrence IN ({}) AND event = 'cleared' AND at_ms <= ? ORDER BY event_id"""


class Raised(NamedTuple):
    """An alarm was raised; values in the unit of the quantity, None where there is none.

    `found_afterwards`: it was over before anybody was told; `at_ms` is when it began then, `value` the worst.
    `ended_ms`: when it was cleared; None where that has not happened by the end of the time that was asked for.
    """

    at_ms: int
    alarm_key: str
    occurrence: str
    value: float | None
    limit: float | None
    reason: str
    ended_ms: int | None
    found_afterwards: bool = False


def newest_raised(
    conn: sqlite3.Connection, spans: Mapping[str, Sequence[tuple[int, int]]], until_ms: int, most: int
) -> tuple[list[Raised], int]:
    """Give the newest alarms about each subject in its spans, oldest first, and how many older ones there are.

    A span is from a moment until before another; those of one subject do not overlap. Nothing after `until_ms` counts.
    Alarms that another one explained are not among them: people were not told of those.
    """
    asked = [
        (subject, from_ms, min(end_ms, until_ms + 1)) for subject, each in spans.items() for from_ms, end_ms in each
    ]
    count = sum(conn.execute(_COUNT, span).fetchone()[0] for span in asked)
    rows = sorted(row for span in asked for row in conn.execute(_NEWEST, (*span, most)))[-most:]
    ended = _ended(conn, {row[3] for row in rows}, until_ms)
    return [
        Raised._make((row[0], *row[2:7], ended.get(row[3]), row[7] == FOUND_AFTERWARDS)) for row in rows
    ], count - len(rows)


def _ended(conn: sqlite3.Connection, occurrences: set[str], until_ms: int) -> dict[str, int]:
    marks = ", ".join("?" * len(occurrences))
    return dict(conn.execute(_ENDED.format(marks), (*sorted(occurrences), until_ms)).fetchall())
