"""From the text of a time to milliseconds, and finding out how a table writes its times.

A time without an offset gives the milliseconds that a clock on the wall would count from 1970-01-01 00:00; where on
earth that wall is, is the business of `daemon.tabular.moments`.
"""

import re
from collections.abc import Callable, Sequence
from datetime import UTC, datetime, timedelta
from functools import lru_cache, partial
from itertools import pairwise
from typing import NamedTuple

from daemon.tabular.errors import TableError, shown

_S, _MINUTE, _HOUR, _DAY = 1000, 60_000, 3_600_000, 86_400_000
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_SHORT_YEAR, _FULL_YEAR, _CENTURY = 2, 4, 2000
_LONG_STEP_MS = 20 * _DAY
"""Day and month swapped make steps of 28 days or more from those of one; a season's record has none that long."""
_LEAST_UNIX_S, _LEAST_UNIX_MS, _MOST_UNIX_MS = 100_000_000, 100_000_000_000, 10_000_000_000_000
"""1973 in seconds and in milliseconds, and 2286: a number between says by its size which of the two it is."""
_DATE_TIME = re.compile(
    r"\s*(\d{1,4})([./-])(\d{1,2})\2(\d{1,4})"
    r"(?:(?:T|,?\s+)(\d{1,2})[:.](\d{2})(?:[:.](\d{2})(?:[.,](\d{1,9}))?)?(?:\s*([AaPp])\.?\s*[Mm]\.?)?)?"
    r"\s*(?:([Zz]|UTC|GMT)|([+-])(\d{2}):?(\d{2}))?\s*"
)
_UNIX = re.compile(r"\s*(\d+)(?:[.,](\d{1,9}))?\s*")


class Stamp(NamedTuple):
    """Milliseconds on the wall clock, and how far that is ahead of UTC where the text says so."""

    wall_ms: int
    offset_ms: int | None


class TimeFormat(NamedTuple):
    """One way to write a time. `parse` gives None for text that is not written so."""

    name: str
    words: str
    parse: Callable[[str], Stamp | None]


def _dated(order: tuple[int, int, int], text: str) -> Stamp | None:
    """Read a date in figures, with or without time and offset; `order` is where year, month and day stand."""
    found = _DATE_TIME.fullmatch(text)
    if found is None:
        return None
    one, between, two, three, hour, minute, second, fraction, half, zulu, sign, off_h, off_min = found.groups()
    parts = (one, two, three)
    year = parts[order[0]]
    if order[0] == 0 and between == "." and len(year) < _FULL_YEAR:  # 14.05.26: with points, the day is in front
        return None
    day_ms = _day_ms(year, parts[order[1]], parts[order[2]])
    time_ms = 0 if hour is None else _time_ms(int(hour), int(minute), int(second or 0), half)
    if day_ms is None or time_ms is None:
        return None
    wall_ms = day_ms + time_ms + _thousandths(fraction)
    if zulu:
        return Stamp(wall_ms, 0)
    if sign is None:
        return Stamp(wall_ms, None)
    offset_ms = int(off_h) * _HOUR + int(off_min) * _MINUTE
    return Stamp(wall_ms, -offset_ms if sign == "-" else offset_ms)


@lru_cache(maxsize=64)
def _day_ms(year: str, month: str, day: str) -> int | None:
    if len(year) not in {_SHORT_YEAR, _FULL_YEAR} or len(day) > 2:  # noqa: PLR2004 - figures of a day
        return None
    full = int(year) + (_CENTURY if len(year) == _SHORT_YEAR else 0)
    try:
        moment = datetime(full, int(month), int(day), tzinfo=UTC)
    except ValueError:
        return None
    return (moment - EPOCH).days * _DAY


def _time_ms(hour: int, minute: int, second: int, half: str | None) -> int | None:
    if half is not None:
        if not 1 <= hour <= 12:  # noqa: PLR2004 - a clock of twelve hours
            return None
        hour = hour % 12 + (12 if half in "Pp" else 0)
    if hour > 23 or minute > 59 or second > 59:  # noqa: PLR2004 - a day, an hour, a minute
        return None
    return hour * _HOUR + minute * _MINUTE + second * _S


def _thousandths(fraction: str | None) -> int:
    return int(fraction[:3].ljust(3, "0")) if fraction else 0


def _unix(text: str) -> Stamp | None:
    found = _UNIX.fullmatch(text)
    if found is None or not _LEAST_UNIX_S <= int(found[1]) < _LEAST_UNIX_MS:
        return None
    return Stamp(int(found[1]) * _S + _thousandths(found[2]), 0)


