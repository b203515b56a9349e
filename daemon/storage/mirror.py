"""What the mirror reads of the journal, and how far it has got. All functions work inside the caller's transaction."""

import sqlite3
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from daemon.mirror.points import EventRow, StoredSample
from daemon.storage.text import storable

READINGS, EVENTS = "mirror-readings", "mirror-events"
_LONGEST = 500
_SAMPLE = "seq, channel_id, measured_at_ms, received_at_ms, value, quality"
_EVENT = "event_id, at_ms, recorded_at_ms, alarm_key, occurrence, event, value, limit_value, reason"


class TargetState(NamedTuple):
    """How it goes with a target; times are UTC ms. `trouble` is empty where all is well."""

    address: str
    begun_ms: int
    progress_ms: int | None
    trouble: str
    trouble_since_ms: int | None


class Parked(NamedTuple):
    """A point that a target would not have. `number`: of the row of the journal, 0 for a derived value."""

    source: str
    number: int
    line: str
    reason: str
    at_ms: int


class Backlog(NamedTuple):
    """What waits: readings and events, and since when the oldest reading has; 0 where none waits. UTC ms."""

    readings: int
    events: int
    oldest_ms: int


def samples_after(conn: sqlite3.Connection, seq: int, limit: int) -> list[tuple[int, int, int, int, float, int]]:
    """Give the readings stored after a number as the fields of `StoredSample`, at most `limit`."""
    return conn.execute(f"SELECT {_SAMPLE} FROM sample WHERE seq > ? ORDER BY seq LIMIT ?", (seq, limit)).fetchall()  # noqa: S608


def samples_by_number(conn: sqlite3.Connection, numbers: Iterable[int]) -> list[StoredSample]:
    """Give readings by their numbers."""
    statement = f"SELECT {_SAMPLE} FROM sample WHERE seq = ?"  # noqa: S608 - a constant
    rows = (conn.execute(statement, (number,)).fetchone() for number in numbers)
    return [StoredSample(*row) for row in rows if row is not None]


def samples_of(
    conn: sqlite3.Connection, channel: str, start_ms: int, end_ms: int, last_seq: int
) -> list[tuple[int, int, int, float, int]]:
    """Give what `compare.Reading` holds of a channel from start until before end, in order of time."""
    return conn.execute(
        "SELECT seq, measured_at_ms, received_at_ms, value, quality FROM sample"
        " WHERE channel_id = (SELECT channel_id FROM channel WHERE channel = ?)"
        " AND measured_at_ms >= ? AND measured_at_ms < ? AND seq <= ? ORDER BY measured_at_ms",
        (channel, start_ms, end_ms, last_seq),
    ).fetchall()


def spans(conn: sqlite3.Connection) -> dict[str, tuple[int, int]]:
    """Give the first and last time of measuring of each channel that has readings, UTC ms."""
    rows = conn.execute(
        "SELECT channel, (SELECT min(measured_at_ms) FROM sample WHERE sample.channel_id = channel.channel_id),"
        " (SELECT max(measured_at_ms) FROM sample WHERE sample.channel_id = channel.channel_id) FROM channel"
    )
    return {channel: (first, last) for channel, first, last in rows if first is not None}


def channels(conn: sqlite3.Connection) -> dict[int, tuple[str, str, str]]:
    """Give channel, probe and quantity by the number of the channel."""
    rows = conn.execute("SELECT channel_id, channel, probe, quantity FROM channel")
    return {number: (channel, probe, quantity) for number, channel, probe, quantity in rows}


def first_received_since(conn: sqlite3.Connection, at_ms: int) -> int:
    """Give the number before the first reading that came at a moment or later; walks through all of them."""
    (seq,) = conn.execute("SELECT min(seq) FROM sample WHERE received_at_ms >= ?", (at_ms,)).fetchone()
    return last_numbers(conn)[0] if seq is None else int(seq) - 1


def events_after(conn: sqlite3.Connection, number: int, limit: int) -> list[EventRow]:
    """Give the alarm events written down after a number, at most `limit`."""
    statement = f"SELECT {_EVENT} FROM alarm_event WHERE event_id > ? ORDER BY event_id LIMIT ?"  # noqa: S608 - a constant
    return conn.execute(statement, (number, limit)).fetchall()


def events_between(conn: sqlite3.Connection, start_ms: int, end_ms: int, last: int) -> list[EventRow]:
    """Give the alarm events that happened from start until before end, up to a number."""
    statement = f"SELECT {_EVENT} FROM alarm_event WHERE at_ms >= ? AND at_ms < ? AND event_id <= ? ORDER BY event_id"  # noqa: S608
    return conn.execute(statement, (start_ms, end_ms, last)).fetchall()


