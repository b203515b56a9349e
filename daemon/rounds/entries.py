"""Pure: what an entry may be, and when it counts. Times are UTC ms."""

import math
import re
from collections.abc import Iterator
from dataclasses import replace

from daemon.clutches.eggs import EggState
from daemon.rounds.values import Clock, Entry, Lid, Medium, Refused, Stop

CLOCK_TOLERANCE_MS = 120_000
"""So far the clock of a phone may be off without a word. Project choice."""
MOST_WATER_ML = 2_000.0
"""More than this is a slip of the keyboard. Project choice."""
LONGEST_REMARK, LONGEST_LINE = 2_000, 200
_UUID = re.compile(r"[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}")
_BY_EYE = frozenset({EggState.SOUND, EggState.WATCH, EggState.PIPPED, EggState.HATCHED})
_LONGEST_DEVICE = 64


def is_uuid(text: str) -> bool:
    """Tell whether this is a UUID as RFC 9562 writes one, in small letters."""
    return _UUID.fullmatch(text) is not None


def stated(entry: Entry) -> Entry:
    """Give an entry with what `all_well` states written out."""
    if not entry.all_well:
        return entry
    if entry.through_lid:
        return replace(entry, lid=Lid.DRY)
    return replace(entry, medium=Medium.CLUMPS, lid=Lid.DRY, looked_at_eggs=True)


def refusal(entry: Entry, stop: Stop) -> Refused | None:
    """Say why an entry cannot be what was seen in this box; None where it can."""
    checks = (*_form(entry), *_meaning(entry), *_box(entry, stop), *_venomous(entry, stop))
    return next(iter(checks), None)


def moment_of(made_ms: int | None, started_ms: int, received_ms: int, ended_ms: int | None = None) -> tuple[int, Clock]:
    """Give when an entry counts, and what was wrong with the clock that it was made by.

    A moment to come, or one before the round began, cannot be: then it counts from when it was received. What is off by
    no more than CLOCK_TOLERANCE_MS is pulled to the end that it passed without a word. What comes after the end of the
    round is about the boxes as they were in it, and counts from its end at the latest.
    """
    at_ms, clock = _moment_of(made_ms, started_ms, received_ms)
    return (at_ms if ended_ms is None else min(at_ms, ended_ms)), clock


def _moment_of(made_ms: int | None, started_ms: int, received_ms: int) -> tuple[int, Clock]:
    if made_ms is None:
        return received_ms, Clock.FITS
    if made_ms > received_ms:
        return received_ms, Clock.FITS if made_ms <= received_ms + CLOCK_TOLERANCE_MS else Clock.AHEAD
    if made_ms < started_ms:
        if made_ms >= started_ms - CLOCK_TOLERANCE_MS:
            return min(started_ms, received_ms), Clock.FITS
        return received_ms, Clock.BEFORE_THE_ROUND
    return made_ms, Clock.FITS


CLOCK_SENTENCES = {
    Clock.AHEAD: "The clock of this phone is ahead, so this counts from when it arrived, or from the end of the round. "
    "Set the clock.",
    Clock.BEFORE_THE_ROUND: "By the clock of this phone this was made before the round began, so it counts from when "
    "it arrived, or from the end of the round. Set the clock.",
}


def _form(entry: Entry) -> Iterator[Refused]:
    if not is_uuid(entry.entry_id):
        yield Refused("this entry has no id by which a repeat is known", "Load the page again.", "entry_id")
    if entry.corrects and not is_uuid(entry.corrects):
        yield Refused("the entry that this one corrects is not named by its id", "Load the page again.", "corrects")
    if not entry.who.strip():
        yield Refused("nobody is named for this entry", "Say who looked.", "who")
    if len(entry.device) > _LONGEST_DEVICE:
        yield Refused("the name of this device is too long", "Load the page again.", "device")
    for field, text, longest in (
        ("remark", entry.remark, LONGEST_REMARK),
        ("treated", entry.treated, LONGEST_LINE),
        ("skipped", entry.skipped, LONGEST_LINE),
        ("who", entry.who, LONGEST_LINE),
    ):
        if len(text) > longest:
            yield Refused(f"this has {len(text)} letters, more than {longest}", "Make it shorter.", field)


