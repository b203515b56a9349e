"""When channels were heard last, within a span: what a look costs does not depend on how much history there is."""

import sqlite3

# Each walks the end of one stretch of the index on (channel_id, measured_at_ms). Quality 0 is Quality.GOOD.
_ANY = """SELECT measured_at_ms FROM sample JOIN channel USING (channel_id)
    WHERE channel = ? AND measured_at_ms BETWEEN ? AND ? ORDER BY measured_at_ms DESC LIMIT ?"""
_GOOD = """SELECT measured_at_ms FROM sample JOIN channel USING (channel_id)
    WHERE channel = ? AND measured_at_ms BETWEEN ? AND ? AND quality = 0 ORDER BY measured_at_ms DESC LIMIT ?"""
_NEWEST_GOOD = """SELECT measured_at_ms, value FROM sample JOIN channel USING (channel_id)
    WHERE channel = ? AND measured_at_ms BETWEEN ? AND ? AND quality = 0 ORDER BY measured_at_ms DESC LIMIT 1"""


def newest_times(conn: sqlite3.Connection, channel: str, start_ms: int, end_ms: int, limit: int) -> list[int]:
    """Give the times of the newest readings of a channel from start to end, good or suspect, newest first."""
    return [int(at_ms) for (at_ms,) in conn.execute(_ANY, (channel, start_ms, end_ms, limit))]


def newest_good_times(conn: sqlite3.Connection, channel: str, start_ms: int, end_ms: int, limit: int) -> list[int]:
    """Give the times of the newest good readings of a channel from start to end, newest first."""
    return [int(at_ms) for (at_ms,) in conn.execute(_GOOD, (channel, start_ms, end_ms, limit))]


def newest_good(conn: sqlite3.Connection, channel: str, start_ms: int, end_ms: int) -> tuple[int, float] | None:
    """Give time and value of the newest good reading of a channel from start to end; None where there is none."""
    row = conn.execute(_NEWEST_GOOD, (channel, start_ms, end_ms)).fetchone()
    return None if row is None else (int(row[0]), float(row[1]))
