"""What happened to a clutch and where it lay, from the journal: set-up, moves, closing, rounds, alarms."""

import json
import sqlite3
from collections.abc import Callable, Iterator, Mapping, Sequence
from zoneinfo import ZoneInfo

from config.words import AlarmKind, Quantity
from daemon.alarms.figures import clock_text, value_text
from daemon.alarms.lateness import LATE_MS
from daemon.alarms.wrong import LIMITED, SILENT, WRONG
from daemon.clutch_climate import Lain
from daemon.clutch_looks import eggs_said, looks
from daemon.clutch_record_values import ClutchEvent
from daemon.clutches.register import Clutch
from daemon.storage import alarm_past, clutch_history, late
from daemon.storage.alarm_past import Raised

MOST_ALARMS = 60
"""So many of the newest alarms are listed. Project choice: a page that somebody can read."""

NEARLY_MS = 30 * 60_000
"""A silence with no longer hole than this left is filled: heat and charts bridge so much. The usual bridge."""


def other_events(
    conn: sqlite3.Connection, clutch: Clutch, lain: Sequence[Lain], name: Callable[[str], str]
) -> list[ClutchEvent]:
    """Give set-up, moves, closing, rounds, and what was found and said of eggs; `name`: of a place for people."""
    whys = {(change.what, _moment(change.new)): change.why for change in clutch_history.changes(conn, clutch.clutch_id)}
    first, *moves = clutch.placements
    found = [ClutchEvent(first.from_ms, "set-up", f"Set up in {name(first.place)}")]
    found += [
        ClutchEvent(move.from_ms, "move", f"Moved to {name(move.place)}", whys.get(("move", move.from_ms), ""))
        for move in moves
    ]
    if clutch.closed_at_ms is not None:
        found.append(ClutchEvent(clutch.closed_at_ms, "close", "Closed", whys.get(("close", clutch.closed_at_ms), "")))
    return [*found, *_rounds(conn, lain, name), *looks(conn, clutch, lain), *eggs_said(conn, clutch)]


def _moment(new: str) -> int | None:
    """When a change says that it took place; None where what is stored says nothing of it."""
    try:
        stored = json.loads(new)
    except ValueError:
        return None
    found = stored.get("closed_at_ms", stored.get("from_ms")) if isinstance(stored, dict) else None
    return found if isinstance(found, int) else None


def _rounds(conn: sqlite3.Connection, lain: Sequence[Lain], name: Callable[[str], str]) -> Iterator[ClutchEvent]:
    for stay in lain:
        incubator = stay.place.split("/", 1)[0]
        for each in clutch_history.rounds(conn, incubator, stay.from_ms, stay.end_ms):
            what = f"Round in {name(incubator)}, by {each.who}"
            yield ClutchEvent(each.started_ms, "round", what, each.note, each.ended_ms, each.ended_ms is None)


def alarm_events(
    conn: sqlite3.Connection,
    subjects: Mapping[str, Sequence[Lain]],
    lain: Sequence[Lain],
    name: Callable[[str], str],
    *,
    fahrenheit: bool,
    time_zone: str = "UTC",
    now_ms: int = 0,
) -> tuple[list[ClutchEvent], int]:
    """Give the newest alarms about these subjects in their stays, and how many older ones are left out."""
    if not lain:
        return [], 0
    spans = {subject: [(stay.from_ms, stay.end_ms) for stay in each] for subject, each in subjects.items()}
    raised, left_out = alarm_past.newest_raised(conn, spans, lain[-1].end_ms, MOST_ALARMS)
    zone = ZoneInfo(time_zone)
    return [
        _alarm(each, name, _filled(conn, each, lain[-1].end_ms, zone, now_ms), fahrenheit=fahrenheit) for each in raised
    ], left_out


def _filled(conn: sqlite3.Connection, step: Raised, until_ms: int, zone: ZoneInfo, now_ms: int) -> str:
    """What late readings have made of a silence that was told of."""
    kind, _, channel = step.alarm_key.partition(":")
    end_ms = until_ms if step.ended_ms is None else step.ended_ms
    found = late.filled(conn, channel, step.at_ms, end_ms, LATE_MS) if kind in SILENT else None
    if found is None:
        return ""
    part = "" if found.longest_hole_ms <= NEARLY_MS else "in part "
    return f"filled {part}at {clock_text(found.came_ms, now_ms, zone)} by readings that came late"


def _alarm(step: Raised, name: Callable[[str], str], filled: str, *, fahrenheit: bool) -> ClutchEvent:
    kind, _, subject = step.alarm_key.partition(":")
    wrong = WRONG[AlarmKind(kind)] if kind in set(AlarmKind) else kind
    about = "" if subject.startswith("clutch-") else f" ({name(subject)})"
    why = _against_limit(step, kind, fahrenheit) or step.reason
    why = f"{why}; {filled}" if filled else why
    if step.found_afterwards:
        why = f"{why}; found afterwards, by readings that came late"
    return ClutchEvent(step.at_ms, "alarm", f"Alarm: {wrong}{about}", why, step.ended_ms, step.ended_ms is None)


def _against_limit(step: Raised, kind: str, fahrenheit: bool) -> str:
    """The value and the limit in the unit of the site, where there are both: the log itself is in °C."""
    if kind not in LIMITED or step.value is None or step.limit is None:
        return ""
    quantity = Quantity.AIR_TEMPERATURE if kind.startswith("temperature") else Quantity.RELATIVE_HUMIDITY
    value = value_text(step.value, quantity, fahrenheit, beside=step.limit)
    return f"{value}, the limit is {value_text(step.limit, quantity, fahrenheit)}"
