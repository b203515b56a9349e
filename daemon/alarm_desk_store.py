"""What the alarm desk remembers as rows of text, and back. Pure.

What cannot be read leads to a call and not to silence. An alarm whose state cannot be read is on, and nobody has
acknowledged it; what is lost altogether is found again by `daemon/desk_reconcile`.
"""

import json
import math
from collections.abc import Collection, Mapping
from dataclasses import astuple
from typing import Any

from config.words import AlarmKind, Quantity
from daemon.alarm_desk import Desk
from daemon.alarm_desk_values import Entry
from daemon.alarm_transition import Transition
from daemon.alarms import incident_store, ladder, state_store
from daemon.alarms.conditions import Change
from daemon.alarms.incident import IncidentBook, leave
from daemon.alarms.people import Rota
from daemon.alarms.state_json import INTEGER, NUMBER_OR_NONE, TEXT, StateError
from daemon.alarms.state_values import AlarmMemory, AlarmState
from sensors.reading import ChannelKey

_ALARM, _LADDER, _BOOK = "alarm ", "ladder ", "incidents"
_RAISED: Mapping[str, tuple[type, ...]] = {
    **dict.fromkeys(("place", "occurrence", "reason"), TEXT),
    **dict.fromkeys(("at_ms", "since_ms"), INTEGER),
    **dict.fromkeys(("value", "limit", "peak"), NUMBER_OR_NONE),
}
_UNREADABLE = (StateError, ValueError, KeyError, TypeError, AttributeError)


def to_rows(desk: Desk) -> dict[str, str]:
    """Give all of it, by name."""
    rows = {f"{_ALARM}{key}": _entry_text(entry) for key, entry in desk.entries.items()}
    rows |= {f"{_LADDER}{name}": ladder.to_json(each) for name, each in desk.ladders.items()}
    return {**rows, _BOOK: incident_store.to_json(desk.book)}


def from_rows(rows: Mapping[str, str], rota: Rota, places: Collection[str]) -> tuple[Desk, list[str]]:
    """Give the desk, and a sentence for each row that could not be used.

    `places` are those of the site: an alarm of a place that is gone from the site file is over.
    """
    entries: dict[str, Entry] = {}
    ladders: dict[str, ladder.LadderState] = {}
    problems: list[str] = []
    anew: list[str] = []
    book = IncidentBook()
    for name, text in rows.items():
        try:
            if name == _BOOK:
                book = incident_store.from_json(text)
            elif name.startswith(_ALARM):
                key = name.removeprefix(_ALARM)
                entries[key], problem = _entry(text)
                if problem:
                    problems.append(f"{name}: {problem}")
                    anew.append(key)
            elif name.startswith(_LADDER):
                ladders[name.removeprefix(_LADDER)] = ladder.from_json(text)
        except _UNREADABLE as error:
            problems.append(f"{name}: {error}")
    gone = [key for key, entry in entries.items() if entry.raised.place not in (*places, "")]
    problems += [f"{_ALARM}{key}: the site has no place {entries.pop(key).raised.place!r} any more" for key in gone]
    for key in [key for each in book.incidents for key in each.members if key not in entries or key in anew]:
        book, _ = leave(book, key, {})
    known = {each.id for each in book.incidents}
    return Desk(rota, entries, book, {name: each for name, each in ladders.items() if name in known}), problems


def _entry_text(entry: Entry) -> str:
    raised = entry.raised
    told = {
        "kind": raised.kind,
        "channel": None if raised.channel is None else astuple(raised.channel),
        "subject": raised.subject,
        "about": raised.about,
        "place": raised.place,
        "at_ms": raised.at_ms,
        "since_ms": raised.since_ms,
        "value": raised.value,
        "limit": raised.limit,
        "peak": raised.peak,
        "occurrence": raised.occurrence,
        "reason": raised.reason,
    }
    return json.dumps({"state": state_store.to_json(entry.state), "raised": told}, separators=(",", ":"))


def _entry(text: str) -> tuple[Entry, str]:
    """Give the alarm, and what was wrong with its state where that could not be read."""
    found: dict[str, Any] = json.loads(text)
    raised = _raised(found["raised"])
    try:
        return Entry(state_store.from_json(found["state"]), raised), ""
    except _UNREADABLE as error:
        on = AlarmState(
            AlarmMemory.UNACKNOWLEDGED, True, True, occurrence=raised.occurrence, version=1, since_ms=raised.since_ms
        )
        return Entry(on, raised), str(error)


def _raised(raised: dict[str, Any]) -> Transition:
    for name, types in _RAISED.items():
        if type(raised[name]) not in types or (isinstance(raised[name], float) and not math.isfinite(raised[name])):
            raise StateError("what raised an alarm", f"{name} is {raised[name]!r}")
    return Transition(
        kind=AlarmKind(raised["kind"]),
        channel=_channel(raised["channel"]),
        place=raised["place"],
        change=Change.RAISED,
        at_ms=raised["at_ms"],
        since_ms=raised["since_ms"],
        value=raised["value"],
        limit=raised["limit"],
        peak=raised["peak"],
        occurrence=raised["occurrence"],
        told=True,
        still=(),
        reason=raised["reason"],
        # Before there were alarms of anything else, all were about channels.
        subject=raised["subject"] if "subject" in raised else raised["channel"][0],
        about=raised.get("about", ""),
    )


def _channel(stored: list[str] | None) -> ChannelKey | None:
    if stored is None:
        return None
    channel, probe, name, quantity = stored
    return ChannelKey(channel, probe, name, Quantity(quantity))
