"""Pure: what a channel was on each day of a month: least, mean, most, hours outside and hours that nobody knows.

The course is that of means of ten minutes with straight lines between them (`placement/course`), so hours outside are
exact for those lines. Least and most are those of single readings. A day is one on the calendar of the site: 23 or 25
hours long where the clocks change.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, tzinfo
from typing import TYPE_CHECKING, NamedTuple

from daemon.placement.outside import Course
from daemon.review.beyond import Lines, cut, outside
from daemon.series_columns import Columns

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

HOUR_MS = 3_600_000
STRETCH_MS = 600_000
"""So long are the stretches of which means are taken; a shorter gap is none. As the roll-ups have it."""


class Day(NamedTuple):
    """A local day, from when until before when, UTC ms."""

    day: date
    from_ms: int
    until_ms: int


class Limited(NamedTuple):
    """The limits of a place from one moment until before another, in the unit of the quantity; None where none is."""

    from_ms: int
    until_ms: int
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class DayFigures:
    """A day of a channel; hours as numbers, values in the unit of the quantity, None where nothing was read.

    `below_h` and `above_h` are None on a day on which no limits held.
    """

    day: date
    asked_h: float
    unknown_h: float
    longest_gap_h: float
    least: float | None
    mean: float | None
    most: float | None
    below_h: float | None
    above_h: float | None


def days_between(from_ms: int, until_ms: int, zone: tzinfo) -> list[Day]:
    """Cut a span at the midnights of the site."""
    found, at_ms = [], from_ms
    day = datetime.fromtimestamp(from_ms / 1000, UTC).astimezone(zone).date()
    while at_ms < until_ms:
        following = day + timedelta(days=1)
        end_ms = round(datetime(following.year, following.month, following.day, tzinfo=zone).timestamp() * 1000)
        found.append(Day(day, at_ms, min(end_ms, until_ms)))
        day, at_ms = following, end_ms
    return found


def lines_of(course: Course) -> Lines:
    """Give the straight lines of a course."""
    import numpy as np

    at_ms, value = np.asarray(course.at_ms, dtype=float), np.asarray(course.value_c, dtype=float)
    joined = np.asarray(course.joined, dtype=bool)[1:]
    return Lines(at_ms[:-1][joined], at_ms[1:][joined], value[:-1][joined], value[1:][joined])


def figures_of(columns: Columns, lines: Lines, days: Sequence[Day], limits: Sequence[Limited]) -> list[DayFigures]:
    """Give the figures of each day. `columns` are stretches of ten minutes, `lines` lead through their means."""
    extremes = _extremes(columns, days)
    return [_day(day, lines, extremes[number], limits) for number, day in enumerate(days)]


def gaps_of(lines: Lines, from_ms: int, until_ms: int) -> list[tuple[float, float]]:
    """Give where no line leads, of the gaps longer than a stretch; both ends in ms."""
    edges = [float(from_ms)]
    for begin, end in zip(lines.from_ms.tolist(), lines.to_ms.tolist(), strict=True):
        edges += [begin, end]
    edges.append(float(until_ms))
    pairs = zip(edges[::2], edges[1::2], strict=True)
    return [(begin, end) for begin, end in pairs if end - begin > STRETCH_MS]


def _day(day: Day, lines: Lines, seen: tuple[float | None, float | None], limits: Sequence[Limited]) -> DayFigures:
    part = cut(lines, day.from_ms, day.until_ms)
    gaps = [end - begin for begin, end in gaps_of(part, day.from_ms, day.until_ms)]
    here = [each for each in limits if each.from_ms < day.until_ms and each.until_ms > day.from_ms]
    return DayFigures(
        day=day.day,
        asked_h=(day.until_ms - day.from_ms) / HOUR_MS,
        unknown_h=sum(gaps) / HOUR_MS,
        longest_gap_h=max(gaps, default=0.0) / HOUR_MS,
        least=seen[0],
        mean=_mean(part),
        most=seen[1],
        below_h=_hours(part, day, [(each, each.low) for each in here], above=False),
        above_h=_hours(part, day, [(each, each.high) for each in here], above=True),
    )


def _hours(lines: Lines, day: Day, limits: Sequence[tuple[Limited, float | None]], *, above: bool) -> float | None:
    known = [(each, limit) for each, limit in limits if limit is not None]
    if not known:
        return None
    found_ms = 0.0
    for each, limit in known:
        part = cut(lines, max(each.from_ms, day.from_ms), min(each.until_ms, day.until_ms))
        found_ms += outside(part, limit, above=above)[0]
    return found_ms / HOUR_MS


def _mean(lines: Lines) -> float | None:
    length = lines.to_ms - lines.from_ms
    whole = float(length.sum())
    return float(((lines.first + lines.last) / 2 * length).sum()) / whole if whole else None


def _extremes(columns: Columns, days: Sequence[Day]) -> list[tuple[float | None, float | None]]:
    """Give the least and the most of each day; a stretch over midnight belongs to the day that has its middle."""
    least: list[float | None] = [None] * len(days)
    most: list[float | None] = [None] * len(days)
    number = 0
    for start_ms, low, high in zip(columns.start_ms, columns.least, columns.most, strict=True):
        while number < len(days) - 1 and start_ms + STRETCH_MS / 2 >= days[number].until_ms:
            number += 1
        if low is not None and high is not None:
            before, after = least[number], most[number]
            least[number] = low if before is None else min(before, low)
            most[number] = high if after is None else max(after, high)
    return list(zip(least, most, strict=True))
