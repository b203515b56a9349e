"""When the daemon ran. A run without an end was cut off: by a power cut, a crash or a kill."""

import sqlite3
from typing import NamedTuple


class ServiceRun(NamedTuple):
    """One run. `ended_at_ms` is None while it lasts and where it was cut off; `last_alive_ms` then says most."""

    run_id: int
    started_at_ms: int
    last_alive_ms: int
    ended_at_ms: int | None
    version: str


def begin_run(conn: sqlite3.Connection, now_ms: int, version: str) -> int:
    """Write down a start; gives the number of the run."""
    (number,) = conn.execute(
        "INSERT INTO service_run (started_at_ms, last_alive_ms, version) VALUES (?, ?, ?) RETURNING id",
        (now_ms, now_ms, version),
    ).fetchone()
    return int(number)


def touch_run(conn: sqlite3.Connection, run_id: int, now_ms: int) -> None:
    """Write down that the run is alive."""
    conn.execute("UPDATE service_run SET last_alive_ms = ? WHERE id = ?", (now_ms, run_id))


def end_run(conn: sqlite3.Connection, run_id: int, now_ms: int) -> None:
    """Write down an end in good order."""
    conn.execute("UPDATE service_run SET last_alive_ms = ?, ended_at_ms = ? WHERE id = ?", (now_ms, now_ms, run_id))


def latest_runs(conn: sqlite3.Connection, limit: int) -> list[ServiceRun]:
    """Give the runs, newest first, at most `limit`."""
    rows = conn.execute(
        "SELECT id, started_at_ms, last_alive_ms, ended_at_ms, version FROM service_run ORDER BY id DESC LIMIT ?",
        (limit,),
    )
    return [ServiceRun(*row) for row in rows]


def first_start_ms(conn: sqlite3.Connection) -> int | None:
    """Give when the daemon ran for the first time; None where it never did. UTC ms."""
    found = conn.execute("SELECT started_at_ms FROM service_run ORDER BY id LIMIT 1").fetchone()
    return None if found is None else int(found[0])
