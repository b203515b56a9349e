"""Where the marks of a chart's axes stand, and what they say. Pure."""

import math
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from dashboards import figures

_MOST_TICKS = 5
_MINUTE_MS = 60_000
_HOUR_MS = 60 * _MINUTE_MS
_DAY_MS = 24 * _HOUR_MS
_WITHIN_DAY_MS = (
    1000,
    5000,
    15_000,
    *(n * _MINUTE_MS for n in (1, 5, 10, 20, 30)),
    *(n * _HOUR_MS for n in (1, 2, 3, 6, 12)),
)
_DAYS = (1, 2, 3, 7, 14, 28, 61, 122, 365, 730, 1461, 3652)
_YEAR_SHOWN_FROM_MS = 300 * _DAY_MS


def value_ticks(least: float, most: float) -> tuple[list[float], int]:
    """Give round values between two, at most five, and how many decimals tell them apart."""
    span = most - least
    rough = span / _MOST_TICKS
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(power * factor for factor in (1, 2, 5, 10) if power * factor >= rough * (1 - 1e-9))
    first, last = math.ceil(least / step - 1e-9), math.floor(most / step + 1e-9)
    return [number * step for number in range(first, last + 1)], max(0, -math.floor(math.log10(step) + 1e-9))


def time_ticks(from_ms: int, until_ms: int, zone: ZoneInfo) -> list[tuple[int, str]]:
    """Give round moments on the clock of the site, at most five, each with its text."""
    span_ms = until_ms - from_ms
    step_ms = next((step for step in _WITHIN_DAY_MS if span_ms / step <= _MOST_TICKS), 0)
    if step_ms:
        return _within_days(from_ms, until_ms, zone, step_ms)
    days = next((days for days in _DAYS if span_ms / _DAY_MS / days <= _MOST_TICKS), _DAYS[-1])
    first = figures.local(from_ms, zone).date()
    found = []
    day = first + timedelta(days=-first.toordinal() % days)
    while (at_ms := _ms(datetime(day.year, day.month, day.day, tzinfo=zone))) < until_ms:
        if at_ms >= from_ms:
            shown = figures.local(at_ms, zone)
            found.append((at_ms, f"{shown:%b %Y}" if span_ms > _YEAR_SHOWN_FROM_MS else figures.date_text(shown)))
        day += timedelta(days=days)
    return found


def _within_days(from_ms: int, until_ms: int, zone: ZoneInfo, step_ms: int) -> list[tuple[int, str]]:
    """A step on the clock of the wall: after a change to summer time it is still 6, 12 and 18 o'clock."""
    found: list[tuple[int, str]] = []
    naive = figures.local(from_ms, zone).replace(tzinfo=None, fold=0)
    midnight = naive.replace(hour=0, minute=0, second=0, microsecond=0)
    steps = math.ceil((naive - midnight) / timedelta(milliseconds=step_ms))
    wall = midnight + timedelta(milliseconds=steps * step_ms)
    while (at_ms := _ms(wall.replace(tzinfo=zone))) < until_ms:
        # An hour that the clocks skip has no moment of its own.
        exists = figures.local(at_ms, zone).replace(tzinfo=None, fold=0) == wall
        if at_ms >= from_ms and exists:
            found.append((at_ms, _time_text(wall, step_ms)))
        wall += timedelta(milliseconds=step_ms)
    return found


def _ms(moment: datetime) -> int:
    return round(moment.timestamp() * 1000)


def _time_text(wall: datetime, step_ms: int) -> str:
    if step_ms < _MINUTE_MS:
        return f"{wall:%H:%M:%S}"
    return figures.date_text(wall) if not (wall.hour or wall.minute) else f"{wall:%H:%M}"
