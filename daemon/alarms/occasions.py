"""When something that is sent regularly is due: once a week, once a day, by the clock of the site. Pure.

Each local date has exactly one such moment, also where the clocks change: a time of day that is left out counts as so
much after the change as it would have been after the hour before it, and of one that comes twice the first counts
(PEP 495, with the fold left at 0). So a week has one test, never two and never none. Times are UTC ms.
"""

from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from typing import NamedTuple

DAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
"""Names of the days of a week, as `date.weekday` counts them."""
_DAYS_BACK = 9


class Occasion(NamedTuple):
    """One of a kind: its name is the same whenever it is asked for, also after a restart."""

    name: str
    due_ms: int


def newest_weekly(now_ms: int, day: str, at: time, zone: tzinfo) -> Occasion:
    """Give the newest weekly moment that has come, named by the week of ISO 8601, such as `2026-W48`.

    A keeper who moves the day within a week that had its test gets no second one in it.
    """
    for one, due_ms in _moments(now_ms, at, zone):
        if one.weekday() == DAYS.index(day):
            year, week, _ = one.isocalendar()
            return Occasion(f"{year}-W{week:02}", due_ms)
    raise AssertionError(f"nine days without a {day}")


def newest_daily(now_ms: int, at: time, zone: tzinfo) -> Occasion:
    """Give the newest daily moment that has come, named by its local date."""
    one, due_ms = next(_moments(now_ms, at, zone))
    return Occasion(one.isoformat(), due_ms)


def is_to_be_sent(occasion: Occasion, now_ms: int, counts_from_ms: int, longest_late_ms: int) -> bool:
    """True where it fell into the time that counts and is not too late by now."""
    return counts_from_ms <= occasion.due_ms <= now_ms < occasion.due_ms + longest_late_ms


def _moments(now_ms: int, at: time, zone: tzinfo) -> Iterator[tuple[date, int]]:
    """Yield local dates with their moment, the newest first, of those that have come."""
    today = datetime.fromtimestamp(now_ms / 1000, UTC).astimezone(zone).date()
    for back in range(-1, _DAYS_BACK):
        one = today - timedelta(days=back)
        due_ms = round(datetime.combine(one, at, zone).astimezone(UTC).timestamp() * 1000)
        if due_ms <= now_ms:
            yield one, due_ms
