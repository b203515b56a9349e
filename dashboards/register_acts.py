"""The forms of one clutch: move, swap, note, size, close, open again, withdraw; and how they are read. Pure."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from daemon.clutches.closing import Closing
from daemon.clutches.eggs import REASON_WORDS, EggCounts, EggState, Reason, Stated
from daemon.clutches.measures import NewMeasure
from daemon.clutches.values import Clutch
from dashboards.register_paths import clutch_path
from dashboards.register_reading import Reads
from dashboards.setup_forms import Field, FormView, Typed, filled

MOVE, SWAP, NOTE, CORRECT, SIZE, TAKE_BACK = "move", "swap", "note", "correct", "size", "take-back"
CLOSE, REOPEN, WITHDRAW = "close", "reopen", "withdraw"
NOW = "Empty: now. It may lie in the past."
_NOT_TOLD = "not told when it was closed"
_WHY = Field("why", "Why?", hint="Kept with the change.")
_REST = (
    ("", "nothing is left over"),
    ("hatched", "hatched"),
    ("given-away", "given away"),
    *((f"removed:{each.value}", f"lost: {REASON_WORDS[each]}") for each in Reason),
)


@dataclass(frozen=True, slots=True)
class Moving:
    """Where a clutch goes, since when (None for now), and why."""

    place: str
    at_ms: int | None
    why: str


def hidden_of(mark: int) -> tuple[tuple[str, str], ...]:
    """The mark of the clutch that a form was made from."""
    return (("mark", str(mark)),)


def move_form(clutch: Clutch, mark: int, typed: Typed | None) -> FormView:
    """Put a clutch somewhere else."""
    fields = (
        Field("place", "Where to?", "boxes", hint="Boxes that hold a clutch cannot be chosen: let the two swap."),
        Field("at", "Since when?", "moment", hint=NOW),
        _WHY,
    )
    told = "From that moment on heat is counted by the probe that is named at its new place, and all dates anew."
    action = clutch_path(clutch.clutch_id, "move")
    return filled(FormView(MOVE, action, "Move it", "Move it", told, fields, hidden=hidden_of(mark)), typed)


def swap_form(clutch: Clutch, others: Iterable[tuple[str, str]], mark: int, typed: Typed | None) -> FormView:
    """Let it change places with another clutch; `others` are numbers and names."""
    fields = (
        Field("other", "With which clutch?", "select", options=(("", "choose"), *others)),
        Field("at", "Since when?", "moment", hint=NOW),
        _WHY,
    )
    told = "Heat of both is counted where each lies from then on."
    action = clutch_path(clutch.clutch_id, "move")
    return filled(FormView(SWAP, action, "Swap boxes", "Let them swap", told, fields, hidden=hidden_of(mark)), typed)


def moving_of(fields: Mapping[str, str], places: Iterable[str], zone: ZoneInfo) -> Moving | Typed:
    """Read where a clutch goes."""
    read, place = Reads(fields), fields.get("place", "")
    if place not in set(places):
        read.wrong("place", "Choose where it goes." if not place else f"There is no place {place[:80]} any more.")
    found = Moving(place, read.moment("at", zone), read.text("why"))
    return Typed(MOVE, fields, read.errors) if read.errors else found


def swapping_of(
    fields: Mapping[str, str], others: Iterable[tuple[str, str]], zone: ZoneInfo
) -> tuple[int, Moving] | Typed:
    """Read with which clutch it swaps; gives the number of that."""
    read = Reads(fields)
    other = read.choice("other", others, "Choose the other clutch.")
    found = Moving("", read.moment("at", zone), read.text("why"))
    return Typed(SWAP, fields, read.errors) if read.errors else (int(other), found)


def note_form(clutch: Clutch, mark: int, typed: Typed | None) -> FormView:
    """Write a note."""
    fields = (Field("text", "What was seen or done?", "long", required=True), Field("at", "When?", "moment", hint=NOW))
    action = clutch_path(clutch.clutch_id, "notes")
    return filled(FormView(NOTE, action, "Write a note", "Keep this note", "", fields, hidden=hidden_of(mark)), typed)


def size_form(clutch: Clutch, eggs: Iterable[tuple[str, str]], mark: int, typed: Typed | None) -> FormView:
    """Write down a size."""
    fields = (
        Field("mass_g", "Mass, g", "number", hint="Of all the eggs on the scales together."),
        Field("eggs", "How many lay on the scales?", "count", "1"),
        Field("length_mm", "Length of one egg, or their mean, mm", "number"),
        Field("egg", "Which egg?", "select", options=(("", "several, or any"), *eggs)),
        Field("at", "When?", "moment", hint=NOW),
        Field("note", "Note"),
    )
    told = "Do not turn an egg for it: one that is stuck to others stays (common practice, no source)."
    action = clutch_path(clutch.clutch_id, "sizes")
    form = FormView(SIZE, action, "Write down a size", "Keep this size", told, fields, hidden=hidden_of(mark))
    return filled(form, typed)


def size_of(fields: Mapping[str, str], zone: ZoneInfo, now_ms: int) -> tuple[NewMeasure, str] | Typed:
    """Read a size, and the name of the egg; empty for none."""
    read = Reads(fields)
    mass_g, length_mm, count = read.number("mass_g"), read.number("length_mm"), read.whole("eggs")
    at_ms, note = read.moment("at", zone), read.text("note")
    if read.errors:
        return Typed(SIZE, fields, read.errors)
    when_ms = now_ms if at_ms is None else at_ms
    return NewMeasure(when_ms, mass_g, length_mm, 1 if count is None else count, None, note), fields.get("egg", "")


def close_form(clutch: Clutch, counts: EggCounts, mark: int, typed: Typed | None) -> FormView:
    """End a clutch: what is on record of its eggs is filled in, and the rest is asked for."""
    rest = f"{counts.open} eggs are not accounted for yet." if counts.open else "All eggs are accounted for."
    fields = (
        Field("hatched", "Hatched, in all", "count", str(counts.hatched)),
        Field("lost", "Lost, in all", "count", str(counts.lost), hint="Removed, or dead and left in place."),
        Field("given_away", "Given away, in all", "count", str(counts.given_away)),
        Field("rest", "What became of all the others?", "select", options=_REST, hint=rest),
        Field("note", "Why lost?", hint="Needed where the others are lost for another reason than those listed."),
        Field("at", "When did it end?", "moment", hint=NOW),
        _WHY,
    )
    told = "Its box is free from then on. The clutch stays on record."
    action = clutch_path(clutch.clutch_id, "close")
    heading = f"Close {clutch.label}"
    return filled(FormView(CLOSE, action, heading, "Close it", told, fields, hidden=hidden_of(mark)), typed)


def closing_of(fields: Mapping[str, str], zone: ZoneInfo, now_ms: int) -> Closing | Typed:
    """Read how a clutch ended."""
    read = Reads(fields)
    hatched, lost, given_away = (read.whole(name) for name in ("hatched", "lost", "given_away"))
    rest, why, note = read.choice("rest", _REST), read.text("why"), read.text("note")
    at_ms = read.moment("at", zone)
    if read.errors:
        return Typed(CLOSE, fields, read.errors)
    return Closing(now_ms if at_ms is None else at_ms, hatched, lost, given_away, _rest(rest, note or why), why)


def _rest(text: str, note: str) -> Stated | None:
    if not text:
        return None
    state, _, reason = text.partition(":")
    return Stated(EggState(state), Reason(reason) if reason else None, note or _NOT_TOLD)


def reopen_form(clutch: Clutch, mark: int, typed: Typed | None) -> FormView:
    """Take back a closing or a withdrawal."""
    if clutch.withdrawn_at_ms is not None:
        heading, told = "Take the withdrawal back", "Its box and its label have to be free for all of its time."
    else:
        heading = "Open it again"
        told = "What closing said of its eggs is taken back with it. Its box and its label have to be free."
    fields = (Field("why", "Why?", required=True),)
    action = clutch_path(clutch.clutch_id, "reopen")
    return filled(FormView(REOPEN, action, heading, heading, told, fields, hidden=hidden_of(mark)), typed)


def withdraw_form(clutch: Clutch, mark: int, typed: Typed | None) -> FormView:
    """Say that a clutch was entered by mistake."""
    told = (
        "For a clutch that never was. It stays on record and frees its box and label for all the time it was entered "
        "for; heat is not counted for it any more. A clutch that ended is closed instead."
    )
    fields = (
        Field("sure", f"Yes, {clutch.label} was entered by mistake", "check"),
        Field("why", "Why?", value="was entered by mistake"),
    )
    action = clutch_path(clutch.clutch_id, "withdraw")
    form = FormView(WITHDRAW, action, "Withdraw it", "Withdraw it", told, fields, hidden=hidden_of(mark))
    return filled(form, typed)


def sure_of(fields: Mapping[str, str], told: str) -> str | Typed:
    """Read whether somebody is sure; gives why."""
    read = Reads(fields)
    why = read.text("why")
    if not read.ticked("sure"):
        read.wrong("sure", told)
    return Typed(WITHDRAW, fields, read.errors) if read.errors else why


def numbered(wanted: str, number: int) -> str:
    """Name a form that there is one of for each note, size or event."""
    return f"{wanted}-{number}"


def correct_form(clutch: Clutch, number: int, text: str, at: str, mark: int, typed: Typed | None) -> FormView:
    """Correct a note, or take it back by emptying it."""
    fields = (
        Field("text", "The note", "long", text, hint="Emptied: it is taken back. What stood there stays on record."),
        Field("at", "When?", "moment", at),
    )
    action = clutch_path(clutch.clutch_id, "notes")
    hidden = (*hidden_of(mark), ("number", str(number)))
    return filled(FormView(numbered(CORRECT, number), action, "Correct it", "Save", "", fields, hidden=hidden), typed)


def take_back_form(clutch: Clutch, what: str, number: int, mark: int, typed: Typed | None) -> FormView:
    """Take back a size or what was said of an egg; `what` is the last part of the page's address."""
    action = clutch_path(clutch.clutch_id, what)
    hidden = (*hidden_of(mark), ("number", str(number)))
    told = "It stays on record as taken back."
    wanted, fields = numbered(TAKE_BACK, number), (Field("why", "Why?"),)
    return filled(FormView(wanted, action, "Take it back", "Take it back", told, fields, hidden=hidden), typed)
