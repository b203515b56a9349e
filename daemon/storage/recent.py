"""Readings of the last days, thinned where a figure needs no more than one in a few minutes.

What it costs grows with the number of cells and hardly with the readings in them: from each cell SQLite goes straight
to the next one by the index on (channel_id, measured_at_ms). Of a probe that sends every second only the readings that
are given are touched.
"""

import sqlite3
from typing import Any

_FIRST_GOOD_OF_CELLS = """WITH RECURSIVE cell (number, at_ms) AS (
    SELECT channel_id, (SELECT measured_at_ms FROM sample WHERE channel_id = channel.channel_id AND quality = 0
        AND measured_at_ms >= :start_ms AND measured_at_ms < :end_ms ORDER BY measured_at_ms LIMIT 1)
    FROM channel WHERE channel = :channel
    UNION ALL
    SELECT number, (SELECT measured_at_ms FROM sample WHERE channel_id = number AND quality = 0
        AND measured_at_ms >= (at_ms / :cell_ms + 1) * :cell_ms AND measured_at_ms < :end_ms
        ORDER BY measured_at_ms LIMIT 1) FROM cell WHERE at_ms IS NOT NULL)
    SELECT at_ms, value FROM cell JOIN sample ON channel_id = number AND measured_at_ms = at_ms ORDER BY at_ms"""
_FIRST_OF_CELLS = """WITH RECURSIVE cell (number, at_ms) AS (
    SELECT channel_id, (SELECT measured_at_ms FROM sample WHERE channel_id = channel.channel_id
        AND measured_at_ms >= :start_ms AND measured_at_ms < :end_ms ORDER BY measured_at_ms LIMIT 1)
    FROM channel WHERE channel = :channel
    UNION ALL
    SELECT number, (SELECT measured_at_ms FROM sample WHERE channel_id = number
        AND measured_at_ms >= (at_ms / :cell_ms + 1) * :cell_ms AND measured_at_ms < :end_ms
        ORDER BY measured_at_ms LIMIT 1) FROM cell WHERE at_ms IS NOT NULL)
    SELECT measured_at_ms, value, quality FROM cell JOIN sample ON channel_id = number AND measured_at_ms = coalesce(
        (SELECT measured_at_ms FROM sample WHERE channel_id = number AND quality = 0 AND measured_at_ms >= at_ms
            AND measured_at_ms < min((at_ms / :cell_ms + 1) * :cell_ms, :end_ms) ORDER BY measured_at_ms LIMIT 1),
        at_ms)
    WHERE at_ms IS NOT NULL ORDER BY measured_at_ms"""


def first_of_cells(
    conn: sqlite3.Connection, channel: str, start_ms: int, end_ms: int, cell_ms: int
) -> list[tuple[int, float, int]]:
    """Give (measured_at_ms, value, quality) of the first good reading in each cell, from start until before end.

    Of a cell with suspect readings alone the first of these. Cells begin at multiples of their length.
    """
    return _read(conn, _FIRST_OF_CELLS, channel, start_ms, end_ms, cell_ms)


def first_good_of_cells(
    conn: sqlite3.Connection, channel: str, start_ms: int, end_ms: int, cell_ms: int
) -> list[tuple[int, float]]:
    """Give (measured_at_ms, value) of the first good reading in each cell of `cell_ms`, from start until before end.

    Cells begin at multiples of their length.
    """
    return _read(conn, _FIRST_GOOD_OF_CELLS, channel, start_ms, end_ms, cell_ms)


def _read(
    conn: sqlite3.Connection, statement: str, channel: str, start_ms: int, end_ms: int, cell_ms: int
) -> list[Any]:
    span = {"channel": channel, "start_ms": start_ms, "end_ms": end_ms, "cell_ms": cell_ms}
    return conn.execute(statement, span).fetchall()
