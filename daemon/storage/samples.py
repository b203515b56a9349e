"""Readings in the journal: appended once, never changed."""

import sqlite3
from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from daemon.storage.errors import JournalError
from sensors.reading import ChannelKey, Reading

_AFTER = """SELECT seq, channel, measured_at_ms, received_at_ms, value, quality
    FROM sample JOIN channel USING (channel_id) WHERE seq > ? ORDER BY seq LIMIT ?"""
_APPEND = """INSERT INTO sample (channel_id, measured_at_ms, received_at_ms, value, quality) VALUES (?, ?, ?, ?, ?)
    ON CONFLICT (channel_id, measured_at_ms) DO NOTHING"""
# CROSS JOIN makes SQLite begin with the few channels; left to itself it may begin with all samples.
_NEWEST = """SELECT seq, channel, measured_at_ms, received_at_ms, value, quality
    FROM channel CROSS JOIN sample USING (channel_id) WHERE measured_at_ms =
    (SELECT max(latest.measured_at_ms) FROM sample AS latest WHERE latest.channel_id = channel.channel_id)"""
_NEWEST_UNTIL = """SELECT seq, channel, measured_at_ms, received_at_ms, value, quality
    FROM channel CROSS JOIN sample USING (channel_id) WHERE measured_at_ms =
    (SELECT max(latest.measured_at_ms) FROM sample AS latest
    WHERE latest.channel_id = channel.channel_id AND latest.measured_at_ms <= ?)"""
_NEWEST_GOOD_OF = """SELECT seq, channel, measured_at_ms, received_at_ms, value, quality
    FROM sample JOIN channel USING (channel_id)
    WHERE channel = ? AND quality = 0 ORDER BY measured_at_ms DESC LIMIT 1"""
_NEWEST_TIME_OF = """SELECT channel_id, measured_at_ms FROM sample JOIN channel USING (channel_id)
    WHERE channel = ? ORDER BY measured_at_ms DESC LIMIT 1"""
_GOOD_EVER_BEFORE = """SELECT measured_at_ms, value FROM sample
    WHERE channel_id = ? AND measured_at_ms < ? AND quality = 0 ORDER BY measured_at_ms DESC LIMIT 1"""
_ALL_SINCE = """SELECT measured_at_ms, value FROM sample
    WHERE channel_id = ? AND measured_at_ms >= ? ORDER BY measured_at_ms"""
# Quality 0 is Quality.GOOD. Each of the three walks one stretch of the index on (channel_id, measured_at_ms).
_GOOD_BEFORE = """SELECT measured_at_ms, value FROM sample
    WHERE channel_id = ? AND measured_at_ms >= ? AND measured_at_ms < ? AND quality = 0
    ORDER BY measured_at_ms DESC LIMIT 1"""
_GOOD_INSIDE = """SELECT measured_at_ms, value FROM sample
    WHERE channel_id = ? AND measured_at_ms BETWEEN ? AND ? AND quality = 0
    ORDER BY measured_at_ms"""
_GOOD_BEHIND = """SELECT measured_at_ms, value FROM sample
    WHERE channel_id = ? AND measured_at_ms > ? AND measured_at_ms <= ? AND quality = 0
    ORDER BY measured_at_ms LIMIT 1"""

_GOOD_TIME_BEFORE = """SELECT measured_at_ms FROM sample JOIN channel USING (channel_id)
    WHERE channel = ? AND measured_at_ms < ? AND quality = 0 ORDER BY measured_at_ms DESC LIMIT 1"""
_GOOD_TIME_BEHIND = """SELECT measured_at_ms FROM sample JOIN channel USING (channel_id)
    WHERE channel = ? AND measured_at_ms > ? AND quality = 0 ORDER BY measured_at_ms LIMIT 1"""
_NEWEST_GOOD_UNTIL = """SELECT measured_at_ms FROM sample JOIN channel USING (channel_id)
    WHERE channel = ? AND quality = 0 AND seq <= ? ORDER BY measured_at_ms DESC LIMIT 1"""


class StoredReading(NamedTuple):
    """A reading with its sequence number, which grows in the order of storing."""

    seq: int
    channel: str
    measured_at_ms: int
    received_at_ms: int
    value: float
    quality: int


class Appended(NamedTuple):
    """What became of a batch of readings. `conflicts` are those whose time already had another value."""

    new: int
    duplicates: int
    conflicts: tuple[Reading, ...]


def channel_ids(conn: sqlite3.Connection, keys: Iterable[ChannelKey]) -> dict[str, int]:
    """Give the number of each channel, and enter the channels that are new.

    Raises JournalError where a channel was stored as another quantity before: its old readings would be misread.
    """
    ids: dict[str, int] = {}
    for key in keys:
        conn.execute(
            "INSERT INTO channel (channel, probe, quantity) VALUES (?, ?, ?) ON CONFLICT (channel) DO NOTHING",
            (key.channel, key.probe, key.quantity),
        )
        ids[key.channel], quantity = conn.execute(
            "SELECT channel_id, quantity FROM channel WHERE channel = ?", (key.channel,)
        ).fetchone()
        if quantity != key.quantity:
            raise JournalError(
                "cannot store this channel",
                key.channel,
                f"the journal holds it as {quantity}, and site.toml now says {key.quantity}",
                "Give the channel or the probe a new name in site.toml; the old readings stay under the old one.",
            )
    return ids


def quantities(conn: sqlite3.Connection) -> dict[str, str]:
    """Give what each channel that was ever stored measures."""
    return dict(conn.execute("SELECT channel, quantity FROM channel").fetchall())


