"""The alarm desk in words for the command line. Pure."""

from collections.abc import Iterable, Sequence
from zoneinfo import ZoneInfo

from config.words import Priority
from daemon.alarm_desk_values import Entry
from daemon.alarms.figures import duration_text
from daemon.alarms.metrics import Answered, Metrics, measure
from daemon.alarms.metrics_rows import AlarmRow
from daemon.alarms.state_values import AlarmMemory, DesignSuppression, OutOfService, Shown
from daemon.alarms.wrong import WRONG
from daemon.commands.moments import local_text
from daemon.storage.alarm_records import AlarmRecord

FLEETING_MS = 2 * 60_000
"""Two readings of a probe that sends every minute."""


def standing(entry: Entry, place: str, zone: ZoneInfo, now_ms: int) -> list[str]:
    """What is to be known of one alarm at present."""
    state, raised = entry.state, entry.raised
    since_ms = raised.since_ms if state.since_ms is None else state.since_ms
    since = f"since {local_text(since_ms, zone)} ({duration_text(now_ms - since_ms)})"
    lines = [
        f"{entry.alarm.priority.word} {place}: {f'{raised.about}: ' if raised.about else ''}{WRONG[raised.kind]}",
        f"{state.shown}, condition {state.condition}, {since}",
    ]
    if state.acknowledged_by:
        lines.append(f"acknowledged by {state.acknowledged_by}")
    if state.shelf is not None:
        left = duration_text(max(state.shelf.until_ms - now_ms, 0))
        lines.append(f"shelved by {state.shelf.who} for {left} more: {state.shelf.reason}")
    lines += [_held_back(each, now_ms) for each in state.design if not each.spent]
    return lines if state.out is None else [*lines, *_out_of_service(state.out, zone, now_ms)]


def _held_back(by: DesignSuppression, now_ms: int) -> str:
    """People at work have an end that they want to know; a cause has none."""
    left = f", for {duration_text(by.ends_ms - now_ms)} more at most" if by.mode.is_work else ""
    return f"held back: {by.mode}{left}"


def _out_of_service(out: OutOfService, zone: ZoneInfo, now_ms: int) -> list[str]:
    left_ms = out.review_ms - now_ms
    due = f"in {duration_text(left_ms)}" if left_ms > 0 else f"due for {duration_text(-left_ms)}"
    return [
        f"out of service by {out.who}, review {local_text(out.review_ms, zone)} ({due}): {out.reason}",
        f"meanwhile: {out.interim}",
    ]


def journal_lines(records: Iterable[AlarmRecord], zone: ZoneInfo) -> list[str]:
    """One line for each step."""
    return [
        f"{local_text(each.at_ms, zone)}  {each.alarm_key}  {each.event}"
        f"{'' if each.accepted else ' (refused)'}: {each.shown}"
        f"{f', by {each.who}' if each.who else ''}{'; people were called' if each.annunciated else ''}. {each.reason}."
        for each in records
    ]


def metrics_of(records: Iterable[AlarmRecord], from_ms: int, to_ms: int, zone: ZoneInfo) -> Metrics:
    """Measure a window by the accepted steps of the journal."""
    rows = [
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
    return measure(rows, from_ms, to_ms, zone, FLEETING_MS)


def metrics_lines(found: Metrics) -> list[str]:
    """The measures with what they are held against."""
    shown, causes = found.performance, found.diagnosis
    rate = shown.too_little if shown.per_day is None else f"{shown.per_day:.2f} a day"
    urgent = shown.too_little if shown.urgent_per_week is None else f"{shown.urgent_per_week:.2f} a week"
    answers = (f"  {priority.word}: {_answer(each)}" for priority, each in shown.answered.items())
    return [
        f"Calls in {shown.days:.0f} days: {shown.annunciations} ({rate}); critical and urgent: {urgent}",
        f"Most within 10 minutes: {shown.most_per_10_min}; most in one night: {shown.most_per_night}",
        f"Nights without a call: {shown.share_of_quiet_nights:.0%}",
        "Time to acknowledge:",
        *answers,
        f"Most frequent: {_counts(causes.most_frequent)}",
        f"Chattering (on again and again within an hour): {_names(causes.chattering)}",
        f"Fleeting (over at once, nobody acted): {_names(causes.fleeting)}",
        f"Stale (on for more than a day): {_names(causes.stale)}",
        f"Longest on: {causes.longest_on_h:.1f} h",
        f"Longest without an acknowledgement: {causes.longest_unacknowledged_h:.1f} h",
    ]


def _answer(found: Answered) -> str:
    if found.median_min is None or found.p95_min is None:
        return f"none acknowledged, {found.open} open" if found.open else "none"
    middle = f"half within {found.median_min:.0f} min, 95 of 100 within {found.p95_min:.0f} min"
    return f"{found.count} acknowledged, {middle}; {found.open} open"


def _counts(found: Sequence[tuple[str, int]]) -> str:
    return ", ".join(f"{name} ({count})" for name, count in found) or "none"


def _names(found: Sequence[str]) -> str:
    return ", ".join(found) or "none"
