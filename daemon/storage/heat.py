"""Heat per clutch and hour, derived from the stored readings; can be thrown away and computed again at any time."""

import sqlite3
from collections.abc import Iterable
from typing import NamedTuple

from daemon.development.heat_interval import HeatPiece
from daemon.storage import cursors

_CURSOR = "heat"
_HOUR_MS = 3_600_000
_SUMS = """sum(low_ch), sum(degree_hours_ch), sum(high_ch), sum(colder_ch), sum(warmer_ch), sum(covered_ch),
    sum(temperature_ch), sum(linear_ms), sum(covered_ms), sum(missing_ms), sum(above_cap_ms), sum(below_zero_ms)"""
_COLUMNS = """low_ch, degree_hours_ch, high_ch, colder_ch, warmer_ch, covered_ch, temperature_ch, linear_ms, covered_ms,
    missing_ms, above_cap_ms, below_zero_ms"""


class HeatHour(NamedTuple):
    """Heat of one clutch in one hour."""

    hour_start_ms: int
    piece: HeatPiece


class HeatTotal(NamedTuple):
    """Heat of one clutch in all its stored hours, and the start of the last of them (UTC ms)."""

    piece: HeatPiece
    last_hour_ms: int


def put_hours(conn: sqlite3.Connection, clutch_id: int, rows: Iterable[HeatHour]) -> None:
    """Store hours, each in place of what was stored for it before."""
    conn.executemany(
        f"INSERT OR REPLACE INTO heat_hour (clutch_id, hour_start_ms, {_COLUMNS})"  # noqa: S608 - a constant
        " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        [
            (
                clutch_id,
                hour_start_ms,
                piece.low_ch,
                piece.best_ch,
                piece.high_ch,
                piece.colder_ch,
                piece.warmer_ch,
                piece.covered_ch,
                piece.temperature_ch,
                piece.linear_ms,
                piece.covered_ms,
                piece.missing_ms,
                piece.above_cap_ms,
                piece.below_zero_ms,
            )
            for hour_start_ms, piece in rows
        ],
    )


def clear_hours(conn: sqlite3.Connection, clutch_id: int, from_ms: int | None = None) -> None:
    """Forget the hours of a clutch that start at `from_ms` or later, or all of them."""
    conn.execute(
        "DELETE FROM heat_hour WHERE clutch_id = :clutch_id AND (:from_ms IS NULL OR hour_start_ms >= :from_ms)",
        {"clutch_id": clutch_id, "from_ms": from_ms},
    )


def totals(conn: sqlite3.Connection, until_ms: int, only: int | None = None) -> dict[int, HeatTotal]:
    """Give the heat of each open clutch, or of `only` one, in its stored hours that are over at a moment."""
    rows = conn.execute(
        f"SELECT clutch_id, max(hour_start_ms), {_SUMS} FROM heat_hour"  # noqa: S608 - a constant
        " WHERE clutch_id IN (SELECT clutch_id FROM clutch WHERE closed_at_ms IS NULL AND (? IS NULL OR clutch_id = ?))"
        " AND hour_start_ms <= ? GROUP BY clutch_id",
        (only, only, until_ms - _HOUR_MS),
    )
    return {clutch_id: HeatTotal(HeatPiece(*sums), last_ms) for clutch_id, last_ms, *sums in rows}


def changes(conn: sqlite3.Connection) -> dict[int, int]:
    """Give for each clutch that ever had stored hours a number that every change of one of them raises."""
    return dict(conn.execute("SELECT clutch_id, changes FROM heat_change").fetchall())


def total_of(conn: sqlite3.Connection, clutch_id: int) -> HeatTotal | None:
    """Give the heat of a clutch, open or closed, in all of its stored hours; None without any."""
    last_ms, *sums = conn.execute(
        f"SELECT max(hour_start_ms), {_SUMS} FROM heat_hour WHERE clutch_id = ?",  # noqa: S608 - a constant
        (clutch_id,),
    ).fetchone()
    return None if last_ms is None else HeatTotal(HeatPiece(*sums), last_ms)


def between(conn: sqlite3.Connection, from_ms: int, until_ms: int, only: int | None = None) -> dict[int, HeatPiece]:
    """Give the heat of each open clutch, or of `only` one, in its stored hours from a moment on to another."""
    rows = conn.execute(
        f"SELECT clutch_id, {_SUMS} FROM clutch CROSS JOIN heat_hour USING (clutch_id)"  # noqa: S608 - a constant
        " WHERE closed_at_ms IS NULL AND (? IS NULL OR clutch_id = ?) AND hour_start_ms >= ? AND hour_start_ms <= ?"
        " GROUP BY clutch_id",
        (only, only, from_ms, until_ms - _HOUR_MS),
    )
    return {clutch_id: HeatPiece(*sums) for clutch_id, *sums in rows}


def hours(conn: sqlite3.Connection, clutch_id: int) -> list[HeatHour]:
    """Give the stored hours of a clutch in order of time."""
    rows = conn.execute(
        f"SELECT hour_start_ms, {_COLUMNS} FROM heat_hour WHERE clutch_id = ? ORDER BY hour_start_ms",  # noqa: S608
        (clutch_id,),
    )
    return [HeatHour(start_ms, HeatPiece(*sums)) for start_ms, *sums in rows]


def last_hours(conn: sqlite3.Connection) -> dict[int, int]:
    """Give the start (UTC ms) of the last stored hour of each clutch that has one."""
    return dict(conn.execute("SELECT clutch_id, max(hour_start_ms) FROM heat_hour GROUP BY clutch_id").fetchall())


def bases(conn: sqlite3.Connection) -> dict[int, str]:
    """Give for each clutch what its stored hours were computed by, besides the readings."""
    return dict(conn.execute("SELECT clutch_id, basis FROM heat_basis").fetchall())


def set_basis(conn: sqlite3.Connection, clutch_id: int, basis: str) -> None:
    """Keep what the hours of a clutch are computed by."""
    conn.execute(
        "INSERT INTO heat_basis (clutch_id, basis) VALUES (?, ?)"
        " ON CONFLICT (clutch_id) DO UPDATE SET basis = excluded.basis",
        (clutch_id, basis),
    )


def get_cursor(conn: sqlite3.Connection) -> int:
    """Give the sequence number of the last reading that the heat was computed from; 0 at the beginning."""
    found = conn.execute("SELECT seq FROM cursor WHERE name = ?", (_CURSOR,)).fetchone()
    return 0 if found is None else int(found[0])


def set_cursor(conn: sqlite3.Connection, seq: int) -> None:
    """Keep the sequence number of the last reading that the heat was computed from."""
    cursors.put(conn, _CURSOR, seq)
