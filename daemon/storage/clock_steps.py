"""When the machine's clock was set, as the service noticed it; rows are never changed or removed."""

import sqlite3
from typing import NamedTuple


class ClockStep(NamedTuple):
    """The clock was set by `by_ms` (negative: back) and then showed `at_ms` (UTC ms). `run_id` saw it."""

    at_ms: int
    by_ms: int
    run_id: int


def append(conn: sqlite3.Connection, step: ClockStep) -> None:
    """Write down for ever that the clock was set."""
    conn.execute("INSERT INTO clock_step (at_ms, by_ms, run_id) VALUES (?, ?, ?)", step)


def of_runs(conn: sqlite3.Connection, first_run: int, last_run: int) -> list[ClockStep]:
    """Give the steps that a series of runs noticed, in the order in which that was."""
    rows = conn.execute(
        "SELECT at_ms, by_ms, run_id FROM clock_step WHERE run_id BETWEEN ? AND ? ORDER BY step_id",
        (first_run, last_run),
    )
    return [ClockStep(*row) for row in rows]
