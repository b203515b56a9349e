"""What a keeper writes about an incident: the fields, what was written before, and what is wrong. Pure."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from daemon.review.account import KeeperNote
from daemon.storage.incidents import LONGEST_NOTE, NOTE_FIELDS

SEEN_FIELD = "seen"
_LABELS = {
    "cause": (
        "Cause, as you found it",
        "What was it, and how do you know? What the journal shows stands above.",
    ),
    "action": ("What was done", "By whom, when: boxes, heater, breaker, calls."),
    "outcome": ("What came of it", "Eggs, probes, heater, as they are now. With this the review counts as done."),
    "prevention": (
        "What prevents it next time",
        "A cut-out, a battery, a second number: what, by whom, until when.",
    ),
}


@dataclass(frozen=True, slots=True)
class Written:
    """A text, by whom and when."""

    text: str
    by: str


@dataclass(frozen=True, slots=True)
class NoteField:
    """One of the four. `value` stands in the field; `newest` counts, `older` stay readable, the newest first."""

    name: str
    label: str
    hint: str
    value: str
    error: str
    newest: Written | None
    older: tuple[Written, ...]


@dataclass(frozen=True, slots=True)
class TypedNotes:
    """What was sent and refused, as it was typed, with what is wrong with each."""

    fields: Mapping[str, str]
    errors: Mapping[str, str]


def note_fields(notes: Sequence[KeeperNote], typed: TypedNotes | None = None) -> tuple[NoteField, ...]:
    """Give the four fields, filled with what was written last, or with what was typed."""
    return tuple(_field(name, [each for each in notes if each.field == name], typed) for name in NOTE_FIELDS)


def _field(name: str, notes: Sequence[KeeperNote], typed: TypedNotes | None) -> NoteField:
    label, hint = _LABELS[name]
    written = [Written(each.text, f"{each.who}, {each.at_text}") for each in reversed(notes)]
    kept = written[0].text if written else ""
    return NoteField(
        name=name,
        label=label,
        hint=hint,
        value=kept if typed is None else typed.fields.get(name, kept),
        error="" if typed is None else typed.errors.get(name, ""),
        newest=written[0] if written else None,
        older=tuple(written[1:]),
    )


def wishes_of(form: Mapping[str, str], notes: Sequence[KeeperNote]) -> dict[str, str] | TypedNotes:
    """Give what is to be written, by field; nothing where all stands there already.

    `seen` in the form is how many notes there were when the page was made: what somebody else has written since then
    is shown before something is written over it.
    """
    seen = form.get(SEEN_FIELD, "")
    known = notes[: int(seen)] if seen.isascii() and seen.isdecimal() and len(seen) < 10 else notes  # noqa: PLR2004
    wanted, errors = {}, {}
    for name in NOTE_FIELDS:
        text, shown, now = _plain(form.get(name, "")), _last(known, name), _last(notes, name)
        if text in (shown, now):
            continue
        if not text:
            errors[name] = "What was written stays on record. Write what is true now instead."
        elif len(text) > LONGEST_NOTE:
            errors[name] = f"This is {len(text)} letters long; at most {LONGEST_NOTE} fit."
        elif shown != now:
            errors[name] = "Somebody has written here meanwhile; it stands above. Look, and save again if yours counts."
        wanted[name] = text
    if errors:
        return TypedNotes(form, errors)
    return wanted


def _plain(text: str) -> str:
    """A browser sends each line end as two characters."""
    return text.replace("\r\n", "\n").strip()


def _last(notes: Sequence[KeeperNote], name: str) -> str:
    return next((each.text for each in reversed(notes) if each.field == name), "")
