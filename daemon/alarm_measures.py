"""The measures of the alarms: from the steps in the journal, and as rows that a command or a page shows. Pure."""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from types import MappingProxyType
from typing import NamedTuple
from zoneinfo import ZoneInfo

from config.words import Priority
from daemon.alarm_names import key_of_occurrence
from daemon.alarms.classes import DAY_MS
from daemon.alarms.metrics import Answered, Metrics, measure
from daemon.alarms.metrics_rows import AlarmRow
from daemon.alarms.state_values import AlarmMemory, Shown
from daemon.storage.alarm_records import AlarmRecord

FLEETING_MS = 2 * 60_000
"""Two readings of a probe that sends every minute."""
WINDOW_DAYS = 30
_NOT_YET = "not yet: too little data"


class MeasureRow(NamedTuple):
    """One measure: what it is, and what it comes to. `is_part`: it belongs to the row above that has no text."""

    label: str
    text: str
    is_part: bool = False


def window_from(days: int, first_ms: int | None, now_ms: int) -> int:
    """The beginning of a window of so many days; not before anybody watched (`first_ms`): a rate would be too low."""
    from_ms = now_ms - days * DAY_MS
    return from_ms if first_ms is None else min(max(from_ms, first_ms), now_ms - 1)


def metrics_of(records: Iterable[AlarmRecord], from_ms: int, to_ms: int, zone: ZoneInfo) -> Metrics:
    """Measure a window by the accepted steps of the journal; those from before it say what was on at its beginning."""
    return measure(rows_of(records), from_ms, to_ms, zone, FLEETING_MS)


def rows_of(records: Iterable[AlarmRecord]) -> list[AlarmRow]:
    """Give the accepted steps of the journal as the measures read them."""
    return [
        AlarmRow(
            each.at_ms,
            each.occurrence,
            each.alarm_key,
            Priority(each.priority),
            AlarmMemory(each.before),
            AlarmMemory(each.after),
            Shown(each.shown),
            each.event,
            each.who,
            each.annunciated,
        )
        for each in records
        if each.accepted
    ]


def measure_rows(found: Metrics, called: Mapping[str, str] = MappingProxyType({})) -> Iterator[MeasureRow]:
    """Give the measures with what they are held against, in words. `called`: names of alarms, by their keys."""
    shown, causes = found.performance, found.diagnosis
    rate = shown.too_little if shown.per_day is None else f"{shown.per_day:.2f} a day"
    urgent = shown.too_little if shown.urgent_per_week is None else f"{shown.urgent_per_week:.2f} a week"
    calls = f"{shown.annunciations} ({rate}); critical and urgent: {urgent}"
    yield MeasureRow(f"Calls in {shown.days:.0f} days" if shown.days >= 1 else "Calls in less than a day", calls)
    most = f"{shown.most_per_10_min}; most in one night: {shown.most_per_night}"
    yield MeasureRow("Most within 10 minutes", most)
    quiet = _NOT_YET if shown.per_day is None else f"{shown.share_of_quiet_nights:.0%}"
    yield MeasureRow("Nights without a call", quiet)
    yield MeasureRow("Time to acknowledge", "")
    for priority, each in shown.answered.items():
        yield MeasureRow(priority.word, _answer(each), is_part=True)
    yield MeasureRow("Most frequent", _counts(causes.most_frequent, called))
    yield MeasureRow("Chattering (on again and again within an hour)", _names(causes.chattering, called))
    fleeting = Counter(map(key_of_occurrence, causes.fleeting)).most_common()
    yield MeasureRow("Fleeting (over at once, nobody acted)", _counts(fleeting, called))
    yield MeasureRow("Stale (on for more than a day)", _names(causes.stale, called))
    yield MeasureRow("Longest on", f"{causes.longest_on_h:.1f} h")
    yield MeasureRow("Longest without an acknowledgement", f"{causes.longest_unacknowledged_h:.1f} h")


def _answer(found: Answered) -> str:
    if found.median_min is None or found.p95_min is None:
        return f"none acknowledged, {found.open} open" if found.open else "none"
    middle = f"half within {found.median_min:.0f} min, 95 of 100 within {found.p95_min:.0f} min"
    return f"{found.count} acknowledged, {middle}; {found.open} open"


def _counts(found: Sequence[tuple[str, int]], called: Mapping[str, str]) -> str:
    return "; ".join(f"{count} \N{MULTIPLICATION SIGN} {called.get(key, key)}" for key, count in found) or "none"


def _names(found: Sequence[str], called: Mapping[str, str]) -> str:
    return "; ".join(called.get(key, key) for key in found) or "none"
