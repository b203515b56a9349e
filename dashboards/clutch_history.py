"""The change log of a clutch and what happened to it, as people read it. Pure."""

import json
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

from daemon.clutch_record_values import ClutchEvent
from daemon.storage.clutch_history import Change
from dashboards import figures
from dashboards.figures import NBSP
from dashboards.standing import Mark, Shape, Tone

_WHAT = {
    "add": "Entered",
    "move": "Moved",
    "close": "Closed",
    "edit": "Corrected",
    "reopen": "Opened again",
    "withdraw": "Withdrawn",
    "eggs": "Eggs",
    "eggs-withdrawn": "Said of an egg, taken back",
    "eggs-named": "It was another egg",
    "egg-marked": "Mark on a shell",
    "note": "Note",
    "measure": "Size",
    "measure-withdrawn": "Size taken back",
}
_LEFT_OUT = frozenset({"event", "events", "egg_events"})
"""Numbers of rows, which say nothing to people."""
_MOST_TOLD = 12
"""Of more eggs than this it is not listed what each was before; its own page says it."""
_NAMES = {
    "label": "label",
    "species_id": "species",
    "population": "population",
    "laid_from_ms": "laid from",
    "laid_to_ms": "laid until",
    "egg_count": "eggs",
    "note": "note",
    "place": "place",
    "from_ms": "there from",
    "closed_at_ms": "closed at",
    "before_c": "kept before at",
    "before_u_k": "kept before, ±",
    "set_up_ms": "set up",
    "found_ms": "found",
    "first_mass_g": "mass of one egg, g",
    "first_length_mm": "length of one egg, mm",
    "mass_g": "mass, g",
    "length_mm": "length, mm",
    "at_ms": "when",
    "withdrawn_at_ms": "withdrawn at",
    "eggs": "eggs",
    "protected": "protected",
}
_MARKS = {
    "set-up": Mark(Shape.RING, "set-up", Tone.PLAIN),
    "move": Mark(Shape.RING, "move", Tone.PLAIN),
    "close": Mark(Shape.RING, "closed", Tone.PLAIN),
    "round": Mark(Shape.RING, "round", Tone.PLAIN),
    "found": Mark(Shape.RING, "found", Tone.PLAIN),
    "eggs": Mark(Shape.RING, "eggs", Tone.PLAIN),
    "alarm": Mark(Shape.CAUTION, "alarm", Tone.PLAIN),
}


@dataclass(frozen=True, slots=True)
class EventView:
    """One thing that happened: when, for how long, what, and why (which may be empty)."""

    when: str
    iso: str
    lasted: str
    mark: Mark
    what: str
    why: str


@dataclass(frozen=True, slots=True)
class ChangeView:
    """One entry of the change log. `values` are (name, old, new); an old value may be empty."""

    when: str
    iso: str
    who: str
    what: str
    why: str
    values: tuple[tuple[str, str, str], ...]


def event_view(event: ClutchEvent, zone: ZoneInfo) -> EventView:
    """Say when something was and how long it lasted."""
    at = figures.local(event.at_ms, zone)
    lasted = "goes on" if event.goes_on else ""
    if event.end_ms is not None:
        lasted = f"for {figures.duration(max(0, event.end_ms - event.at_ms) // 1000)}"
    return EventView(figures.moment_text(at), at.isoformat(), lasted, _MARKS[event.kind], event.what, event.why)


def change_view(change: Change, zone: ZoneInfo, *, fahrenheit: bool) -> ChangeView:
    """Say who changed what from what to what."""
    at = figures.local(change.at_ms, zone)
    old, new = _fields(change.old), _fields(change.new)
    if change.what == "eggs":
        # What was before has the names of eggs for its own.
        were = ", ".join(f"{name} {state}" for name, state in old.items()) if len(old) <= _MOST_TOLD else ""
        old, new = {}, {**new, "before": were}
    values = tuple(
        (_NAMES.get(name, name), _value(name, old.get(name), zone, fahrenheit=fahrenheit), told)
        for name in {**new, **old}
        if name not in _LEFT_OUT
        if (told := _value(name, new.get(name), zone, fahrenheit=fahrenheit)) or old.get(name) not in (None, "")
        if old.get(name) != new.get(name)
    )
    what = _WHAT.get(change.what, change.what)
    return ChangeView(figures.moment_text(at), at.isoformat(), change.who, what, change.why, values)


def _fields(text: str) -> dict[str, Any]:
    """What is stored as JSON; a log that cannot be read has nothing to show, and its entry stays."""
    try:
        stored = json.loads(text)
    except ValueError:
        return {}
    return stored if isinstance(stored, dict) else {}


def _value(name: str, value: object, zone: ZoneInfo, *, fahrenheit: bool) -> str:
    if name.endswith("_ms") and isinstance(value, int):
        return figures.moment_text(figures.local(value, zone))
    if name == "before_c" and isinstance(value, int | float):
        return str(figures.temperature(float(value), fahrenheit))
    if name == "before_u_k" and isinstance(value, int | float):
        return str(figures.temperature_difference(float(value), fahrenheit))
    return f"{value}{NBSP}eggs" if name == "egg_count" and value is not None else _plain(value, zone)


def _plain(value: object, zone: ZoneInfo) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return ", ".join(_listed(each, zone) for each in value) if isinstance(value, list) else str(value)


def _listed(value: object, zone: ZoneInfo) -> str:
    """One of several: a word, or a stay of a clutch that was entered with its moves."""
    if isinstance(value, dict) and isinstance(value.get("from_ms"), int):
        return f"{value.get('place', '')} from {figures.moment_text(figures.local(value['from_ms'], zone))}"
    return str(value)
