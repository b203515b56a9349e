"""Readings of the last days: all of them, or thinned where a figure needs no more than one in a few minutes."""

import sqlite3

# Beside min() SQLite gives the value of the row that has the minimum. One stretch of the index on
# (channel_id, measured_at_ms) is walked.
_FIRST_OF_CELLS = """SELECT min(measured_at_ms), value FROM sample
    WHERE channel_id = (SELECT channel_id FROM channel WHERE channel = ?)
    AND measured_at_ms >= ? AND measured_at_ms < ? AND quality = 0
    GROUP BY measured_at_ms / ? ORDER BY 1"""

_BETWEEN = """SELECT measured_at_ms, value, quality FROM sample
    WHERE channel_id = (SELECT channel_id FROM channel WHERE channel = ?)
    AND measured_at_ms >= ? AND measured_at_ms < ? ORDER BY measured_at_ms"""


def readings_between(
    conn: sqlite3.Connection, channel: str, start_ms: int, end_ms: int
) -> list[tuple[int, float, int]]:
    """Give (measured_at_ms, value, quality) of every reading, good or suspect, from start until before end."""
    return conn.execute(_BETWEEN, (channel, start_ms, end_ms)).fetchall()


def first_good_of_cells(
    conn: sqlite3.Connection, channel: str, start_ms: int, end_ms: int, cell_ms: int
) -> list[tuple[int, float]]:
    """Give (measured_at_ms, value) of the first good reading in each cell of `cell_ms`, from start until before end.

    Cells begin at multiples of their length. What it costs depends on the readings in the span, not on the history.
    """
    return conn.execute(_FIRST_OF_CELLS, (channel, start_ms, end_ms, cell_ms)).fetchall()
