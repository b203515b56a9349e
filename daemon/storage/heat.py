"""Heat per clutch and hour, derived from the stored readings; can be thrown away and computed again at any time."""

import sqlite3
from collections.abc import Iterable
from typing import NamedTuple

_CURSOR = "heat"


class HeatHour(NamedTuple):
    """Heat of one clutch in one hour: degree-hours (degree C times hour) over the covered part, and that part in ms."""

    hour_start_ms: int
    degree_hours_ch: float
    covered_ms: int


class HeatTotal(NamedTuple):
    """Heat of one clutch so far. What is missing is the time since it was set up without what is covered."""

    degree_hours_ch: float
    covered_ms: int


def put_hours(conn: sqlite3.Connection, clutch_id: int, rows: Iterable[HeatHour]) -> None:
    """Store hours, each in place of what was stored for it before."""
    conn.executemany(
        "INSERT INTO heat_hour (clutch_id, hour_start_ms, degree_hours_ch, covered_ms) VALUES (?, ?, ?, ?)"
        " ON CONFLICT (clutch_id, hour_start_ms) DO UPDATE SET"
        " degree_hours_ch = excluded.degree_hours_ch, covered_ms = excluded.covered_ms",
        [
            (clutch_id, hour_start_ms, degree_hours_ch, covered_ms)
            for hour_start_ms, degree_hours_ch, covered_ms in rows
        ],
    )


def clear_hours(conn: sqlite3.Connection, clutch_id: int, from_ms: int | None = None) -> None:
    """Forget the hours of a clutch that start at `from_ms` or later, or all of them."""
    conn.execute(
        "DELETE FROM heat_hour WHERE clutch_id = :clutch_id AND (:from_ms IS NULL OR hour_start_ms >= :from_ms)",
        {"clutch_id": clutch_id, "from_ms": from_ms},
    )


def totals(conn: sqlite3.Connection) -> dict[int, HeatTotal]:
    """Give the heat of each open clutch that has an hour stored."""
    rows = conn.execute(
        "SELECT clutch_id, sum(degree_hours_ch), sum(covered_ms) FROM heat_hour"
        " WHERE clutch_id IN (SELECT clutch_id FROM clutch WHERE closed_at_ms IS NULL) GROUP BY clutch_id"
    )
    return {clutch_id: HeatTotal(degree_hours_ch, covered_ms) for clutch_id, degree_hours_ch, covered_ms in rows}


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
    conn.execute(
        "INSERT INTO cursor (name, seq) VALUES (?, ?) ON CONFLICT (name) DO UPDATE SET seq = excluded.seq",
        (_CURSOR, seq),
    )
