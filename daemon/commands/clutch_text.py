"""Pure: a clutch on record as text for a terminal of 80 columns."""

import json
from collections.abc import Iterable, Iterator
from textwrap import wrap
from typing import Any
from zoneinfo import ZoneInfo

from daemon.clutches.eggs import Egg, EggCounts, EggEvent
from daemon.clutches.file import ClutchFile
from daemon.clutches.measures import Measure, Swelling, swelling
from daemon.local_moments import local_text

WIDTH = 80
_LABEL = 15


def counts_text(counts: EggCounts) -> str:
    """Say in a line what the eggs are: `7 sound, 1 on watch, 1 lost`."""
    parts = (
        (counts.sound, "sound"),
        (counts.watch, "on watch"),
        (counts.pipped, "pipped"),
        (counts.hatched, "hatched"),
        (counts.lost, "lost"),
        (counts.given_away, "given away"),
    )
    text = ", ".join(f"{number} {word}" for number, word in parts if number)
    return f"{text} ({counts.left_in_place} of them left in place)" if counts.left_in_place else text


def swelling_text(found: Swelling, zone: ZoneInfo) -> str:
    """Say how far eggs have swollen."""
    ratio = f"{found.ratio:.2f} times the first {found.of}, of {local_text(found.since_ms, zone)}"
    return f"{ratio}. {found.hint}"


FIELD_WORDS = {
    "species_id": "species",
    "laid_from_ms": "laid from",
    "laid_to_ms": "laid until",
    "found_ms": "found",
    "set_up_ms": "set up",
    "from_ms": "since",
    "egg_count": "number of eggs",
    "before_c": "kept at",
    "before_u_k": "kept within",
}
"""What people call a field, where its name in the register is another."""


def value_words(value: Any, field: str, zone: ZoneInfo, fahrenheit: bool) -> str:
    """Word the value of a field for people; moments in the zone of the site, temperatures in its unit."""
    if value is None or value in ("", (), []):
        return "nothing"
    if field == "before_c":
        return f"{value * 1.8 + 32:.1f} °F" if fahrenheit else f"{value:.1f} °C"
    if field == "before_u_k":
        return f"{value * 1.8:.1f} °F" if fahrenheit else f"{value:.1f} °C"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int) and field.endswith("_ms"):
        return local_text(value, zone)
    return ", ".join(map(str, value)) if isinstance(value, (list, tuple)) else str(value)


def file_text(found: ClutchFile, species: str, venomous: bool, zone: ZoneInfo, fahrenheit: bool) -> str:
    """Everything of one clutch; what is dangerous or forbidden first."""
    lines = [*_head(found, species, venomous, zone, fahrenheit), ""]
    lines += ["Eggs", *_item("", counts_text(found.counts)), *_eggs(found.eggs, zone)]
    sections = (
        ("Where it lay", (line for stay in found.clutch.placements for line in _dated(stay.from_ms, stay.place, zone))),
        ("What was said of the eggs (with the number of the event)", _events(found.events, zone)),
        ("Sizes (with their number)", _sizes(found.measures, zone)),
        ("Notes (with their number)", _notes(found, zone)),
        ("Changes", _changes(found, zone, fahrenheit)),
    )
    for title, body in sections:
        if told := list(body):
            lines += ["", title, *told]
    return "\n".join(lines)


def _head(found: ClutchFile, species: str, venomous: bool, zone: ZoneInfo, fahrenheit: bool) -> Iterator[str]:
    clutch = found.clutch
    if venomous:
        yield "VENOMOUS: trained handlers only."
    if clutch.protected:
        yield from _wrapped(f"PROTECTED: {clutch.protected}", "")
    state = "open"
    if clutch.closed_at_ms is not None:
        state = f"closed since {local_text(clutch.closed_at_ms, zone)}"
    if clutch.withdrawn_at_ms is not None:
        state = f"withdrawn {local_text(clutch.withdrawn_at_ms, zone)}, as entered by mistake"
    yield from _wrapped(f"{clutch.label}, number {clutch.clutch_id}, {state}", "")
    laid = f"{local_text(clutch.laid_from_ms, zone)} to {local_text(clutch.laid_to_ms, zone)}"
    shown = [("species", f"{species}, {clutch.population}" if clutch.population else species), ("laid", laid)]
    if clutch.found_ms is not None:
        shown.append(("found", local_text(clutch.found_ms, zone)))
    shown += [("set up", local_text(clutch.set_up_ms, zone)), ("before that", _before(found, fahrenheit))]
    shown += [("dam", clutch.dam), ("sire", clutch.sire), ("tags", ", ".join(clutch.tags)), ("note", clutch.note)]
    for label, text in shown:
        if text:
            yield from _item(label, text)


