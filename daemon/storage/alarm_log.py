"""Alarms in the journal: the present state of each, and the log of all that happened, which only grows."""

import sqlite3
from dataclasses import astuple, dataclass

from daemon.storage.pages import below

_APPEND = """INSERT INTO alarm_event
    (at_ms, recorded_at_ms, alarm_key, occurrence, event, value, limit_value, reason)
    VALUES (?, ?, ?, ?, ?, ?, ?, ?) RETURNING event_id"""
FOUND_AFTERWARDS = "found afterwards"
"""Stands for `raised` where nobody was told before it was over; `at_ms` is when it began, `value` the worst."""

_COLUMNS = "at_ms, recorded_at_ms, alarm_key, occurrence, event, value, limit_value, reason"
_NEWEST = f"SELECT {_COLUMNS} FROM alarm_event ORDER BY event_id DESC LIMIT ?"  # noqa: S608 - a constant
_PAGE = f"SELECT event_id, {_COLUMNS} FROM alarm_event WHERE event_id < ? ORDER BY event_id DESC LIMIT ?"  # noqa: S608


@dataclass(frozen=True, slots=True)
class AlarmEvent:
    """One thing that happened to an alarm.

    `at_ms` is when it happened, `recorded_at_ms` when it was written down. `occurrence` joins all events from one
    raising to its end. `value` and `limit` are in the unit of the quantity; None where there is none.
    """

    at_ms: int
    recorded_at_ms: int
    alarm_key: str
    occurrence: str
    event: str
    value: float | None
    limit: float | None
    reason: str


def load_states(conn: sqlite3.Connection) -> dict[str, str]:
    """Give the state of each alarm, as JSON text by alarm key."""
    return dict(conn.execute("SELECT alarm_key, state FROM alarm_state").fetchall())


def save_state(conn: sqlite3.Connection, alarm_key: str, state_json: str) -> None:
    """Keep the state of an alarm over a restart."""
    conn.execute(
        "INSERT INTO alarm_state (alarm_key, state) VALUES (?, ?)"
        " ON CONFLICT (alarm_key) DO UPDATE SET state = excluded.state",
        (alarm_key, state_json),
    )


def drop_state(conn: sqlite3.Connection, alarm_key: str) -> None:
    """Forget the state of an alarm that is over and may never come again."""
    conn.execute("DELETE FROM alarm_state WHERE alarm_key = ?", (alarm_key,))


def append_event(conn: sqlite3.Connection, event: AlarmEvent) -> int:
    """Write down an event for ever; gives its number."""
    (number,) = conn.execute(_APPEND, astuple(event)).fetchone()
    return int(number)


def page(conn: sqlite3.Connection, before: int | None, limit: int) -> list[tuple[int, AlarmEvent]]:
    """Give the newest events before the one with this number, the newest first, each with its number."""
    rows = conn.execute(_PAGE, (below(before), limit))
    return [(int(number), AlarmEvent(*row)) for number, *row in rows]


def events(conn: sqlite3.Connection, limit: int) -> list[AlarmEvent]:
    """Give the events, newest first, at most `limit`."""
    return [AlarmEvent(*row) for row in conn.execute(_NEWEST, (limit,))]