def _meaning(entry: Entry) -> Iterator[Refused]:
    water_ml = entry.water_ml
    if water_ml is not None and not (math.isfinite(water_ml) and 0 < water_ml <= MOST_WATER_ML):
        hint = f"Give more than 0 and at most {MOST_WATER_ML:g} ml, or leave it empty."
        yield Refused(f"{water_ml:g} ml of water were not added", hint, "water_ml")
    if entry.water_where is not None and water_ml is None:
        yield Refused("where the water went is said, and not how much", "Give the ml, or say neither.", "water_ml")
    if entry.all_well and (found := _beside_all_well(entry)):
        hint = "Enter what was found without all well: that states that nothing was found."
        yield Refused(f"all well, and yet {found} is stated", hint, "all_well")
    if entry.skipped.strip() and (entry.all_well or says_something(entry)):
        hint = "Enter what was seen, or why the box was left out, not both."
        yield Refused("the box was left out, and yet something was found in it", hint, "skipped")
    if not (entry.skipped.strip() or entry.all_well or says_something(entry) or entry.remark.strip()):
        hint = "Say what was seen, tap all well, or say why the box was left out."
        if not entry.corrects:
            yield Refused("nothing is entered", hint)


def says_something(entry: Entry) -> bool:
    """True where an entry states something of the box beside a remark."""
    return (
        entry.medium is not None
        or entry.lid is not None
        or entry.wiped
        or entry.water_ml is not None
        or entry.looked_at_eggs
        or bool(entry.eggs)
        or bool(entry.treated.strip())
    )


def _beside_all_well(entry: Entry) -> str:
    """Name what does not go with all well; empty where nothing is against it."""
    whole = stated(entry)
    if entry.medium not in (None, whole.medium if not entry.through_lid else None):
        return "the medium"
    if entry.lid not in (None, Lid.DRY):
        return "the lid"
    if entry.eggs:
        return "something of eggs"
    return "a treatment" if entry.treated.strip() else ""


def _box(entry: Entry, stop: Stop) -> Iterator[Refused]:
    if stop.is_empty and (entry.eggs or entry.looked_at_eggs or entry.all_well):
        hint = "Check which box this is; a clutch that lies here must be in the register first."
        yield Refused(f"{stop.name} is empty by the register, so there are no eggs to look at", hint, "eggs")
    for seen in entry.eggs:
        if isinstance(seen.which, int) and seen.which < 1:
            yield Refused(f"{seen.which} eggs are none", "Give a number, at least 1, or which eggs.", "eggs")
        if not isinstance(seen.which, int) and not any(name.strip() for name in seen.which):
            yield Refused("no egg is named", "Say which, by mark or number, or how many.", "eggs")


def _venomous(entry: Entry, stop: Stop) -> Iterator[Refused]:
    """A box of venomous animals is looked at through its lid, by whoever is no trained handler."""
    if not stop.venomous or entry.trained_handler:
        return
    needs_a_hand = (
        ("all_well", entry.all_well and not entry.through_lid),
        ("medium", entry.medium is not None),
        ("wiped", entry.wiped),
        ("water_ml", entry.water_ml is not None),
        ("treated", bool(entry.treated.strip())),
        ("looked_at_eggs", entry.looked_at_eggs and not entry.through_lid),
        ("eggs", any(seen.stated.state not in _BY_EYE for seen in entry.eggs)),
    )
    for field, is_stated in needs_a_hand:
        if is_stated:
            yield Refused(
                f"{stop.label} is venomous: trained handlers only, and this needs a hand in the box",
                "Enter what is seen through the lid. A trained handler who did it says so in this form.",
                field,
            )
