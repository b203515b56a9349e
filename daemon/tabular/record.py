"""From the lines of a table to readings in order of time. Nothing is left out without being counted."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple
from zoneinfo import ZoneInfo

from daemon.tabular.cells import Column, reading, split_cells, unit_in
from daemon.tabular.errors import TableError
from daemon.tabular.layout import Layout, Wanted, check_width, find_layout, is_skipped
from daemon.tabular.moments import Moment, Row, ZoneTold, in_utc
from daemon.tabular.times import TimeFormat, found_format, unreadable


@dataclass(frozen=True, slots=True)
class Manner:
    """All that must be known to read a table."""

    layout: Layout
    time_format: TimeFormat
    time_format_why: str
    zone: ZoneInfo | None
    columns: tuple[Column, ...]


@dataclass(slots=True)
class ColumnTold:
    """What was met in one column, in the canonical unit of its quantity."""

    readings: int = 0
    without_reading: int = 0
    """Rows whose cell holds no reading."""
    repeated: int = 0
    """Rows that say a reading once more, with the same time and value."""
    lowest: float = float("inf")
    highest: float = float("-inf")
    last_ms: int = 0
    """Moment and value of the newest reading."""
    last: float = 0.0


@dataclass(slots=True)
class Told:
    """What was met on the way, for the keeper."""

    columns: tuple[ColumnTold, ...]
    zone: ZoneTold = field(default_factory=ZoneTold)
    rows: int = 0
    comments: int = 0
    """Comments and blank lines between the data."""
    first_ms: int = 0
    """First and last row, with a reading or without."""
    last_ms: int = 0

    @classmethod
    def of(cls, columns: Sequence[Column]) -> "Told":
        """Nothing met yet."""
        return cls(tuple(ColumnTold() for _ in columns))


class Found(NamedTuple):
    """One reading: the place of its column among those asked for, its moment (UTC ms), its value, and its line."""

    column: int
    at_ms: int
    value: float
    line: int


def found_manner(head: Sequence[str], wanted: Wanted, zone: ZoneInfo | None) -> Manner:
    """Find out from the first lines how the table is written; what the keeper states is not doubted, but checked.

    Raises TableError where that needs a guess, or where a heading names another unit than the stated one.
    """
    layout = find_layout(head, wanted)
    for at, column in zip(layout.columns, wanted.columns, strict=True):
        _require_unit(layout, at, column)
    if wanted.time_format is not None:
        return Manner(layout, wanted.time_format, "given", zone, wanted.columns)
    rows = list(_data_rows(enumerate(head, 1), layout, Told(())))
    time_format, why = found_format([layout.time_text(cells) for _, cells in rows], [number for number, _ in rows])
    return Manner(layout, time_format, f"found: {why}", zone, wanted.columns)


def read(lines: Iterable[str], manner: Manner, told: Told) -> Iterator[Found]:
    """Give each reading; those of a column in rising order of time.

    `lines` is the table from its first line on; `told` is filled on the way. Raises TableError with the line for
    everything that cannot be read, goes back in time or contradicts itself.
    """
    newest: Moment | None = None
    each = list(zip(range(len(manner.columns)), told.columns, manner.columns, strict=True))
    for moment in in_utc(_rows(lines, manner, told), manner.zone, told.zone):
        at_ms = moment.at_ms
        if newest is None:
            told.first_ms = at_ms
        elif at_ms < newest.at_ms:
            raise _goes_back(newest, moment)
        newest = moment
        told.last_ms = at_ms
        told.rows += 1
        for place, met, column in each:
            value = moment.values[place]
            if value is None:
                met.without_reading += 1
            elif met.readings and at_ms == met.last_ms:
                if value != met.last:
                    raise _contradicts(moment, value, met.last, column)
                met.repeated += 1
            else:
                met.last_ms, met.last = at_ms, value
                met.readings += 1
                met.lowest = min(met.lowest, value)
                met.highest = max(met.highest, value)
                yield Found(place, at_ms, value, moment.line)


def _require_unit(layout: Layout, at: int, column: Column) -> None:
    if layout.header_line is None:
        return
    named = unit_in(layout.names[at])
    # Some loggers head fractions with a percent sign; whether they are fractions is told by the values.
    fits = named == column.unit if column.quantity.is_temperature else named == "percent"
    if named is None or fits:
        return
    sign = "%" if named == "percent" else f"°{named}"
    same_kind = column.quantity.is_temperature and named != "percent"
    raise TableError(
        layout.header_line,
        f"the column {layout.name(at)} is headed {sign}, and {column.unit_words} is asked for",
        f"Give {column.unit_option} {named}." if same_kind else "Is this the right column?",
    )


def _rows(lines: Iterable[str], manner: Manner, told: Told) -> Iterator[Row]:
    layout, parse, decimal = manner.layout, manner.time_format.parse, manner.layout.decimal
    columns = list(zip(layout.columns, manner.columns, strict=True))
    for number, cells in _data_rows(enumerate(lines, 1), layout, told):
        text = layout.time_text(cells)
        stamp = parse(text)
        if stamp is None:
            raise unreadable(text, number, manner.time_format)
        yield Row(number, stamp, tuple([reading(cells[at], decimal, column, number) for at, column in columns]))


def _data_rows(lines: Iterable[tuple[int, str]], layout: Layout, told: Told) -> Iterator[tuple[int, list[str]]]:
    for number, line in lines:
        if number < layout.first_data_line:
            continue
        if is_skipped(line):
            told.comments += 1
            continue
        cells = split_cells(line, layout.delimiter, number)
        if len(cells) != layout.width:
            check_width(cells, layout, number)
        yield number, cells


def _goes_back(before: Moment, after: Moment) -> TableError:
    return TableError(
        after.line,
        f"the time is {(before.at_ms - after.at_ms) / 60_000:.10g} min before that of line {before.line}",
        "Sort the rows, oldest first. Where the logger's clock went back from summer time, give its --time-zone.",
    )


def _contradicts(moment: Moment, value: float, earlier: float, column: Column) -> TableError:
    unit = "°C" if column.quantity.is_temperature else "% RH"
    return TableError(
        moment.line,
        f"the same time as the reading before, but {value:g} {unit} instead of {earlier:g} {unit}",
        "Take out the wrong one; two probes need a file or a column each.",
    )
