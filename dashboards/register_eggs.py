"""The eggs of a clutch as chips, what can be said of them, and how that is read. Pure."""

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from zoneinfo import ZoneInfo

from daemon.clutches.eggs import REASON_WORDS, STATE_WORDS, Egg, EggEvent, EggState, Reason, course
from daemon.clutches.file import ClutchFile
from dashboards import figures
from dashboards.register_acts import NOW, hidden_of, numbered, take_back_form
from dashboards.register_paths import clutch_path
from dashboards.register_reading import Reads
from dashboards.setup_forms import Field, FormView, Typed, filled

SAY, SEVERAL, MARK, MARKS, OTHER_EGG = "say", "several", "mark", "marks", "other-egg"
MARKS_AT_ONCE = 100
SURE = "sure"
_DAY_MS = 86_400_000
_SPAN = re.compile(r"(\d)\s*-\s*(\d)")
_STATES = tuple((each.value, STATE_WORDS[each]) for each in EggState)
_REASONS = (("", "none"), *((each.value, REASON_WORDS[each]) for each in Reason))
_SHAPES = {
    EggState.SOUND: "egg",
    EggState.WATCH: "caution",
    EggState.REMOVED: "gone",
    EggState.PIPPED: "pipped",
    EggState.HATCHED: "hatched",
    EggState.GIVEN_AWAY: "away",
}
"""What is drawn for each state; each shape once in `egg_shapes.html`, or with those of all pages."""


@dataclass(frozen=True, slots=True)
class Chip:
    """One egg: what it is called, what it is, and since when."""

    number: int
    name: str
    path: str
    state: str
    words: str
    shape: str
    since: str


@dataclass(frozen=True, slots=True)
class Told:
    """One thing that was said of an egg; `forms` take it back."""

    number: int
    when: str
    words: str
    who: str
    note: str
    withdrawn: bool
    forms: tuple[FormView, ...]


@dataclass(frozen=True, slots=True)
class Saying:
    """What is said of eggs. `which` are names, or how many they are; `at_ms` is None for now."""

    state: str
    which: tuple[str, ...] | int
    note: str
    at_ms: int | None


def chip(egg: Egg, clutch_id: int, zone: ZoneInfo) -> Chip:
    """Give the chip of an egg."""
    since = "" if egg.since_ms is None else figures.date_text(figures.local(egg.since_ms, zone))
    shape = "gap" if egg.stated.is_left else _SHAPES[egg.stated.state]
    path = clutch_path(clutch_id, f"eggs/{egg.number}")
    return Chip(egg.number, egg.name, path, egg.stated.state.value, egg.stated.words, shape, since)


def say_form(clutch_id: int, egg: Egg, mark: int, typed: Typed | None) -> FormView:
    """Say what one egg is."""
    path = clutch_path(clutch_id, f"eggs/{egg.number}")
    told = f"It is {egg.stated.words} now."
    form = FormView(SAY, path, "What is it?", "Keep it", told, _saying_fields(), hidden=hidden_of(mark))
    return filled(with_question(form, typed), typed)


def several_form(clutch_id: int, mark: int, typed: Typed | None) -> FormView:
    """Say what several eggs are, by their names or by how many they are."""
    told = (
        "Where only their number is told, eggs without a mark on the shell are taken, sound ones first and the highest "
        "numbers first. Which they were can be said later, at the page of each."
    )
    fields = (
        Field("which", "Which eggs?", hint="Marks or numbers with commas between: 1, 3-5. Or say below how many."),
        Field("count", "Or how many?", "count"),
        *_saying_fields(),
    )
    path = clutch_path(clutch_id, "eggs")
    form = FormView(SEVERAL, path, "Say it of several at once", "Keep it", told, fields, hidden=hidden_of(mark))
    return filled(with_question(form, typed), typed)


def _saying_fields() -> tuple[Field, ...]:
    return (
        Field("state", "State", "chips", options=_STATES, required=True),
        Field("reason", "Reason, where it is removed or lost", "select", options=_REASONS),
        Field("at", "When?", "moment", hint=NOW),
        Field("note", "Note", hint="Needed for the reason “other”."),
    )


def saying_of(wanted: str, fields: Mapping[str, str], egg: Egg | None, zone: ZoneInfo) -> Saying | Typed:
    """Read what is said of one egg, or of several where none is given."""
    read = Reads(fields)
    state = read.choice("state", _STATES, "Choose what it is.")
    reason = read.choice("reason", _REASONS)
    if state == EggState.REMOVED and not reason:
        read.wrong("reason", "Say why it is removed.")
    if state and state != EggState.REMOVED and reason:
        read.wrong("reason", f"A reason belongs to “{STATE_WORDS[EggState.REMOVED]}” alone; choose none.")
    which: tuple[str, ...] | int = (str(egg.number),) if egg is not None else _which(read)
    at_ms, note = read.moment("at", zone), read.text("note")
    if read.errors:
        return Typed(wanted, fields, read.errors)
    return Saying(f"{state}:{reason}" if reason else state, which, note, at_ms)


def _which(read: Reads) -> tuple[str, ...] | int:
    text, count = read.text("which"), read.whole("count")
    words = _SPAN.sub(r"\1-\2", text.replace("\N{EN DASH}", "-")).replace(";", ",").replace(",", " ").split()
    names = tuple(name for word in words for name in _each_of(word))
    if names and count is not None:
        read.wrong("count", "Say which, or how many: not both.")
    if not names and count is None:
        read.wrong("which", "Say which eggs, or how many.")
    return names or count or 0


