"""Roll-ups of readings: what is in a stretch of time, in few rows. Derived from the readings, and made again from them.

There are three levels. The rows of the lowest are made of the readings, those of each other one of the level below it.
All sums and extremes are worked out by SQLite, which goes through many rows without holding up other threads.
"""

import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from typing import Any, NamedTuple

from daemon.storage import cursors

MINUTE_MS = 60_000
HOUR_MS = 60 * MINUTE_MS
LEVELS_MS = (10 * MINUTE_MS, HOUR_MS, 6 * HOUR_MS)
"""How long the stretches of each level are; each length holds a whole number of the one before it. Project choice."""
_CURSOR = "roll-ups"

# `before_ms` is the time of the good reading before, where that lies in the span that is asked for. Quality 0 is GOOD.
_OF_SAMPLES = """SELECT place, sum(is_good), total(CASE WHEN is_good THEN value END),
    min(CASE WHEN is_good THEN value END), max(CASE WHEN is_good THEN value END),
    min(CASE WHEN is_good THEN measured_at_ms END), max(CASE WHEN is_good THEN measured_at_ms END),
    coalesce(max(CASE WHEN is_good AND (before_ms - :origin_ms) / :width_ms = place
        THEN measured_at_ms - before_ms END), 0),
    sum(NOT is_good), min(CASE WHEN NOT is_good THEN value END), max(CASE WHEN NOT is_good THEN value END)
    FROM (SELECT (measured_at_ms - :origin_ms) / :width_ms AS place, measured_at_ms, value, quality = 0 AS is_good,
        max(CASE WHEN quality = 0 THEN measured_at_ms END)
            OVER (ORDER BY measured_at_ms ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING) AS before_ms
        FROM sample WHERE channel_id = :number AND measured_at_ms >= :start_ms AND measured_at_ms < :end_ms)
    GROUP BY place ORDER BY place"""
_OF_ROLLUPS = """SELECT place, sum(good), total(total), min(least), max(most), min(first_ms), max(last_ms),
    max(max(longest_step_ms), coalesce(max(
        CASE WHEN (before_ms - :origin_ms) / :width_ms = place THEN first_ms - before_ms END), 0)),
    sum(suspect), min(suspect_least), max(suspect_most)
    FROM (SELECT (start_ms - :origin_ms) / :width_ms AS place, *,
        max(last_ms) OVER (ORDER BY start_ms ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING) AS before_ms
        FROM rollup WHERE level_ms = :level_ms AND channel_id = :number
            AND start_ms >= :start_ms AND start_ms < :end_ms)
    GROUP BY place ORDER BY place"""
# As above but for the longest step, which is that within the rows alone; the last column has all the steps between the
# rows of a place together, so it tells where one of them may be long. Half the cost: no window over the rows.
_OF_CALM_ROLLUPS = """SELECT (start_ms - :origin_ms) / :width_ms AS place, sum(good), total(total), min(least),
    max(most), min(first_ms), max(last_ms), max(longest_step_ms), sum(suspect), min(suspect_least), max(suspect_most),
    max(last_ms) - min(first_ms) - sum(last_ms - first_ms)
    FROM rollup WHERE level_ms = :level_ms AND channel_id = :number AND start_ms >= :start_ms AND start_ms < :end_ms
    GROUP BY place ORDER BY place"""
# A place is one row.
_ROWS = """SELECT (start_ms - :origin_ms) / :width_ms, good, total, least, most, first_ms, last_ms, longest_step_ms,
    suspect, suspect_least, suspect_most
    FROM rollup WHERE level_ms = :level_ms AND channel_id = :number AND start_ms >= :start_ms AND start_ms < :end_ms
    ORDER BY start_ms"""
_PUT = "INSERT OR REPLACE INTO rollup VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"
_TOUCHED = """SELECT DISTINCT channel_id, measured_at_ms / :level_ms * :level_ms FROM sample
    WHERE seq > :after AND seq <= :until ORDER BY 1, 2"""
# The plus keeps SQLite from walking all of the channel instead of the few newest readings.
_TOUCHED_OF = """SELECT DISTINCT measured_at_ms / :level_ms * :level_ms FROM sample
    WHERE seq > :after AND seq <= :until AND +channel_id = :number ORDER BY 1"""
_HELD = """SELECT coalesce(sum(good + suspect), 0) FROM rollup
    WHERE level_ms = :level_ms AND channel_id = :number AND start_ms >= :start_ms AND start_ms < :end_ms"""


class Part(NamedTuple):
    """What one stretch of time holds. `place` counts the stretches from 0; values are as the probe said them.

    `longest_step_ms` is the longest time between neighbouring good readings in it. The rest of good readings is None
    where there is none, and `total` is 0 then.
    """

    place: int
    good: int
    total: float
    least: float | None
    most: float | None
    first_ms: int | None
    last_ms: int | None
    longest_step_ms: int
    suspect: int
    suspect_least: float | None
    suspect_most: float | None


class Touched(NamedTuple):
    """Stretches of a channel that follow each other without a hole, from start until before end."""

    number: int
    start_ms: int
    end_ms: int


def of_samples(
    conn: sqlite3.Connection, number: int, start_ms: int, end_ms: int, origin_ms: int, width_ms: int
) -> list[Part]:
    """Give what the readings from start until before end come to, in stretches of `width_ms` counted from the origin.

    Costs what the readings in the span cost. The origin is not after the start.
    """
    asked = {
        "number": number,
        "start_ms": start_ms,
        "end_ms": end_ms,
        "origin_ms": origin_ms,
        "width_ms": width_ms,
    }
    return list(map(Part._make, conn.execute(_OF_SAMPLES, asked)))