def _before(found: ClutchFile, fahrenheit: bool) -> str:
    kept_c, within_k = found.clutch.before_c, found.clutch.before_u_k
    if kept_c is None:
        return "as warm as the room"
    text = f"{kept_c * 1.8 + 32:.1f} °F" if fahrenheit else f"{kept_c:.1f} °C"
    if within_k is not None:
        text += f", give or take {within_k * 1.8:.1f} °F" if fahrenheit else f", give or take {within_k:.1f} K"
    return text


def _eggs(eggs: Iterable[Egg], zone: ZoneInfo) -> Iterator[str]:
    for egg in eggs:
        if egg.since_ms is None and not egg.mark:
            continue
        name = f"{egg.number}" + (f" marked {egg.mark}" if egg.mark else "")
        since = f" since {local_text(egg.since_ms, zone)}" if egg.since_ms is not None else ""
        taken = ", taken where nobody said which" if egg.event is not None and egg.event.by_count else ""
        note = f": {egg.stated.note}" if egg.stated.note else ""
        yield from _item(name, f"{egg.stated.words}{since}{taken}{note}")


def _events(events: Iterable[EggEvent], zone: ZoneInfo) -> Iterator[str]:
    for one in events:
        back = " (taken back)" if one.withdrawn else ""
        note = f": {one.stated.note}" if one.stated.note else ""
        yield from _dated(one.at_ms, f"[{one.number}] egg {one.egg} {one.stated.words}, {one.who}{back}{note}", zone)


def _sizes(measures: tuple[Measure, ...], zone: ZoneInfo) -> Iterator[str]:
    for one in measures:
        of = f"egg {one.measured.egg}" if one.measured.egg is not None else "clutch"
        sizes = [] if one.measured.mass_g is None else [f"{one.measured.mass_g:g} g"]
        sizes += [f"{one.measured.eggs} eggs together"] if one.measured.eggs > 1 else []
        sizes += [] if one.measured.length_mm is None else [f"{one.measured.length_mm:g} mm"]
        back = " (taken back)" if one.withdrawn else ""
        note = f": {one.measured.note}" if one.measured.note else ""
        yield from _dated(one.measured.at_ms, f"[{one.number}] {of} {', '.join(sizes)}, {one.who}{back}{note}", zone)
    for egg in dict.fromkeys(one.measured.egg for one in measures):
        how_far = swelling(measures, egg)
        if how_far is not None:
            yield from _item("clutch" if egg is None else f"egg {egg}", swelling_text(how_far, zone))


def _notes(found: ClutchFile, zone: ZoneInfo) -> Iterator[str]:
    for one in found.notes:
        yield from _dated(one.at_ms, f"[{one.number}] {one.text} ({one.who})", zone)


def _changes(found: ClutchFile, zone: ZoneInfo, fahrenheit: bool) -> Iterator[str]:
    for one in found.changes:
        why = f": {one.why}" if one.why else ""
        old = json.loads(one.old)
        was = ", ".join(
            f"{FIELD_WORDS.get(field, field)} {value_words(value, field, zone, fahrenheit)}"
            for field, value in old.items()
        )
        before = f" (was {was})" if was and one.what in ("edit", "move") else ""
        yield from _dated(one.at_ms, f"{one.what}, {one.who}{before}{why}", zone)


def _dated(moment_ms: int, text: str, zone: ZoneInfo) -> Iterator[str]:
    yield from _wrapped(text, f"  {local_text(moment_ms, zone)}  ")


def _item(label: str, text: str) -> Iterator[str]:
    yield from _wrapped(text, f"  {label.ljust(_LABEL)} " if label else "  ")


def _wrapped(text: str, first: str) -> list[str]:
    return wrap(
        " ".join(text.split()), WIDTH, initial_indent=first, subsequent_indent=" " * min(len(first), 20) or ""
    ) or [first.rstrip()]
