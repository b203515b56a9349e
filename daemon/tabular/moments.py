"""From wall-clock times to moments in UTC, through the two days a year on which the clocks change.

In autumn an hour comes twice. Its rows are held until the first row after it, and the order decides: where their times
go back once, those before are the first hour and those from there on the second. Where they never go back, nothing says
which of the two hours it was, and the table is refused. In spring an hour is left out; a time in it is refused.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from typing import NamedTuple
from zoneinfo import ZoneInfo

from daemon.tabular.errors import TableError
from daemon.tabular.times import EPOCH, Stamp

_QUARTER_MS = 900_000
"""Offsets of time zones change at quarters of an hour, on the wall clock too; within one they are looked up once."""


class Row(NamedTuple):
    """One row of a table: where it stands, its time as written, and the reading of each column, or None."""

    line: int
    stamp: Stamp
    values: tuple[float | None, ...]


class Moment(NamedTuple):
    """One row at its moment: UTC milliseconds since the epoch."""

    line: int
    at_ms: int
    values: tuple[float | None, ...]


@dataclass(slots=True)
class ZoneTold:
    """What was found out about offsets on the way."""

    written_offsets_ms: set[int] = field(default_factory=set)
    turns: list[str] = field(default_factory=list)
    """How an hour that comes twice was told apart, a sentence each."""


class _Wall:
    """Gives the moments at which a clock on the wall of a zone shows a time: none, one or two."""

    def __init__(self, zone: ZoneInfo) -> None:
        self.zone = zone
        self._quarter = -1
        self._offsets_ms: tuple[int, ...] = ()

    def offsets_ms(self, wall_ms: int) -> tuple[int, ...]:
        """Offsets from UTC that the zone can have at this wall-clock time, the earlier moment first."""
        quarter = wall_ms // _QUARTER_MS
        if quarter != self._quarter:
            self._quarter = quarter
            self._offsets_ms = self._looked_up(wall_ms)
        return self._offsets_ms

    def _looked_up(self, wall_ms: int) -> tuple[int, ...]:
        wall = (EPOCH + timedelta(milliseconds=wall_ms)).replace(tzinfo=None)
        found: list[int] = []
        for fold in (0, 1):
            local = wall.replace(tzinfo=self.zone, fold=fold)
            if local.astimezone(UTC).astimezone(self.zone).replace(tzinfo=None) != wall:
                continue
            offset = local.utcoffset()
            if offset is not None and (ms := offset // timedelta(milliseconds=1)) not in found:
                found.append(ms)
        return tuple(found)


def in_utc(rows: Iterable[Row], zone: ZoneInfo | None, told: ZoneTold) -> Iterator[Moment]:
    """Give each row its moment.

    Parameters
    ----------
    rows
        In the order of the table.
    zone
        Where the wall of the clock is; None for a clock that never changes, read as UTC. Not used for times that say
        their offset themselves.
    told
        Filled on the way.

    Raises
    ------
    TableError
        Some times with an offset and some without; an hour that comes twice and is not told apart by the order; a time
        that the clocks skipped.
    """
    wall = None if zone is None else _Wall(zone)
    with_offset: bool | None = None
    held: list[Row] = []
    for row in rows:
        offset_ms = row.stamp.offset_ms
        if with_offset is None:
            with_offset = offset_ms is not None
        elif with_offset != (offset_ms is not None):
            raise _mixed(row, with_offset)
        if offset_ms is not None:
            told.written_offsets_ms.add(offset_ms)
            yield Moment(row.line, row.stamp.wall_ms - offset_ms, row.values)
        elif wall is None:
            yield Moment(row.line, row.stamp.wall_ms, row.values)
        else:
            offsets_ms = wall.offsets_ms(row.stamp.wall_ms)
            if len(offsets_ms) > 1:
                held.append(row)
                continue
            if held:
                yield from _told_apart(held, wall, told)
                held = []
            if not offsets_ms:
                raise _skipped(row, wall.zone)
            yield Moment(row.line, row.stamp.wall_ms - offsets_ms[0], row.values)
    if held and wall is not None:
        yield from _told_apart(held, wall, told)


def _told_apart(held: list[Row], wall: _Wall, told: ZoneTold) -> Iterator[Moment]:
    """Find the one place where the rows of a doubled hour go back, and give each side its offset."""
    backs = [
        index
        for index, (before, after) in enumerate(pairwise(held), 1)
        if after.stamp.wall_ms < before.stamp.wall_ms
        or (len(held) == 2 and after.stamp.wall_ms == before.stamp.wall_ms)  # noqa: PLR2004 - a record of one an hour
    ]
    first, last = held[0], held[-1]
    if len(backs) != 1:
        lines = f"line {first.line} is" if first is last else f"lines {first.line} to {last.line} are"
        raise TableError(
            first.line,
            f"{_written(first)} comes twice in {wall.zone.key}, as the clocks went back, and the order does not tell "
            f"which of the two hours {lines} in",
            f"{_never_changed(wall.zone, first)}Otherwise write the offset behind these times (+02:00), or take the "
            "rows out: the hour then counts as missing.",
        )
    turn = held[backs[0]]
    told.turns.append(
        f"{_written(first)} comes twice, as the clocks went back: the times go back at line {turn.line}, so the second "
        "hour begins there"
    )
    for index, row in enumerate(held):
        offsets_ms = wall.offsets_ms(row.stamp.wall_ms)
        yield Moment(row.line, row.stamp.wall_ms - offsets_ms[index >= backs[0]], row.values)


def _mixed(row: Row, with_offset: bool) -> TableError:
    now = "no offset from UTC" if with_offset else "an offset from UTC"
    before = "have one" if with_offset else "have none"
    return TableError(
        row.line,
        f"{_written(row)} has {now}, the times before it {before}: the table mixes time zones",
        "Write all times in one manner. Nobody can tell what the others mean.",
    )


def _skipped(row: Row, zone: ZoneInfo) -> TableError:
    return TableError(
        row.line,
        f"{_written(row)} does not exist in {zone.key}: the clocks went forward over it",
        f"{_never_changed(zone, row)}Otherwise correct the time: no clock that follows {zone.key} shows it.",
    )


def _never_changed(zone: ZoneInfo, row: Row) -> str:
    """Name the zone of a clock that stays on winter time, in signs as the tz database has them: Etc/GMT-1 is UTC+1.

    Winter time is the least offset of the year. Only whole hours have such a zone; for others there is no advice.
    """
    year = (EPOCH + timedelta(milliseconds=row.stamp.wall_ms)).year
    offsets = [datetime(year, month, 1, tzinfo=zone).utcoffset() for month in range(1, 13)]
    hours = min(offset for offset in offsets if offset is not None) / timedelta(hours=1)
    if hours != int(hours):
        return ""
    name = f"Etc/GMT{-int(hours):+d}" if hours else "Etc/GMT"
    always = f"UTC{int(hours):+d}" if hours else "UTC"
    return f"If the logger's clock is never changed: --time-zone {name} (always {always}). "


def _written(row: Row) -> str:
    return (EPOCH + timedelta(milliseconds=row.stamp.wall_ms)).strftime("%Y-%m-%d %H:%M")