def append(conn: sqlite3.Connection, ids: Mapping[str, int], readings: Sequence[Reading]) -> Appended:
    """Store readings; one that is there already (same channel, same time) is not stored again.

    The first value for a time stays. The same value once more is a duplicate, whatever its quality: a probe that sends
    again after a restart of the daemon may be judged with less memory. Another value is a conflict.
    """
    before = conn.total_changes
    conn.executemany(
        _APPEND,
        [
            (ids[channel], measured_at_ms, received_at_ms, value, quality)
            for channel, measured_at_ms, received_at_ms, value, quality in readings
        ],
    )
    new = conn.total_changes - before
    if new == len(readings):
        return Appended(new, 0, ())
    conflicts = tuple(reading for reading in readings if _stored_value(conn, ids, reading) != reading.value)
    return Appended(new, len(readings) - new - len(conflicts), conflicts)


def _stored_value(conn: sqlite3.Connection, ids: Mapping[str, int], reading: Reading) -> float:
    (value,) = conn.execute(
        "SELECT value FROM sample WHERE channel_id = ? AND measured_at_ms = ?",
        (ids[reading.channel], reading.measured_at_ms),
    ).fetchone()
    return float(value)


def after(conn: sqlite3.Connection, seq: int, limit: int) -> list[StoredReading]:
    """Give the readings stored after a sequence number, oldest stored first, at most `limit`."""
    return list(map(StoredReading._make, conn.execute(_AFTER, (seq, limit))))


def good_between(
    conn: sqlite3.Connection, channel: str, start_ms: int, end_ms: int, reach_ms: int
) -> list[tuple[int, float]]:
    """Give (measured_at_ms, value) of the good readings from start to end, both included, in order of time.

    With them come the nearest good one before and the nearest good one after, where these are at most `reach_ms`
    away. What it costs depends on the span and the reach, not on how much history there is.
    """
    found = conn.execute("SELECT channel_id FROM channel WHERE channel = ?", (channel,)).fetchone()
    if found is None:
        return []
    (number,) = found
    before = conn.execute(_GOOD_BEFORE, (number, start_ms - reach_ms, start_ms)).fetchall()
    inside = conn.execute(_GOOD_INSIDE, (number, start_ms, end_ms)).fetchall()
    behind = conn.execute(_GOOD_BEHIND, (number, end_ms, end_ms + reach_ms)).fetchall()
    return [*before, *inside, *behind]


def neighbours(conn: sqlite3.Connection, channel: str, time_ms: int) -> tuple[int | None, int | None]:
    """Give the times of the nearest good reading of a channel before a moment and of the nearest behind it."""
    before = conn.execute(_GOOD_TIME_BEFORE, (channel, time_ms)).fetchone()
    behind = conn.execute(_GOOD_TIME_BEHIND, (channel, time_ms)).fetchone()
    return before[0] if before else None, behind[0] if behind else None


def newest_good_until(conn: sqlite3.Connection, channel: str, seq: int) -> int | None:
    """Give the latest time of a channel's good readings up to a sequence number; None where it has none."""
    found = conn.execute(_NEWEST_GOOD_UNTIL, (channel, seq)).fetchone()
    return None if found is None else int(found[0])


def newest(conn: sqlite3.Connection) -> dict[str, StoredReading]:
    """Give the reading with the latest time of each channel that has one, good or suspect."""
    return {reading.channel: reading for reading in (StoredReading(*row) for row in conn.execute(_NEWEST))}


def newest_until(conn: sqlite3.Connection, until_ms: int) -> dict[str, StoredReading]:
    """Give the same as `newest`, as if nothing had been measured after a moment, UTC ms."""
    rows = conn.execute(_NEWEST_UNTIL, (until_ms,))
    return {reading.channel: reading for reading in (StoredReading(*row) for row in rows)}


def remembered(conn: sqlite3.Connection, channel: str, span_ms: int) -> list[tuple[str, int, float]]:
    """Give (channel, measured_at_ms, value) of a channel's newest stretch of `span_ms`, and the good one before it."""
    newest_row = conn.execute(_NEWEST_TIME_OF, (channel,)).fetchone()
    if newest_row is None:
        return []
    number, newest_ms = newest_row
    before = conn.execute(_GOOD_EVER_BEFORE, (number, newest_ms - span_ms)).fetchall()
    rows = conn.execute(_ALL_SINCE, (number, newest_ms - span_ms)).fetchall()
    return [(channel, measured_at_ms, value) for measured_at_ms, value in [*before, *rows]]


def newest_good_of(conn: sqlite3.Connection, channel: str) -> StoredReading | None:
    """Give the good reading with the latest time of one channel; None where it has none."""
    row = conn.execute(_NEWEST_GOOD_OF, (channel,)).fetchone()
    return None if row is None else StoredReading(*row)


def first_ms(conn: sqlite3.Connection) -> int | None:
    """Give the earliest time of all readings; None where there is none. UTC ms."""
    # The first of each channel by the index; the first of all at once would be a walk through every reading.
    (found,) = conn.execute(
        "SELECT min((SELECT min(measured_at_ms) FROM sample WHERE sample.channel_id = channel.channel_id)) FROM channel"
    ).fetchone()
    return None if found is None else int(found)


def count(conn: sqlite3.Connection) -> int:
    """Give the number of stored readings. Sequence numbers have no gaps, so the last one is the number."""
    (last,) = conn.execute("SELECT coalesce(max(seq), 0) FROM sample").fetchone()
    return int(last)
