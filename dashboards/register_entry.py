"""The forms for a new clutch and for correcting one, and how they are read. Pure.

Of a correction only fields are read that differ from what the form showed: what is on record is often more exact than
what a form shows of it.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any
from zoneinfo import ZoneInfo

from config.species import SpeciesProfile
from daemon.clutches.values import Clutch, NewClutch
from dashboards import figures
from dashboards.register_paths import NEW_PATH, clutch_path
from dashboards.register_reading import Reads, shown_number
from dashboards.setup_forms import Field, FormView, Typed, filled, moment_value

ENTER, EDIT = "enter", "edit"
WAS = "was-"
"""Begins the hidden field that keeps what the form showed in a field."""
_VENOMOUS = (("", "as the profile of its species says"), ("yes", "yes: trained handlers only"), ("no", "no"))
_VENOMOUS_VALUES = {"": None, "yes": True, "no": False}
_SET_UP_HINT = "Heat counts from then on. Not before it was laid, and not after its first move."
_PLACE_HINT = "A box that holds a clutch cannot be chosen."


@dataclass(frozen=True, slots=True)
class Ground:
    """What the forms need of the site. `species`: what is shown of each profile, by its id."""

    zone: ZoneInfo
    fahrenheit: bool
    species: Mapping[str, str]
    now_ms: int

    @property
    def unit(self) -> str:
        """The unit of temperatures."""
        return "°F" if self.fahrenheit else "°C"


@dataclass(frozen=True, slots=True)
class Correction:
    """What is to be changed of a clutch, and why."""

    changes: Mapping[str, Any] = field(default_factory=lambda: MappingProxyType({}))
    why: str = ""


def species_names(profiles: Iterable[SpeciesProfile]) -> dict[str, str]:
    """Give what is shown of each species, in order: common name, scientific name, and population where it has one."""
    named = {
        each.id: f"{each.common_name} ({each.scientific_name})" + (f", {each.population}" if each.population else "")
        for each in profiles
    }
    return dict(sorted(named.items(), key=lambda pair: pair[1].casefold()))


def new_form(ground: Ground, place: str, typed: Typed | None = None) -> FormView:
    """Give the form for a clutch; with its place chosen already, where one is given."""
    sizes = (
        Field("mass_g", "Mass of one egg, g", "number", hint="Eggs swell: a first size tells later how far they have."),
        Field("length_mm", "Length of one egg, mm", "number"),
    )
    where = Field("place", "Where does it lie?", "boxes", place, hint=_PLACE_HINT, required=True)
    main, more = _fields(ground, None)
    told = "Heat counts from the set-up by probe, and before it from the day of laying as well as it is known."
    form = FormView(
        ENTER, NEW_PATH, "Enter a clutch", "Enter this clutch", told, (*main[:2], where, *main[2:]), (*more, *sizes)
    )
    return filled(form, typed)


def edit_form(ground: Ground, clutch: Clutch, mark: int, typed: Typed | None = None) -> FormView:
    """Give the form that corrects a clutch."""
    main, more = _fields(ground, clutch)
    why = Field("why", "Why?", hint="Kept with the change.")
    told = "Change what is wrong. What stood there before stays on record below the clutch."
    shown = ((f"{WAS}{name}", value) for name, value in shown_values(ground, clutch).items())
    action, hidden = clutch_path(clutch.clutch_id, "edit"), (("mark", str(mark)), *shown)
    heading = f"Correct {clutch.label}"
    return filled(FormView(EDIT, action, heading, "Save", told, (*main, why), more, hidden), typed)


def _fields(ground: Ground, clutch: Clutch | None) -> tuple[tuple[Field, ...], tuple[Field, ...]]:
    now = shown_values(ground, clutch)
    empty = "Empty: now." if clutch is None else _SET_UP_HINT
    unit = ground.unit
    main = (
        Field("label", "Label", value=now["label"], hint="What stands on the box.", required=True),
        Field(
            "species",
            "Species",
            "species",
            now["species"],
            hint="Type a part of the common or the scientific name.",
            required=True,
        ),
        Field("egg_count", "Eggs", "count", now["egg_count"], required=True),
        Field("laid_from", "Laid on, or between this day", "date", now["laid_from"], required=True),
        Field("laid_to", "and this day", "date", now["laid_to"], hint="Empty: laid on that one day."),
        Field("set_up", "Set up in the incubator", "moment", now["set_up"], hint=empty),
        Field("found", "Found", "moment", now["found"], hint="May stay empty."),
        Field("dam", "Dam (mother)", value=now["dam"]),
        Field("sire", "Sire (father)", value=now["sire"]),
        Field("note", "Note", "long", now["note"]),
    )
    more = (
        Field("kept_at", f"Kept at before the set-up, {unit}", "number", now["kept_at"], hint="Empty: at the room's."),
        Field("kept_within", f"That may be off by, {unit}", "number", now["kept_within"]),
        Field("population", "Population", value=now["population"]),
        Field("tags", "Tags", value=now["tags"], hint="Short words, with commas between."),
        Field("venomous", "Venomous?", "select", now["venomous"], options=_VENOMOUS),
        Field("protected", "What the law asks of its keeper", "long", now["protected"]),
    )
    return main, more


def shown_values(ground: Ground, clutch: Clutch | None) -> dict[str, str]:
    """Give what a form shows of a clutch; all empty where there is none yet."""
    names = "label species egg_count laid_from laid_to set_up found dam sire note kept_at kept_within population tags"
    if clutch is None:
        return dict.fromkeys((*names.split(), "venomous", "protected"), "")
    zone, factor = ground.zone, 1.8 if ground.fahrenheit else 1.0
    days = [figures.local(each, zone).strftime("%Y-%m-%d") for each in (clutch.laid_from_ms, clutch.laid_to_ms)]
    shift = 32.0 if ground.fahrenheit else 0.0
    return {
        "label": clutch.label,
        "species": ground.species.get(clutch.species_id, clutch.species_id),
        "egg_count": str(clutch.egg_count),
        "laid_from": days[0],
        "laid_to": days[1],
        "set_up": moment_value(clutch.set_up_ms, zone),
        "found": "" if clutch.found_ms is None else moment_value(clutch.found_ms, zone),
        "dam": clutch.dam,
        "sire": clutch.sire,
        "note": clutch.note,
        "kept_at": shown_number(clutch.before_c, factor, shift),
        "kept_within": shown_number(clutch.before_u_k, factor),
        "population": clutch.population or "",
        "tags": ", ".join(clutch.tags),
        "venomous": "" if clutch.venomous is None else "yes" if clutch.venomous else "no",
        "protected": clutch.protected,
    }


def new_clutch_of(ground: Ground, fields: Mapping[str, str], places: Iterable[str]) -> NewClutch | Typed:
    """Read the form for a clutch, or say what is wrong with it."""
    read = Reads(fields)
    found = _values(ground, read)
    missing = {
        "label": "Give it a label: what stands on the box.",
        "species_id": "Choose a species.",
        "egg_count": "Say how many eggs there are.",
        "laid_from_ms": "Say when it was laid, as well as anybody knows.",
    }
    for name, told in missing.items():
        if found.get(name) in (None, ""):
            read.wrong(_FORM_NAMES.get(name, name), told)
    place = fields.get("place", "")
    if place not in set(places):
        read.wrong("place", "Choose where it lies." if not place else f"There is no place {place[:80]} any more.")
    mass_g, length_mm = read.number("mass_g"), read.number("length_mm")
    if read.errors:
        return Typed(ENTER, fields, read.errors)
    if found["laid_to_ms"] is None:
        found["laid_to_ms"] = min(read.day_end("laid_from", ground.zone) or 0, ground.now_ms)
    set_up_ms = found.pop("set_up_ms")
    return NewClutch(
        **found,
        place=place,
        from_ms=ground.now_ms if set_up_ms is None else set_up_ms,
        first_mass_g=mass_g,
        first_length_mm=length_mm,
    )


def brought_up(ground: Ground, clutch: Clutch, fields: Mapping[str, str]) -> tuple[dict[str, str], dict[str, str]]:
    """Bring a form that an older page had up to what is on record now; with what was changed there and here alike.

    What was not typed over is given as it is now, so that a second press does not write back what the old page showed.
    What was typed stays, and what somebody else wrote there meanwhile is told beside it, by the name of the field.
    """
    whole, beside = dict(fields), {}
    for name, now in shown_values(ground, clutch).items():
        typed, was = fields.get(name), fields.get(f"{WAS}{name}")
        if typed is None or was is None or _same(was) == _same(now):
            continue
        if _same(typed) == _same(was):
            whole[name] = now
        elif _same(typed) != _same(now):
            said = f"“{now}”" if now.strip() else "nothing"
            beside[name] = f"Somebody else has changed this meanwhile; now on record: {said}. Saving writes yours."
    return whole, beside


def correction_of(ground: Ground, clutch: Clutch, fields: Mapping[str, str]) -> Correction | Typed:
    """Read what is to be changed of a clutch, or say what is wrong with it."""
    before = shown_values(ground, clutch)
    changed = {name for name in before if name in fields and _same(fields[name]) != _same(before[name])}
    read = Reads({name: fields[name] for name in changed} | {"why": fields.get("why", "")})
    found = _values(ground, read)
    wanted = {_FIELD_NAMES[name]: found[_FIELD_NAMES[name]] for name in changed}
    for name in ("laid_from", "set_up", "egg_count", "species", "label"):
        if name in changed and wanted[_FIELD_NAMES[name]] in (None, ""):
            read.wrong(name, "This cannot be empty.")
    if wanted.get("laid_to_ms", 0) is None:
        wanted["laid_to_ms"] = _end_of_first_day(fields, before, ground)
    why = read.text("why")
    if read.errors:
        return Typed(EDIT, fields, read.errors)
    return Correction(wanted, why)


def _end_of_first_day(fields: Mapping[str, str], before: Mapping[str, str], ground: Ground) -> int:
    """Give the end of the first day of laying: what an emptied last day means."""
    day = fields.get("laid_from", "").strip() or before["laid_from"]
    return min(Reads({"day": day}).day_end("day", ground.zone) or ground.now_ms, ground.now_ms)


_FIELD_NAMES = {
    "label": "label",
    "species": "species_id",
    "egg_count": "egg_count",
    "laid_from": "laid_from_ms",
    "laid_to": "laid_to_ms",
    "set_up": "set_up_ms",
    "found": "found_ms",
    "dam": "dam",
    "sire": "sire",
    "note": "note",
    "kept_at": "before_c",
    "kept_within": "before_u_k",
    "population": "population",
    "tags": "tags",
    "venomous": "venomous",
    "protected": "protected",
}
_FORM_NAMES = {field: name for name, field in _FIELD_NAMES.items()}


def _values(ground: Ground, read: Reads) -> dict[str, Any]:
    """Read every field; one that was not sent is empty."""
    zone = ground.zone
    laid_to_ms = read.day_end("laid_to", zone)
    return {
        "label": read.text("label"),
        "species_id": read.species("species", ground.species),
        "egg_count": read.whole("egg_count"),
        "laid_from_ms": read.moment("laid_from", zone),
        "laid_to_ms": None if laid_to_ms is None else _until_now(read, zone, laid_to_ms, ground.now_ms),
        "set_up_ms": read.moment("set_up", zone),
        "found_ms": read.moment("found", zone),
        "dam": read.text("dam"),
        "sire": read.text("sire"),
        "note": read.long("note"),
        "before_c": read.number("kept_at", read=lambda value: (value - 32) / 1.8 if ground.fahrenheit else value),
        "before_u_k": read.number("kept_within", read=lambda value: value / 1.8 if ground.fahrenheit else value),
        "population": read.text("population") or None,
        "tags": tuple(each for part in read.text("tags").split(",") for each in part.split(";") if each.strip()),
        "venomous": _VENOMOUS_VALUES[read.choice("venomous", _VENOMOUS)],
        "protected": read.long("protected"),
    }


def _until_now(read: Reads, zone: ZoneInfo, end_ms: int, now_ms: int) -> int:
    """Of today no more than what is over; a day to come stays one, and is refused as that."""
    begin_ms = read.moment("laid_to", zone)
    return min(end_ms, now_ms) if begin_ms is not None and begin_ms <= now_ms else end_ms


def _same(text: str) -> str:
    return text.replace("\r\n", "\n").strip()
