"""What the alarm desk remembers as rows of text, and back. Pure.

An alarm that cannot be read starts anew, and says so: a guess could drop one that somebody was called for.
"""

import json
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
from daemon.alarms.state_json import StateError
from sensors.reading import ChannelKey

_ALARM, _LADDER, _BOOK = "alarm ", "ladder ", "incidents"


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
    book = IncidentBook()
    for name, text in rows.items():
        try:
            if name == _BOOK:
                book = incident_store.from_json(text)
            elif name.startswith(_ALARM):
                entries[name.removeprefix(_ALARM)] = _entry(text)
            elif name.startswith(_LADDER):
                ladders[name.removeprefix(_LADDER)] = ladder.from_json(text)
        except (StateError, ValueError, KeyError, TypeError) as error:
            problems.append(f"{name}: {error}")
    gone = [key for key, entry in entries.items() if entry.raised.place not in (*places, "")]
    problems += [f"{_ALARM}{key}: the site has no place {entries.pop(key).raised.place!r} any more" for key in gone]
    for key in [key for incident in book.incidents for key in incident.members if key not in entries]:
        book, ended = leave(book, key, {})
        ladders.pop(ended, None)
    return Desk(rota, entries, book, ladders), problems


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


def _entry(text: str) -> Entry:
    found: dict[str, Any] = json.loads(text)
    raised = found["raised"]
    return Entry(
        state_store.from_json(found["state"]),
        Transition(
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
        ),
    )


def _channel(stored: list[str] | None) -> ChannelKey | None:
    if stored is None:
        return None
    channel, probe, name, quantity = stored
    return ChannelKey(channel, probe, name, Quantity(quantity))
