"""The alarm desk in words for the command line. Pure."""

from collections.abc import Iterable
from zoneinfo import ZoneInfo

from daemon.alarm_desk_values import Entry
from daemon.alarm_measures import measure_rows
from daemon.alarms.figures import duration_text
from daemon.alarms.metrics import Metrics
from daemon.alarms.state_values import DesignSuppression, OutOfService
from daemon.alarms.wrong import WRONG
from daemon.commands.moments import local_text
from daemon.storage.alarm_records import AlarmRecord


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


def metrics_lines(found: Metrics) -> list[str]:
    """The measures with what they are held against."""
    return [f"{'  ' if each.is_part else ''}{each.label}: {each.text}".rstrip() for each in measure_rows(found)]
