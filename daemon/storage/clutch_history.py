"""What the journal holds of one clutch over its whole time: heat by the day, changes, rounds. Times are UTC ms.

Whatever is asked for is bounded by the clutch's own time.
"""

import sqlite3
from typing import NamedTuple

from daemon.development.heat_interval import HeatPiece
from daemon.storage.rollups import LEVELS_MS

_HOUR_MS, _DAY_MS = 3_600_000, 86_400_000
_SUMS = """sum(low_ch), sum(degree_hours_ch), sum(high_ch), sum(colder_ch), sum(warmer_ch), sum(covered_ch),
    sum(temperature_ch), sum(linear_ms), sum(covered_ms), sum(missing_ms), sum(above_cap_ms), sum(below_zero_ms)"""
_DAYS = f"""SELECT max(hour_start_ms), {_SUMS} FROM heat_hour
    WHERE clutch_id = ? AND hour_start_ms <= ? GROUP BY hour_start_ms / {_DAY_MS} ORDER BY 1"""  # noqa: S608 - constants
_ROUNDS = """SELECT incubator, who, started_ms, ended_ms, note FROM round
    WHERE incubator = ? AND started_ms >= ? AND started_ms <= ? ORDER BY round_id"""

# Rows of the lowest level of the roll-ups that begin in a span; values as the probe said them.
_OUTSIDE = f"""SELECT count(*), coalesce(sum(total / good < :low), 0), coalesce(sum(total / good > :high), 0)
    FROM rollup WHERE level_ms = {LEVELS_MS[0]} AND good > 0 AND start_ms >= :start_ms AND start_ms < :end_ms
    AND channel_id = (SELECT channel_id FROM channel WHERE channel = :channel)"""  # noqa: S608 - a constant


class HeatDay(NamedTuple):
    """Heat of the stored hours of one day (UTC), and the end of the last of them."""

    end_ms: int
    piece: HeatPiece


class Change(NamedTuple):
    """One entry of the change log. `old` and `new` are JSON objects."""

    at_ms: int
    who: str
    what: str
    why: str
    old: str
    new: str


class RoundThen(NamedTuple):
    """A round through an incubator; `ended_ms` is None while it goes on."""

    incubator: str
    who: str
    started_ms: int
    ended_ms: int | None
    note: str


def heat_days(conn: sqlite3.Connection, clutch_id: int, until_ms: int) -> list[HeatDay]:
    """Give the heat of each day of a clutch, open or closed, from its stored hours that are over at a moment."""
    rows = conn.execute(_DAYS, (clutch_id, until_ms - _HOUR_MS))
    return [HeatDay(last_ms + _HOUR_MS, HeatPiece(*sums)) for last_ms, *sums in rows]


def changes(conn: sqlite3.Connection, clutch_id: int) -> list[Change]:
    """Give the change log of a clutch, oldest first."""
    rows = conn.execute(
        "SELECT at_ms, who, what, why, old, new FROM register_change WHERE clutch_id = ? ORDER BY change_id",
        (clutch_id,),
    )
    return [Change(*row) for row in rows]


def rounds(conn: sqlite3.Connection, incubator: str, from_ms: int, until_ms: int) -> list[RoundThen]:
    """Give the rounds of an incubator that were started between two moments, in order."""
    return [RoundThen(*row) for row in conn.execute(_ROUNDS, (incubator, from_ms, until_ms))]


def outside(
    conn: sqlite3.Connection,
    channel: str,
    start_ms: int,
    end_ms: int,
    limits: tuple[float | None, float | None],
) -> tuple[int, int, int]:
    """Count the stretches of ten minutes in a span with good readings, and those with a mean below and above limits.

    Limits as the probe says them; None for none. Costs a walk over the roll-ups: 144 rows a day.
    """
    low, high = limits
    asked = {"channel": channel, "start_ms": start_ms, "end_ms": end_ms, "low": low, "high": high}
    read, below, above = conn.execute(_OUTSIDE, asked).fetchone()
    return read, below, above