def _unix_ms(text: str) -> Stamp | None:
    found = _UNIX.fullmatch(text)
    if found is None or not _LEAST_UNIX_MS <= int(found[1]) < _MOST_UNIX_MS:
        return None
    return Stamp(int(found[1]), 0)


def _by_pattern(pattern: str, text: str) -> Stamp | None:
    try:
        moment = datetime.strptime(text.strip(), pattern)  # noqa: DTZ007 - a wall clock; the zone comes later
    except ValueError:
        return None
    offset = moment.utcoffset()
    wall_ms = (moment.replace(tzinfo=UTC) - EPOCH) // timedelta(milliseconds=1)
    return Stamp(wall_ms, None if offset is None else offset // timedelta(milliseconds=1))


FORMATS = (
    TimeFormat("year-first", "year, month, day", partial(_dated, (0, 1, 2))),
    TimeFormat("day-first", "day before month", partial(_dated, (2, 1, 0))),
    TimeFormat("month-first", "month before day", partial(_dated, (2, 0, 1))),
    TimeFormat("unix", "seconds since 1970 UTC", _unix),
    TimeFormat("unix-ms", "milliseconds since 1970 UTC", _unix_ms),
)
_HINT = (
    f"Give --time-format: {', '.join(one.name for one in FORMATS)}, or a pattern such as '%d %b %Y %H:%M' "
    "(as in Python's strptime). Where date and time are two columns, give --time-column twice."
)


def named_format(name: str) -> TimeFormat:
    """Give the format of that name, or the one that a strptime pattern describes. Raises TableError."""
    for one in FORMATS:
        if one.name == name:
            return one
    if "%" not in name:
        raise TableError(None, f"there is no time format {shown(name)}", _HINT)
    if "%Z" in name:
        raise TableError(None, "a zone in letters (%Z) means different hours to different people", "Give --time-zone.")
    if "%Y" not in name and "%y" not in name:
        raise TableError(None, f"the pattern {shown(name)} has no year (%Y)", "A time without a year is no moment.")
    return TimeFormat(name, f"pattern {name}", partial(_by_pattern, name))


def is_time(text: str, stated: TimeFormat | None) -> bool:
    """Whether the stated format, or without one any of those that are found by themselves, can read the text."""
    return any(one.parse(text) for one in (FORMATS if stated is None else (stated,)))


def found_format(texts: Sequence[str], lines: Sequence[int]) -> tuple[TimeFormat, str]:
    """Find the one way in which all these times can be read, and say why it is the one.

    Parameters
    ----------
    texts, lines
        The times of the first rows, and the lines they stand on.

    Raises
    ------
    TableError
        No format reads all, or two do and nothing tells them apart: 03/04 is in April or in March.
    """
    read = [(one, [one.parse(text) for text in texts]) for one in FORMATS]
    most = max(sum(stamp is not None for stamp in stamps) for _, stamps in read)
    best = [(one, stamps) for one, stamps in read if sum(stamp is not None for stamp in stamps) == most]
    if most < len(texts):
        # Below all of them a format may fail on a garbled row; the first such row is the one to tell.
        first = 0 if most == 0 else best[0][1].index(None)
        raise unreadable(texts[first], lines[first], best[0][0] if most else None)
    complete = {tuple(stamp for stamp in stamps if stamp is not None): one for one, stamps in reversed(best)}
    if len(complete) == 1:
        return best[0][0], "the only reading of these times"
    (shortest, stamps), (next_shortest, _) = sorted((_longest_step_ms(stamps), stamps) for stamps in complete)[:2]
    if shortest < _LONG_STEP_MS <= next_shortest:
        return complete[stamps], f"read otherwise, the record would leap by {next_shortest // _DAY} days"
    meant = " or ".join(f"{_date(stamps[0])} ({one.name})" for stamps, one in reversed(complete.items()))
    raise TableError(lines[0], f"{shown(texts[0])} can be {meant}, and no other row decides it", _HINT)


def unreadable(text: str, line: int, as_format: TimeFormat | None) -> TableError:
    """Describe a time that cannot be read."""
    if not text.strip():
        return TableError(line, "there is no time in this row", "Take the row out, or write its time.")
    manner = "in any way known here" if as_format is None else f"as the rest of the table ({as_format.words})"
    return TableError(line, f"{shown(text)} is not a time {manner}", _HINT)


def _longest_step_ms(stamps: Sequence[Stamp]) -> int:
    return max((abs(after.wall_ms - before.wall_ms) for before, after in pairwise(stamps)), default=0)


def _date(stamp: Stamp) -> str:
    return (EPOCH + timedelta(milliseconds=stamp.wall_ms)).strftime("%Y-%m-%d")
