"""When the daemon ran. A run without an end was cut off: by a power cut, a crash or a kill."""

import sqlite3
from typing import NamedTuple


class ServiceRun(NamedTuple):
    """One run. `ended_at_ms` is None while it lasts and where it was cut off; `last_alive_ms` then says most.

    `boot_id` is that of the machine: another one means that it was started anew in between. Empty: not known.
    """

    run_id: int
    started_at_ms: int
    last_alive_ms: int
    ended_at_ms: int | None
    version: str
    boot_id: str = ""

    @property
    def over_ms(self) -> int:
        """The last moment at which it is known to have run."""
        return self.last_alive_ms if self.ended_at_ms is None else self.ended_at_ms


_COLUMNS = "id, started_at_ms, last_alive_ms, ended_at_ms, version, boot_id"


def begin_run(conn: sqlite3.Connection, now_ms: int, version: str, boot_id: str = "") -> int:
    """Write down a start; gives the number of the run."""
    (number,) = conn.execute(
        "INSERT INTO service_run (started_at_ms, last_alive_ms, version, boot_id) VALUES (?, ?, ?, ?) RETURNING id",
        (now_ms, now_ms, version, boot_id),
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
    rows = conn.execute(f"SELECT {_COLUMNS} FROM service_run ORDER BY id DESC LIMIT ?", (limit,))  # noqa: S608 - a constant
    return [ServiceRun(*row) for row in rows]


def runs_since(conn: sqlite3.Connection, since_ms: int, not_before_ms: int) -> list[ServiceRun]:
    """Give the newest runs back to the first that was over before a moment, that one included; oldest first.

    It goes by their order, since a clock may have been wrong when one of them started: an end before `not_before_ms`
    is of such a clock and ends nothing.
    """
    found: list[ServiceRun] = []
    for row in conn.execute(f"SELECT {_COLUMNS} FROM service_run ORDER BY id DESC"):  # noqa: S608 - a constant
        found.append(ServiceRun(*row))
        if not_before_ms <= found[-1].over_ms < since_ms and len(found) > 1:
            break
    return found[::-1]


def first_start_ms(conn: sqlite3.Connection) -> int | None:
    """Give when the daemon ran for the first time; None where it never did. UTC ms."""
    found = conn.execute("SELECT started_at_ms FROM service_run ORDER BY id LIMIT 1").fetchone()
    return None if found is None else int(found[0])
