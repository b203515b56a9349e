"""Rounds in the journal. All functions work inside the caller's transaction; times are UTC ms.

A round is started, and ended once. One incubator has one round at a time.
"""

import sqlite3
from dataclasses import dataclass

from config.errors import StatedError
from daemon.alarms.classes import LONGEST_SETTLE_MS
from daemon.alarms.round_suppression import SETTLE_MS, Round
from daemon.storage.pages import below
from daemon.storage.text import storable

_LONGEST_NAME, _LONGEST_NOTE = 200, 2000
_COLUMNS = "round_id, incubator, who, started_ms, stated_ms, settle_ms, ended_ms, ended_by, note"


@dataclass(frozen=True, slots=True)
class RoundOnRecord:
    """A round as it stands in the journal: its number, who ended it, and what was noted then."""

    number: int
    round: Round
    ended_by: str = ""
    note: str = ""


def start(conn: sqlite3.Connection, incubator: str, who: str, now_ms: int, stated_ms: int) -> RoundOnRecord:
    """Start a round in an incubator that is to take `stated_ms`.

    Raises StatedError where one goes on there already, nobody starts it, or its length is not possible.
    """
    who = _somebody(who)
    before = going_on(conn, incubator)
    if before is not None:
        reason = f"a round goes on in {incubator} already, started by {before.round.who}"
        raise StatedError(reason, f"End that one first: clutchwarden round end {incubator}")
    # Refuses what is not possible before anything is stored.
    Round("", incubator, who, now_ms, stated_ms)
    (number,) = conn.execute(
        "INSERT INTO round (incubator, who, started_ms, stated_ms, settle_ms) VALUES (?, ?, ?, ?, ?)"
        " RETURNING round_id",
        (incubator, who, now_ms, stated_ms, SETTLE_MS),
    ).fetchone()
    return _by_number(conn, int(number))


def end(conn: sqlite3.Connection, incubator: str, who: str, note: str, now_ms: int) -> RoundOnRecord:
    """End the round that goes on in an incubator. Raises StatedError where none does, or nobody ends it."""
    who = _somebody(who)
    before = going_on(conn, incubator)
    if before is None:
        raise StatedError(f"no round goes on in {incubator}", "Nothing to end; what is on there is told as always.")
    # A clock that was set back meanwhile must not leave a round that cannot be ended.
    ended_ms = max(now_ms, before.round.started_ms)
    conn.execute(
        "UPDATE round SET ended_ms = ?, ended_by = ?, note = ? WHERE round_id = ?",
        (ended_ms, who, storable(note.strip(), _LONGEST_NOTE), before.number),
    )
    return _by_number(conn, before.number)


def going_on(conn: sqlite3.Connection, incubator: str) -> RoundOnRecord | None:
    """Give the round that nobody has ended yet, also where its time is over; None where there is none."""
    sql = f"SELECT {_COLUMNS} FROM round WHERE incubator = ? AND ended_ms IS NULL"  # noqa: S608 - a constant
    found = conn.execute(sql, (incubator,)).fetchone()
    return None if found is None else _on_record(found)


def not_settled(conn: sqlite3.Connection, now_ms: int) -> list[Round]:
    """Give the rounds that nobody has ended, and those that ended so lately that they may hold something back yet."""
    # Asked at every step of the evaluation: each half has an index of its own.
    sql = (
        f"SELECT {_COLUMNS} FROM round WHERE ended_ms IS NULL"  # noqa: S608 - a constant
        f" UNION ALL SELECT {_COLUMNS} FROM round WHERE ended_ms > ?"
    )
    rows = conn.execute(sql, (now_ms - LONGEST_SETTLE_MS,)).fetchall()
    return [_on_record(row).round for row in sorted(rows)]


def of_number(conn: sqlite3.Connection, number: int) -> RoundOnRecord | None:
    """Give a round by its number; None where there is none."""
    sql = f"SELECT {_COLUMNS} FROM round WHERE round_id = ?"  # noqa: S608 - a constant
    found = conn.execute(sql, (number,)).fetchone()
    return None if found is None else _on_record(found)


def all_going_on(conn: sqlite3.Connection) -> list[RoundOnRecord]:
    """Give the rounds that nobody has ended yet, in the order in which they were started."""
    sql = f"SELECT {_COLUMNS} FROM round WHERE ended_ms IS NULL ORDER BY round_id"  # noqa: S608 - a constant
    return [_on_record(row) for row in conn.execute(sql)]


def ended_since(conn: sqlite3.Connection, since_ms: int) -> list[RoundOnRecord]:
    """Give the rounds that were ended after a moment, in the order in which they were started."""
    sql = f"SELECT {_COLUMNS} FROM round WHERE ended_ms > ? ORDER BY round_id"  # noqa: S608 - a constant
    return [_on_record(row) for row in conn.execute(sql, (since_ms,))]


def newest_ended(conn: sqlite3.Connection, limit: int, until_ms: int) -> list[RoundOnRecord]:
    """Give the rounds that were ended last up to a moment, the newest first."""
    sql = f"SELECT {_COLUMNS} FROM round WHERE ended_ms <= ? ORDER BY ended_ms DESC, round_id DESC LIMIT ?"  # noqa: S608
    return [_on_record(row) for row in conn.execute(sql, (until_ms, limit))]


def newest(conn: sqlite3.Connection, limit: int, before: int | None = None) -> list[RoundOnRecord]:
    """Give the rounds that were started last, or before the one with this number, the newest first."""
    sql = f"SELECT {_COLUMNS} FROM round WHERE round_id < ? ORDER BY round_id DESC LIMIT ?"  # noqa: S608 - a constant
    return [_on_record(row) for row in conn.execute(sql, (below(before), limit))]


def _by_number(conn: sqlite3.Connection, number: int) -> RoundOnRecord:
    sql = f"SELECT {_COLUMNS} FROM round WHERE round_id = ?"  # noqa: S608 - a constant
    return _on_record(conn.execute(sql, (number,)).fetchone())


def _on_record(row: tuple[int, str, str, int, int, int, int | None, str, str]) -> RoundOnRecord:
    number, incubator, who, started_ms, stated_ms, settle_ms, ended_ms, ended_by, note = row
    # People read this name where something was held back.
    known = Round(f"no. {number}", incubator, who, started_ms, stated_ms, settle_ms, ended_ms)
    return RoundOnRecord(number, known, ended_by, note)


def _somebody(who: str) -> str:
    if not who.strip():
        raise StatedError("nobody is named for this round", "Say who does it.")
    return storable(who.strip(), _LONGEST_NAME)
