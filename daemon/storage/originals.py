"""Readings of one channel as they were stored, page by page: what they cost in memory is one page."""

import sqlite3
from collections.abc import Iterable

# One stretch of the index on (channel_id, measured_at_ms) is walked.
_PAGE = """SELECT measured_at_ms, value, quality FROM sample
    WHERE channel_id = ? AND measured_at_ms >= ? AND measured_at_ms < ? ORDER BY measured_at_ms LIMIT ?"""
_COUNT = "SELECT count(*) FROM sample WHERE channel_id = ? AND measured_at_ms >= ? AND measured_at_ms < ?"


def known(conn: sqlite3.Connection) -> dict[str, tuple[int, str]]:
    """Give the number and the quantity of every channel that was ever stored."""
    rows = conn.execute("SELECT channel, channel_id, quantity FROM channel ORDER BY channel")
    return {channel: (int(number), quantity) for channel, number, quantity in rows}


def page(
    conn: sqlite3.Connection, number: int, from_ms: int, until_ms: int, limit: int
) -> list[tuple[int, float, int]]:
    """Give the first readings of a channel from a moment until before another: (measured_at_ms, value, quality)."""
    return conn.execute(_PAGE, (number, from_ms, until_ms, limit)).fetchall()


def count(conn: sqlite3.Connection, number: int, spans: Iterable[tuple[int, int]]) -> int:
    """Count the readings of a channel in spans, each from a moment until before another."""
    return sum(int(conn.execute(_COUNT, (number, *span)).fetchone()[0]) for span in spans)
