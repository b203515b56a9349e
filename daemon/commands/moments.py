"""Dates and times as people type them, in the zone of the site."""

import re
from datetime import datetime, time
from zoneinfo import ZoneInfo

import typer

from config.errors import StatedError
from daemon.clock import as_datetime, as_ms
from daemon.local_moments import local_text, stated_end_ms, stated_ms

__all__ = ["day_range_ms", "local_text", "moment_ms", "span_ms", "until_ms"]


def moment_ms(text: str, zone: ZoneInfo, option: str) -> int:
    """A moment from `2026-05-03`, `2026-05-03 14:30` or `2026-05-03T14:30`, local to the site.

    A date alone is the start of that day. Raises typer.BadParameter that says how to write it; a local time that the
    change to summer time leaves out is refused, one that comes twice is the first of the two.
    """
    try:
        return stated_ms(text, zone)
    except StatedError as error:
        raise typer.BadParameter(f"{option}: {error.reason}; {error.hint}") from None


def until_ms(text: str, zone: ZoneInfo, option: str) -> int:
    """The end of a stretch, as `moment_ms`: of a day alone that is the begin of the next. Raises typer.BadParameter."""
    try:
        return stated_end_ms(text, zone)
    except StatedError as error:
        raise typer.BadParameter(f"{option}: {error.reason}; {error.hint}") from None


def day_range_ms(text: str, zone: ZoneInfo, option: str) -> tuple[int, int]:
    """The two ends of `2026-05-01..2026-05-03`, or of one day: from its start to the end of the last day."""
    first, dots, last = text.partition("..")
    start = moment_ms(first, zone, option)
    end_day = as_datetime(moment_ms(last if dots else first, zone, option)).astimezone(zone).date()
    end = as_ms(datetime.combine(end_day, time(23, 59, 59), zone))
    if end < start:
        raise typer.BadParameter(f"{option}: {text} ends before it begins")
    return start, end


def span_ms(text: str, option: str) -> int:
    """A length of time from `20min`, `2h` or `1d`. Raises typer.BadParameter that says how to write it."""
    found = re.fullmatch(r"\s*(\d+(?:\.\d+)?)\s*(min|h|d)\s*", text)
    if found is None or float(found[1]) <= 0:
        raise typer.BadParameter(f"{option}: {text!r} is no length of time; write 20min, 2h or 1d")
    return round(float(found[1]) * {"min": 60_000, "h": 3_600_000, "d": 86_400_000}[found[2]])
