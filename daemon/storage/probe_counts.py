"""How many readings of a channel were good and how many suspect of late, without walking through all of them."""

import sqlite3

from daemon.storage.rollups import LEVELS_MS

# Whole stretches come from the roll-ups; what is newer than the last of them, and that one itself, from the readings.
_ROLLED = """SELECT coalesce(sum(good), 0), coalesce(sum(suspect), 0) FROM rollup
    WHERE level_ms = :level_ms AND channel_id = :number AND start_ms >= :start_ms AND start_ms < :until_ms"""
_LAST = """SELECT max(start_ms) FROM rollup
    WHERE level_ms = :level_ms AND channel_id = :number AND start_ms >= :start_ms"""
_QUALITIES = """SELECT quality, count(*) FROM sample JOIN channel USING (channel_id)
    WHERE channel = ? AND measured_at_ms >= ? GROUP BY quality"""
_BY_QUALITY = """SELECT coalesce(sum(quality = 0), 0), coalesce(sum(quality <> 0), 0) FROM sample
    WHERE channel_id = :number AND measured_at_ms >= :until_ms"""


def good_and_suspect(conn: sqlite3.Connection, channel: str, start_ms: int) -> tuple[int, int]:
    """Give how many readings since a moment were good and how many suspect. The moment is rounded to ten minutes."""
    found = conn.execute("SELECT channel_id FROM channel WHERE channel = ?", (channel,)).fetchone()
    if found is None:
        return 0, 0
    level_ms = LEVELS_MS[0]
    span = {"level_ms": level_ms, "number": found[0], "start_ms": start_ms // level_ms * level_ms}
    (last_ms,) = conn.execute(_LAST, span).fetchone()
    span["until_ms"] = span["start_ms"] if last_ms is None else last_ms
    good, suspect = conn.execute(_ROLLED, span).fetchone()
    newer_good, newer_suspect = conn.execute(_BY_QUALITY, span).fetchone()
    return good + newer_good, suspect + newer_suspect


def by_quality(conn: sqlite3.Connection, channel: str, start_ms: int) -> dict[int, int]:
    """Give how many readings since a moment had which flags (`sensors.reading.Quality`). Walks through all of them."""
    return dict(conn.execute(_QUALITIES, (channel, start_ms)).fetchall())
