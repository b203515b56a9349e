"""From a logger's file to judged readings, each for its channel: everything or a TableError, and nothing in between."""

from array import array
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import chain, islice
from pathlib import Path
from zoneinfo import ZoneInfo

from daemon.commands.progress import lines_with_progress
from daemon.commands.table_options import LINES_LOOKED_AT
from daemon.storage.imports import Series
from daemon.tabular.cells import Column
from daemon.tabular.errors import TableError
from daemon.tabular.file import open_table
from daemon.tabular.layout import Wanted
from daemon.tabular.record import Found, Manner, Told, found_manner, read
from daemon.tabular.typical import require_likely
from sensors.arrival import EARLIEST_MS
from sensors.plausibility import Memory, judge
from sensors.reading import ChannelKey, Quality

_MS_PER_HOUR = 3_600_000


@dataclass(frozen=True, slots=True)
class Target:
    """A column of the file and the channel that its readings go to."""

    column: Column
    key: ChannelKey


@dataclass(frozen=True, slots=True)
class Record:
    """A whole file, read: nothing of it is judged or stored yet."""

    file: Path
    text_is: str
    wanted: Wanted
    manner: Manner
    told: Told
    times_ms: tuple["array[int]", ...]
    """For each column asked for, and so are the values."""
    values: tuple["array[float]", ...]


@dataclass(slots=True)
class Suspicion:
    """The suspect readings of one kind: how many, and the first."""

    count: int
    first_ms: int
    reason: str


@dataclass(frozen=True, slots=True)
class Judged:
    """The readings of one column with their quality."""

    series: Series
    suspicions: dict[Quality, Suspicion] = field(default_factory=dict)

    @property
    def suspect(self) -> int:
        """How many readings are suspect."""
        return sum(one.count for one in self.suspicions.values())


def read_record(file: Path, wanted: Wanted, zone: ZoneInfo, latest_ms: int) -> Record:
    """Read a file to its end. Raises TableError where any of it cannot be used, or is from after `latest_ms`."""
    told = Told.of(wanted.columns)
    times_ms = tuple(array("q") for _ in wanted.columns)
    values = tuple(array("d") for _ in wanted.columns)
    with open_table(file) as table, lines_with_progress(table) as lines:
        head = list(islice(lines, LINES_LOOKED_AT))
        manner = found_manner(head, wanted, zone)
        for found in read(chain(head, lines), manner, told):
            if not EARLIEST_MS <= found.at_ms <= latest_ms:
                raise _no_moment(found, latest_ms)
            times_ms[found.column].append(found.at_ms)
            values[found.column].append(found.value)
    for at, column, of_column in zip(manner.layout.columns, wanted.columns, values, strict=True):
        if not of_column:
            raise TableError(None, f"column {manner.layout.name(at)} holds no reading", "Is it the right column?")
        require_likely(manner.layout.name(at), column, of_column)
    return Record(file, table.text_is, wanted, manner, told, times_ms, values)


def judged(
    key: ChannelKey, times_ms: Sequence[int], values: Sequence[float], before: Iterable[tuple[int, float]]
) -> Judged:
    """Judge a column as if its readings had come one by one, after what the journal has `before` the first."""
    memory: Memory | None = None
    for at_ms, value in before:
        _, memory, _ = judge(memory, key.quantity, value, at_ms)
    qualities = array("b")
    suspicions: dict[Quality, Suspicion] = {}
    for at_ms, value in zip(times_ms, values, strict=True):
        quality, memory, reason = judge(memory, key.quantity, value, at_ms)
        qualities.append(quality)
        if quality:
            suspicions.setdefault(quality, Suspicion(0, at_ms, reason)).count += 1
    return Judged(Series(key, array("q", times_ms), array("d", values), qualities), suspicions)


def _no_moment(found: Found, latest_ms: int) -> TableError:
    if found.at_ms < EARLIEST_MS:
        return TableError(
            found.line, "the time is before the year 2000: the logger's clock was not set", "Take such rows out."
        )
    ahead_h = (found.at_ms - latest_ms) / _MS_PER_HOUR
    return TableError(
        found.line,
        f"the time is {ahead_h:.1f} h in the future",
        "Check the time zone (--time-zone), the order of day and month (--time-format), and both clocks.",
    )