def last_numbers(conn: sqlite3.Connection) -> tuple[int, int]:
    """Give the numbers of the newest reading and of the newest alarm event; 0 where there is none."""
    (seq,) = conn.execute("SELECT coalesce(max(seq), 0) FROM sample").fetchone()
    (event,) = conn.execute("SELECT coalesce(max(event_id), 0) FROM alarm_event").fetchone()
    return int(seq), int(event)


def cursors(conn: sqlite3.Connection, target: str) -> tuple[int, int]:
    """Give the numbers of the last reading and the last alarm event that a target has; 0 at the beginning."""
    found = dict(conn.execute("SELECT name, seq FROM cursor WHERE name IN (?, ?)", _names(target)).fetchall())
    readings, events = _names(target)
    return int(found.get(readings, 0)), int(found.get(events, 0))


def raise_cursors(conn: sqlite3.Connection, target: str, readings: int, events: int) -> None:
    """Keep how far a target has got; a lower number than the one that is kept changes nothing."""
    conn.executemany(
        "INSERT INTO cursor (name, seq) VALUES (?, ?)"
        " ON CONFLICT (name) DO UPDATE SET seq = max(cursor.seq, excluded.seq)",
        zip(_names(target), (readings, events), strict=True),
    )


def backlog(conn: sqlite3.Connection, target: str) -> Backlog:
    """Give what waits for a target; two look-ups by number."""
    (last, last_event), (done, events) = last_numbers(conn), cursors(conn, target)
    oldest = conn.execute("SELECT received_at_ms FROM sample WHERE seq > ? ORDER BY seq LIMIT 1", (done,)).fetchone()
    return Backlog(max(last - done, 0), max(last_event - events, 0), oldest[0] if oldest else 0)


def state(conn: sqlite3.Connection, target: str) -> TargetState | None:
    """Give how it goes with a target; None before the first time."""
    row = conn.execute(
        "SELECT address, begun_ms, progress_ms, trouble, trouble_since_ms FROM mirror_target WHERE target = ?",
        (target,),
    ).fetchone()
    return None if row is None else TargetState(*row)


def keep_state(conn: sqlite3.Connection, target: str, found: TargetState) -> None:
    """Keep how it goes with a target."""
    conn.execute(
        "INSERT OR REPLACE INTO mirror_target VALUES (?, ?, ?, ?, ?, ?)",
        (target, *found._replace(trouble=storable(found.trouble, _LONGEST))),
    )


def park(conn: sqlite3.Connection, target: str, points: Iterable[Parked]) -> None:
    """Put points aside, each once."""
    conn.executemany(
        "INSERT OR IGNORE INTO mirror_parked (target, source, number, line, reason, at_ms) VALUES (?, ?, ?, ?, ?, ?)",
        [(target, *each._replace(reason=storable(each.reason, _LONGEST))) for each in points],
    )


def parked(conn: sqlite3.Connection, target: str, limit: int = -1) -> list[Parked]:
    """Give the points that were put aside, the oldest first, at most `limit` where that is given."""
    rows = conn.execute(
        "SELECT source, number, line, reason, at_ms FROM mirror_parked WHERE target = ? ORDER BY parked_id LIMIT ?",
        (target, limit),
    )
    return [Parked(*row) for row in rows]


def count_parked(conn: sqlite3.Connection, target: str) -> int:
    """Count the points that were put aside."""
    return int(conn.execute("SELECT count(*) FROM mirror_parked WHERE target = ?", (target,)).fetchone()[0])


def unpark(conn: sqlite3.Connection, target: str, source: str, numbers: Sequence[int] | None = None) -> None:
    """Forget points that were put aside: all of a source, or those of these rows of the journal."""
    if numbers is None:
        conn.execute("DELETE FROM mirror_parked WHERE target = ? AND source = ?", (target, source))
    conn.executemany(
        "DELETE FROM mirror_parked WHERE target = ? AND source = ? AND number = ?",
        [(target, source, number) for number in numbers or ()],
    )


def heat_marks(conn: sqlite3.Connection, target: str) -> dict[int, tuple[int, str]]:
    """Give by clutch up to which hour (its start, UTC ms) a target has the heat, and the digest of what it has."""
    rows = conn.execute("SELECT clutch_id, through_ms, digest FROM mirror_heat WHERE target = ?", (target,))
    return {clutch_id: (through_ms, digest) for clutch_id, through_ms, digest in rows}


def mark_heat(conn: sqlite3.Connection, target: str, clutch_id: int, through_ms: int, digest: str) -> None:
    """Keep what a target has of the heat of a clutch."""
    conn.execute("INSERT OR REPLACE INTO mirror_heat VALUES (?, ?, ?, ?)", (target, clutch_id, through_ms, digest))


def unmark_heat(conn: sqlite3.Connection, target: str) -> None:
    """Forget what a target has of the heat, so that it gets all of it anew."""
    conn.execute("DELETE FROM mirror_heat WHERE target = ?", (target,))


def _names(target: str) -> tuple[str, str]:
    return f"{READINGS}:{target}", f"{EVENTS}:{target}"
