"""The stored heat of clutches as it was at a moment of the past, of closed clutches too."""

import sqlite3
from collections.abc import Iterable

from daemon.development.heat_interval import HeatPiece
from daemon.storage.heat import HeatTotal

_HOUR_MS = 3_600_000
_SUMS = """sum(low_ch), sum(degree_hours_ch), sum(high_ch), sum(colder_ch), sum(warmer_ch), sum(covered_ch),
    sum(temperature_ch), sum(linear_ms), sum(covered_ms), sum(missing_ms), sum(above_cap_ms), sum(below_zero_ms)"""
# One clutch at a time: a join with all of them sorts what lies in order already, and takes twice as long.
_BETWEEN = f"""SELECT max(hour_start_ms), {_SUMS} FROM heat_hour
    WHERE clutch_id = ? AND hour_start_ms >= ? AND hour_start_ms <= ?"""  # noqa: S608 - a constant


def between(
    conn: sqlite3.Connection, clutch_ids: Iterable[int], from_ms: int | None, until_ms: int
) -> dict[int, HeatTotal]:
    """Give the heat of these clutches in their stored hours from `from_ms` on that are over at `until_ms`.

    From the set-up on with None. A walk over the hours of each: about 1 ms for a season of a clutch.
    """
    found: dict[int, HeatTotal] = {}
    for clutch_id in clutch_ids:
        asked = (clutch_id, -(2**62) if from_ms is None else from_ms, until_ms - _HOUR_MS)
        last_ms, *sums = conn.execute(_BETWEEN, asked).fetchone()
        if last_ms is not None:
            found[clutch_id] = HeatTotal(HeatPiece(*sums), last_ms)
    return found
