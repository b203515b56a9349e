"""A channel over any period in at most so many stretches of time: least, mean and most of each. The read side.

Short periods are read from the readings, long ones from roll-ups, so that what it costs is bounded by the number of
stretches and not by history; a reading that stands out is the least or the most of its stretch in any case. Where a row
of the roll-ups does not fit whole (the period begins or ends in it, a calibration begins in it, or a reading came in
since it was made), the readings of that row are read instead. Each part is corrected by the calibration of its time.
"""

import sqlite3
from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import NamedTuple

from daemon.series_columns import EMPTY, Columns, Row, columns_of, corrected, joined
from daemon.storage import rollups, samples
from daemon.storage.rollups import LEVELS_MS
from sensors.calibration import FROM_EVER_MS, Piece

RAW = Piece(FROM_EVER_MS, 1.0, 0.0, 0.0)
MOST_READINGS = 30_000
"""So many readings of a channel are walked through at the most; a period with more of them is read from roll-ups."""
MOST_PENDING = 20_000
_MOST_RENEWED = 200


class Grid(NamedTuple):
    """Stretches of `width_ms` from `start_ms` on. `level_ms` is that of the roll-ups to read; 0: the readings."""

    start_ms: int
    width_ms: int
    level_ms: int


class Bucket(NamedTuple):
    """One stretch, from start until before end, with the values corrected. Least, mean and most are of good readings.

    The mean is that of the readings, each counting the same. `gap_before`: the step from the good reading before the
    first one here is longer than a straight line may stand for; `gap_inside`: a step within is.
    """

    start_ms: int
    end_ms: int
    good: int
    least: float | None
    mean: float | None
    most: float | None
    first_ms: int | None
    last_ms: int | None
    suspect: int
    suspect_least: float | None
    suspect_most: float | None
    gap_before: bool
    gap_inside: bool


@dataclass(frozen=True)
class Series:
    """A channel from `from_ms` until before `until_ms`; a stretch without any reading is not among its columns.

    `is_behind`: readings wait to be rolled up, so some may be missing in a long period.
    """

    channel: str
    from_ms: int
    until_ms: int
    width_ms: int
    columns: Columns
    is_behind: bool = False

    @cached_property
    def buckets(self) -> tuple[Bucket, ...]:
        """The same, one by one."""
        start_ms, *others = self.columns
        return tuple(
            Bucket(start, start + self.width_ms, *rest) for start, *rest in zip(start_ms, *others, strict=True)
        )