def _each_of(word: str) -> tuple[str, ...]:
    """Give the eggs of a span such as 2-4; a mark on a shell has no sign in it that could be taken for one."""
    first, dash, last = word.partition("-")
    if not (dash and first.isascii() and last.isascii() and first.isdigit() and last.isdigit()):
        return (word,)
    span = range(int(first[:4]), int(last[:4]) + 1)
    return tuple(map(str, span)) if 0 < len(span) <= MARKS_AT_ONCE else (word,)


def ask_of_early(fields: Mapping[str, str], state: str, at_ms: int, earliest_ms: int | None) -> str:
    """Ask whether an egg has hatched before any egg of its species can; empty where there is nothing to ask.

    One tap on the wrong state would end the watch over an egg that goes on developing.
    """
    if state != EggState.HATCHED or earliest_ms is None or at_ms >= earliest_ms or fields.get(SURE) == "yes":
        return ""
    days = math.ceil((earliest_ms - at_ms) / _DAY_MS)
    return (
        f"That is {days} day{'s' * (days != 1)} before the earliest that its species can hatch, by its profile. "
        "Tick this if it is so; else choose another state."
    )


def with_question(form: FormView, typed: Typed | None) -> FormView:
    """Add the question of `ask_of_early` to the form that was asked."""
    if typed is None or typed.wanted != form.wanted or SURE not in {*typed.errors, *typed.fields}:
        return form
    return replace(form, fields=(*form.fields, Field(SURE, "Yes, it has hatched", "check")))


def mark_form(clutch_id: int, egg: Egg, mark: int, typed: Typed | None) -> FormView:
    """Say what stands on the shell of one egg."""
    path, hint = clutch_path(clutch_id, f"eggs/{egg.number}"), "Letters or digits without blanks. Empty: none."
    fields = (Field("mark_on_shell", "Mark on the shell", value=egg.mark, hint=hint),)
    form = FormView(MARK, path, "Mark on the shell", "Save the mark", "", fields, hidden=hidden_of(mark))
    return filled(form, typed)


def marks_form(found: ClutchFile, start: int, mark: int, typed: Typed | None) -> FormView:
    """Say what stands on the shells of up to a hundred eggs, from this number on."""
    eggs = found.eggs[start - 1 : start - 1 + MARKS_AT_ONCE]
    fields = tuple(Field(f"mark-{egg.number}", f"Egg {egg.number}", value=egg.mark) for egg in eggs)
    path = clutch_path(found.clutch.clutch_id, "marks") + (f"?first={start}" if start > 1 else "")
    told = "An egg that has a mark is called by it. Do not turn eggs to mark them (common practice, no source)."
    form = FormView(MARKS, path, "Marks on the shells", "Save the marks", told, fields, hidden=hidden_of(mark))
    return filled(form, typed)


def marks_of(fields: Mapping[str, str], found: ClutchFile) -> dict[str, str]:
    """Read the marks that were changed, by the number of the egg."""
    marks = {str(egg.number): egg.mark for egg in found.eggs}
    sent = {name.removeprefix("mark-"): text.strip() for name, text in fields.items() if name.startswith("mark-")}
    return {number: text for number, text in sent.items() if number in marks and text != marks[number]}


def course_of(found: ClutchFile, egg: Egg, mark: int, zone: ZoneInfo, typed: Typed | None) -> tuple[Told, ...]:
    """Give all that was said of an egg, the newest first; what was taken back is told as that."""
    events = [each for each in found.events if each.egg == egg.number]
    standing = {each.number for each in course(events, egg.number)}
    return tuple(
        _told(found, egg, each, each.number in standing and found.clutch.is_open, mark, zone, typed)
        for each in reversed(events)
    )


def _told(
    found: ClutchFile, egg: Egg, event: EggEvent, may_change: bool, mark: int, zone: ZoneInfo, typed: Typed | None
) -> Told:
    forms: list[FormView] = []
    if may_change:
        forms.append(take_back_form(found.clutch, f"eggs/{egg.number}", event.number, mark, typed))
        others = tuple((str(each.number), each.name) for each in found.eggs if each.number != egg.number)
        if others:
            forms.append(_other_egg_form(found, egg, event, others, mark, typed))
    when = figures.moment_text(figures.local(event.at_ms, zone))
    by_count = " (only how many was said; this egg was taken for it)" if event.by_count else ""
    words, note = f"{event.stated.words}{by_count}", event.stated.note
    return Told(event.number, when, words, event.who, note, event.withdrawn, tuple(forms))


def _other_egg_form(
    found: ClutchFile, egg: Egg, event: EggEvent, others: tuple[tuple[str, str], ...], mark: int, typed: Typed | None
) -> FormView:
    fields = (Field("which", "Which egg was it?", "select", options=(("", "choose"), *others)),)
    path = clutch_path(found.clutch.clutch_id, f"eggs/{egg.number}")
    hidden = (*hidden_of(mark), ("number", str(event.number)))
    wanted = numbered(OTHER_EGG, event.number)
    told = "Taken back here, and said of that egg with the same date."
    form = FormView(wanted, path, "It was another egg", "Say it of that one", told, fields, hidden=hidden)
    return filled(form, typed)