def of_rollups(
    conn: sqlite3.Connection, level_ms: int, number: int, start_ms: int, end_ms: int, origin_ms: int, width_ms: int
) -> list[Part]:
    """Give the same from the rows of a level that begin from start until before end.

    Origin and width are whole numbers of the level's stretches.
    """
    asked = {
        "level_ms": level_ms,
        "number": number,
        "start_ms": start_ms,
        "end_ms": end_ms,
        "origin_ms": origin_ms,
        "width_ms": width_ms,
    }
    return list(map(Part._make, conn.execute(_OF_ROLLUPS, asked)))


def of_calm_rollups(
    conn: sqlite3.Connection,
    level_ms: int,
    number: int,
    start_ms: int,
    end_ms: int,
    origin_ms: int,
    width_ms: int,
    calm_ms: int,
) -> Sequence[tuple[Any, ...]]:
    """Give the same as `of_rollups` as plain tuples, but that a longest step of at most `calm_ms` may be told shorter.

    For whoever only asks whether a step is longer than that; in half the time where none is.
    """
    asked = {
        "level_ms": level_ms,
        "number": number,
        "start_ms": start_ms,
        "end_ms": end_ms,
        "origin_ms": origin_ms,
        "width_ms": width_ms,
    }
    if width_ms == level_ms:
        return conn.execute(_ROWS, asked).fetchall()
    rows = conn.execute(_OF_CALM_ROLLUPS, asked).fetchall()
    if any(row[-1] is not None and row[-1] > calm_ms for row in rows):
        return of_rollups(conn, level_ms, number, start_ms, end_ms, origin_ms, width_ms)
    return rows


def held(conn: sqlite3.Connection, number: int, start_ms: int, end_ms: int) -> int:
    """Give about how many readings a span holds, as far as they are rolled up."""
    lowest_ms = LEVELS_MS[0]
    (count,) = conn.execute(_HELD, _asked(lowest_ms, number, start_ms - lowest_ms, end_ms)).fetchone()
    return int(count)


def counted(
    conn: sqlite3.Connection, channels: Sequence[str], start_ms: int, end_ms: int
) -> tuple[tuple[int, int], ...]:
    """Give for channels how many readings are rolled up in a span: it changes where some come late.

    By the widest stretches that are over, and for the rest by the narrowest; some 150 rows for a month.
    """
    numbers = [
        int(number)
        for channel in channels
        for (number,) in conn.execute("SELECT channel_id FROM channel WHERE channel = ?", (channel,))
    ]
    narrow_ms, wide_ms = LEVELS_MS[0], LEVELS_MS[-1]
    until_ms = end_ms // wide_ms * wide_ms
    parts = ((wide_ms, start_ms - wide_ms, until_ms), (narrow_ms, until_ms, end_ms // narrow_ms * narrow_ms))
    return tuple(
        (number, sum(conn.execute(_HELD, _asked(level, number, *span)).fetchone()[0] for level, *span in parts))
        for number in numbers
    )


def _asked(level_ms: int, number: int, start_ms: int, end_ms: int) -> dict[str, int]:
    return {"level_ms": level_ms, "number": number, "start_ms": start_ms, "end_ms": end_ms}


def touched(conn: sqlite3.Connection, after: int, until: int) -> list[Touched]:
    """Give the lowest level's stretches with a reading that was stored after one number and until another."""
    rows = conn.execute(_TOUCHED, {"level_ms": LEVELS_MS[0], "after": after, "until": until})
    return list(_runs(rows, LEVELS_MS[0]))


def touched_of(conn: sqlite3.Connection, level_ms: int, number: int, after: int, until: int) -> list[int]:
    """Give the starts of a channel's stretches of a level with a reading that was stored between two numbers."""
    asked = {"level_ms": level_ms, "number": number, "after": after, "until": until}
    return [start_ms for (start_ms,) in conn.execute(_TOUCHED_OF, asked)]


def widened(spans: Iterable[Touched], level_ms: int) -> list[Touched]:
    """Give the stretches of a higher level around these, joined where they meet."""
    starts = {
        (span.number, start_ms)
        for span in spans
        for start_ms in range(span.start_ms // level_ms * level_ms, span.end_ms, level_ms)
    }
    return list(_runs(sorted(starts), level_ms))


def put(conn: sqlite3.Connection, level_ms: int, number: int, parts: Sequence[Part]) -> None:
    """Store rows of a level; `place` counts its stretches from the epoch. A row that is there is replaced."""
    conn.executemany(_PUT, [(level_ms, number, part.place * level_ms, *part[1:]) for part in parts])


def rolled_up_to(conn: sqlite3.Connection) -> int:
    """Give the sequence number up to which the readings are in the rows; 0 at first."""
    found = conn.execute("SELECT seq FROM cursor WHERE name = ?", (_CURSOR,)).fetchone()
    return 0 if found is None else int(found[0])


def set_rolled_up_to(conn: sqlite3.Connection, seq: int) -> None:
    """Note up to which reading the rows are made."""
    cursors.put(conn, _CURSOR, seq)


def forget(conn: sqlite3.Connection) -> None:
    """Throw all rows away; they are made again from the readings."""
    conn.execute("DELETE FROM rollup")
    conn.execute("DELETE FROM cursor WHERE name = ?", (_CURSOR,))


def _runs(starts: Iterable[tuple[int, int]], level_ms: int) -> Iterator[Touched]:
    """Join starts, which come in order, to spans without a hole."""
    span: Touched | None = None
    for number, start_ms in starts:
        if span is not None and span.number == number and span.end_ms == start_ms:
            span = Touched(number, span.start_ms, start_ms + level_ms)
            continue
        if span is not None:
            yield span
        span = Touched(number, start_ms, start_ms + level_ms)
    if span is not None:
        yield span
