"""Cooling curves and what they were found from; derived from the readings, and found again from them at any time."""

import sqlite3
from collections.abc import Iterable

from daemon.climate.cooling import TimeConstant
from daemon.climate.cooling_curves import CoolingCurve, combined

_CURSOR = "cooling "
"""The name of the cursor begins so; the rest says what besides the readings the curves were found by."""


def replace_curves(
    conn: sqlite3.Connection,
    incubator_id: str,
    channel: str,
    span_ms: tuple[int, int],
    curves: Iterable[CoolingCurve],
) -> None:
    """Put these curves in the place of those of the channel that begin within the span, its ends included."""
    conn.execute("DELETE FROM cooling_curve WHERE channel = ? AND started_at_ms BETWEEN ? AND ?", (channel, *span_ms))
    conn.executemany(
        "INSERT INTO cooling_curve (incubator_id, channel, started_at_ms, ended_at_ms, time_constant_h,"
        " time_constant_u_h, room_c, room_measured) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        [
            (
                incubator_id,
                channel,
                each.started_at_ms,
                each.ended_at_ms,
                each.time_constant_h,
                each.u_hours,
                each.room_c,
                each.room_measured,
            )
            for each in curves
        ],
    )


def curves_of(conn: sqlite3.Connection, until_ms: int | None = None) -> dict[str, list[CoolingCurve]]:
    """Give the curves of each incubator that ended by a moment, or all, by incubator id and in order of time."""
    rows = conn.execute(
        "SELECT incubator_id, started_at_ms, ended_at_ms, time_constant_h, time_constant_u_h, room_c, room_measured"
        " FROM cooling_curve WHERE :until_ms IS NULL OR ended_at_ms <= :until_ms ORDER BY started_at_ms, channel",
        {"until_ms": until_ms},
    )
    found: dict[str, list[CoolingCurve]] = {}
    for incubator_id, started_at_ms, ended_at_ms, hours, u_hours, room_c, measured in rows:
        curve = CoolingCurve(started_at_ms, ended_at_ms, hours, u_hours, room_c, bool(measured))
        found.setdefault(incubator_id, []).append(curve)
    return found


def count(conn: sqlite3.Connection) -> int:
    """Give the number of curves."""
    (number,) = conn.execute("SELECT count(*) FROM cooling_curve").fetchone()
    return int(number)


def time_constants(conn: sqlite3.Connection, until_ms: int | None = None) -> dict[str, TimeConstant]:
    """Give the time constant of each incubator that has cooled often enough, by incubator id.

    `until_ms` leaves out what ended later, so that an alert that is written again says the same.
    """
    combinations = {incubator_id: combined(curves) for incubator_id, curves in curves_of(conn, until_ms).items()}
    return {incubator_id: constant for incubator_id, constant in combinations.items() if constant is not None}


def learned_to(conn: sqlite3.Connection, basis: str) -> int | None:
    """Give the last reading's sequence number that was looked at; None where it was by another basis, or never."""
    found = conn.execute("SELECT seq FROM cursor WHERE name = ?", (_CURSOR + basis,)).fetchone()
    return None if found is None else int(found[0])


def set_learned_to(conn: sqlite3.Connection, basis: str, seq: int) -> None:
    """Keep how far the readings were looked at, and forget every other basis."""
    conn.execute("DELETE FROM cursor WHERE name GLOB ?", (f"{_CURSOR}*",))
    conn.execute("INSERT INTO cursor (name, seq) VALUES (?, ?)", (_CURSOR + basis, seq))


def forget(conn: sqlite3.Connection) -> None:
    """Forget every curve, and how far was looked: they were found by what counts no more."""
    conn.execute("DELETE FROM cooling_curve")
    conn.execute("DELETE FROM cursor WHERE name GLOB ?", (f"{_CURSOR}*",))


def first_new(conn: sqlite3.Connection, after_seq: int, until_seq: int) -> dict[str, int]:
    """Give the earliest time among the readings of each channel that were stored after one and up to another."""
    rows = conn.execute(
        "SELECT channel, min(measured_at_ms) FROM sample JOIN channel USING (channel_id)"
        " WHERE seq > ? AND seq <= ? GROUP BY channel_id",
        (after_seq, until_seq),
    )
    return {channel: int(measured_at_ms) for channel, measured_at_ms in rows}