def grid(from_ms: int, until_ms: int, buckets: int, least_level_ms: int = 0) -> Grid:
    """Lay at most `buckets` stretches over a period, read from the coarsest level that is fine enough for them."""
    wanted_ms = -(-(until_ms - from_ms) // buckets)
    level_ms = max((level for level in LEVELS_MS if level <= wanted_ms), default=0)
    level_ms = max(level_ms, least_level_ms)
    if not level_ms:
        return Grid(from_ms, wanted_ms, 0)
    start_ms = from_ms // level_ms * level_ms
    rows = -(-(until_ms - start_ms) // level_ms)
    return Grid(start_ms, -(-rows // buckets) * level_ms, level_ms)


def series(
    conn: sqlite3.Connection,
    channel: str,
    from_ms: int,
    until_ms: int,
    buckets: int,
    pieces: Sequence[Piece] = (RAW,),
    bridge_ms: int = 1_800_000,
    most_readings: int = MOST_READINGS,
) -> Series:
    """Give a channel from one moment until before another, in at most so many stretches.

    `pieces` are the corrections that count in the period, the first from its start on; a step between two good readings
    that is longer than `bridge_ms` is a gap. A channel without readings gives an empty series. Raises ValueError for a
    period that is none.
    """
    if until_ms <= from_ms or buckets < 1:
        raise ValueError("a period ends after it begins and has at least one stretch")
    number = _number(conn, channel)
    if number is None:
        return Series(channel, from_ms, until_ms, grid(from_ms, until_ms, buckets).width_ms, EMPTY)
    lay = grid(from_ms, until_ms, buckets)
    if not lay.level_ms and rollups.held(conn, number, from_ms, until_ms) > most_readings:
        lay = grid(from_ms, until_ms, buckets, LEVELS_MS[0])
    changes = [piece.from_ms for piece in pieces[1:] if from_ms < piece.from_ms < until_ms]
    reader = _Reader(conn, number, lay, pieces, bridge_ms)
    if lay.level_ms:
        renewed, is_behind = _renewed(conn, number, lay.level_ms)
        found = reader.rolled_up(from_ms, until_ms, changes, renewed)
    else:
        found, is_behind = reader.read(_pairs([from_ms, *changes, until_ms])), False
    columns = columns_of(joined(found), lay.start_ms, lay.width_ms, bridge_ms)
    return Series(channel, from_ms, until_ms, lay.width_ms, columns, is_behind)


class _Reader:
    """Reads the parts of one channel on one grid."""

    def __init__(
        self, conn: sqlite3.Connection, number: int, lay: Grid, pieces: Sequence[Piece], bridge_ms: int
    ) -> None:
        self._conn = conn
        self._number = number
        self._grid = lay
        self._pieces = pieces
        self._starts = [piece.from_ms for piece in pieces]
        self._bridge_ms = bridge_ms

    def read(self, spans: Iterable[tuple[int, int]]) -> Iterator[Sequence[Row]]:
        """Parts of the readings of spans in which one calibration counts."""
        lay = self._grid
        for start_ms, end_ms in spans:
            parts = rollups.of_samples(self._conn, self._number, start_ms, end_ms, lay.start_ms, lay.width_ms)
            yield corrected(parts, self._piece(start_ms))

    def rolled_up(
        self, from_ms: int, until_ms: int, changes: Sequence[int], renewed: Iterable[int]
    ) -> Iterator[Sequence[Row]]:
        """Parts of the rows that fit whole, and of the readings where one does not."""
        lay, level_ms = self._grid, self._grid.level_ms
        cuts = [from_ms, *changes, until_ms]
        unfit = {cut // level_ms * level_ms for cut in cuts if cut % level_ms}
        unfit |= {start_ms for start_ms in renewed if from_ms - level_ms < start_ms < until_ms}
        edges = {edge for start_ms in unfit for edge in (start_ms, start_ms + level_ms)}
        edges = {edge for edge in edges if from_ms < edge < until_ms} | set(cuts)
        for start_ms, end_ms in _pairs(sorted(edges)):
            if start_ms // level_ms * level_ms in unfit:
                yield from self.read([(start_ms, end_ms)])
                continue
            span = (level_ms, self._number, start_ms, end_ms, lay.start_ms, lay.width_ms)
            parts = rollups.of_calm_rollups(self._conn, *span, self._bridge_ms)
            yield corrected(parts, self._piece(start_ms))

    def _piece(self, at_ms: int) -> Piece:
        return self._pieces[max(0, bisect_right(self._starts, at_ms) - 1)]


def _renewed(conn: sqlite3.Connection, number: int, level_ms: int) -> tuple[list[int], bool]:
    """Rows of a level that got a reading since they were made; and whether more wait than can be looked at."""
    rolled, newest = rollups.rolled_up_to(conn), samples.count(conn)
    starts = rollups.touched_of(conn, level_ms, number, max(rolled, newest - MOST_PENDING), newest)
    return starts[-_MOST_RENEWED:], newest - rolled > MOST_PENDING or len(starts) > _MOST_RENEWED


def _number(conn: sqlite3.Connection, channel: str) -> int | None:
    found = conn.execute("SELECT channel_id FROM channel WHERE channel = ?", (channel,)).fetchone()
    return None if found is None else int(found[0])


def _pairs(edges: Sequence[int]) -> list[tuple[int, int]]:
    return list(pairwise(edges))
