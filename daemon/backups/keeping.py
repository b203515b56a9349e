"""Which backups are kept, by count and age. Pure.

The newest of each local day is kept for so many days that have one, and in the same way of each week and month.
Counting days that have a backup, and not days of the calendar, keeps as many after a winter without any.
"""

from collections.abc import Callable, Collection, Iterator, Sequence
from datetime import UTC, datetime, tzinfo
from typing import NamedTuple


class Kept(NamedTuple):
    """How many are kept of each: at least one day, and none of the others with 0."""

    days: int
    weeks: int
    months: int


class Dated(NamedTuple):
    """A backup, and when it was made (UTC ms)."""

    name: str
    made_ms: int


class Removal(NamedTuple):
    """A backup that may go, and why."""

    name: str
    why: str


def to_remove(
    backups: Sequence[Dated], kept: Kept, zone: tzinfo, proven: Collection[str], now_ms: int
) -> tuple[Removal, ...]:
    """Give the backups that may go, oldest first.

    `proven` are those that were whole when somebody looked. The newest of these always stays, and where there is none,
    nothing goes at all: what is there may be all that is left. One from after now was made by a clock that was wrong;
    it is left to a person.
    """
    past = sorted((each for each in backups if each.made_ms <= now_ms), key=lambda each: each.made_ms, reverse=True)
    good = [each for each in past if each.name in proven]
    if not good:
        return ()
    staying = {good[0].name}
    # Only of what is known to be whole, so that a damaged one takes nobody's place.
    for count, key in ((max(kept.days, 1), _day), (kept.weeks, _week), (kept.months, _month)):
        staying.update(_newest_of_each(good, count, key, zone))
    why = f"older than {_counts(kept)}"
    return tuple(Removal(each.name, why) for each in good[::-1] if each.name not in staying)


def _newest_of_each(
    backups: Sequence[Dated], count: int, key: Callable[[datetime], object], zone: tzinfo
) -> Iterator[str]:
    seen: set[object] = set()
    for each in backups:
        one = key(datetime.fromtimestamp(each.made_ms / 1000, UTC).astimezone(zone))
        if one not in seen and len(seen) < count:
            seen.add(one)
            yield each.name


def _day(moment: datetime) -> object:
    return moment.date()


def _week(moment: datetime) -> object:
    return moment.isocalendar()[:2]


def _month(moment: datetime) -> object:
    return moment.year, moment.month


def _counts(kept: Kept) -> str:
    parts = ((max(kept.days, 1), "day"), (kept.weeks, "week"), (kept.months, "month"))
    named = [f"{count} {what}{'s' * (count > 1)}" for count, what in parts if count]
    return f"what is kept: one of each of {' and '.join([', '.join(named[:-1]), named[-1]] if named[1:] else named)}"
