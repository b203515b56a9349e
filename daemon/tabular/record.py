"""From the lines of a table to readings in order of time. Nothing is left out without being counted."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from zoneinfo import ZoneInfo

from daemon.tabular.cells import split_cells, temperature_c, unit_in
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
    unit: str
    """`C` or `F`."""


@dataclass(slots=True)
class Told:
    """What was met on the way, for the keeper."""

    zone: ZoneTold = field(default_factory=ZoneTold)
    readings: int = 0
    without_reading: int = 0
    """Rows whose temperature cell holds no reading."""
    repeated: int = 0
    """Rows that say a reading once more, with the same time and value."""
    comments: int = 0
    """Comments and blank lines between the data."""
    coldest_c: float = float("inf")
    warmest_c: float = float("-inf")
    first_ms: int = 0
    """First and last row, with a reading or without."""
    last_ms: int = 0


def found_manner(head: Sequence[str], wanted: Wanted, unit: str, zone: ZoneInfo | None) -> Manner:
    """Find out from the first lines how the table is written; what the keeper states is not doubted, but checked.

    Raises TableError where that needs a guess, or where the heading names another unit than the stated one.
    """
    layout = find_layout(head, wanted)
    if layout.header_line is not None:
        named = unit_in(layout.names[layout.temperature_column])
        if named not in {None, unit}:
            raise TableError(
                layout.header_line,
                f"the column {layout.name(layout.temperature_column)} is headed °{named}, and °{unit} is asked for",
                f"Give --unit {named}.",
            )
    if wanted.time_format is not None:
        return Manner(layout, wanted.time_format, "given", zone, unit)
    rows = list(_data_rows(enumerate(head, 1), layout, Told()))
    time_format, why = found_format([layout.time_text(cells) for _, cells in rows], [number for number, _ in rows])
    return Manner(layout, time_format, f"found: {why}", zone, unit)


def read(lines: Iterable[str], manner: Manner, told: Told) -> Iterator[tuple[int, float]]:
    """Give (moment, temperature) of each reading: UTC milliseconds, rising, and degree Celsius.

    `lines` is the table from its first line on; `told` is filled on the way. Raises TableError with the line for
    everything that cannot be read, goes back in time or contradicts itself.
    """
    moments = in_utc(_rows(lines, manner, told), manner.zone, told.zone)
    newest: Moment | None = None
    last_ms, last_c = 0, 0.0
    for moment in moments:
        if newest is not None and moment.at_ms < newest.at_ms:
            raise _goes_back(newest, moment)
        if newest is None:
            told.first_ms = moment.at_ms
        newest, value = moment, moment.value
        told.last_ms = moment.at_ms
        if value is None:
            told.without_reading += 1
            continue
        if told.readings and moment.at_ms == last_ms:
            if value != last_c:
                raise _contradicts(moment, value, last_c)
            told.repeated += 1
            continue
        last_ms, last_c = moment.at_ms, value
        told.readings += 1
        told.coldest_c = min(told.coldest_c, value)
        told.warmest_c = max(told.warmest_c, value)
        yield last_ms, value


def _rows(lines: Iterable[str], manner: Manner, told: Told) -> Iterator[Row]:
    layout, parse, decimal, unit = manner.layout, manner.time_format.parse, manner.layout.decimal, manner.unit
    column = layout.temperature_column
    for number, cells in _data_rows(enumerate(lines, 1), layout, told):
        text = layout.time_text(cells)
        stamp = parse(text)
        if stamp is None:
            raise unreadable(text, number, manner.time_format)
        yield Row(number, stamp, temperature_c(cells[column], decimal, unit, number))


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
        "Sort the rows by time. Where the logger's clock went back from summer time, give its --time-zone.",
    )


def _contradicts(moment: Moment, value: float, earlier: float) -> TableError:
    return TableError(
        moment.line,
        f"the same time as the reading before, but {value:g} °C instead of {earlier:g} °C",
        "Take out the wrong one; two probes need a file or a column each.",
    )
