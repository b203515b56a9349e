"""Least, mean and most of a channel over a span of time, worked out where the readings are.

A day of one reading a second is too many to hand over: SQLite goes through them without holding up other threads.
"""

import sqlite3
from collections.abc import Sequence
from typing import NamedTuple

from sensors.calibration import Piece

# One stretch of the index on (channel_id, measured_at_ms) is walked. Quality 0 is Quality.GOOD. A step is the straight
# line between two readings; a longer one than the bridge is a gap.
_FIGURES = """SELECT count(*), min(value), max(value),
    total(CASE WHEN step_ms <= :bridge_ms THEN step_ms * (value + before) / 2 END),
    coalesce(sum(CASE WHEN step_ms <= :bridge_ms THEN step_ms END), 0)
    FROM (SELECT value, lag(value) OVER in_time AS before,
        measured_at_ms - lag(measured_at_ms) OVER in_time AS step_ms
        FROM sample WHERE channel_id = (SELECT channel_id FROM channel WHERE channel = :channel)
        AND measured_at_ms >= :start_ms AND measured_at_ms < :end_ms AND quality = 0
        WINDOW in_time AS (ORDER BY measured_at_ms))"""


class Figures(NamedTuple):
    """Of the good readings of a span. The mean is weighted by time, over `covered_ms`: the time without gaps.

    None where there is no reading; the mean also where no two readings are near enough to each other.
    """

    least: float | None
    mean: float | None
    most: float | None
    covered_ms: int


def figures(
    conn: sqlite3.Connection, channel: str, corrections: Sequence[Piece], start_ms: int, end_ms: int, bridge_ms: int
) -> Figures:
    """Give the figures of a channel from start until before end, corrected by its calibrations.

    `corrections` are those in force from start on, in order. A step between two readings of which one calibration ends
    and another begins counts as a gap. What it costs depends on the readings in the span, not on the history.
    """
    ends = [*(piece.from_ms for piece in corrections[1:]), end_ms]
    area, covered_ms = 0.0, 0
    seen: list[float] = []
    for piece, until_ms in zip(corrections, ends, strict=True):
        found = conn.execute(
            _FIGURES,
            {
                "channel": channel,
                "bridge_ms": bridge_ms,
                "start_ms": max(start_ms, piece.from_ms),
                "end_ms": min(until_ms, end_ms),
            },
        ).fetchone()
        count, least, most, area_of, covered_of_ms = found
        if count:
            seen += [piece.gain * least + piece.shift, piece.gain * most + piece.shift]
            area += piece.gain * area_of + piece.shift * covered_of_ms
            covered_ms += covered_of_ms
    if not seen:
        return Figures(None, None, None, 0)
    return Figures(min(seen), area / covered_ms if covered_ms else None, max(seen), covered_ms)
