"""Pure: what can be said of an egg, given all that was said of it before. Times are UTC ms.

Sound and on watch go back and forth; a pipped egg hatches, dies or is given away; what is removed, hatched or given
away stays so. A dead egg that was left in place may be removed later, for another reason. Who was wrong takes the event
back and enters what is true: taking back never leaves an order of states that could not be.
"""

from collections.abc import Iterable, Sequence

from config.plain import nearest
from daemon.clutches.eggs import Egg, EggEvent, EggState, Reason, Stated, course, state_at
from daemon.clutches.errors import At, RegisterError
from daemon.clutches.values import Clutch

_ENDS = frozenset({EggState.REMOVED, EggState.HATCHED, EggState.GIVEN_AWAY})
_NEXT = {
    EggState.SOUND: frozenset(EggState),
    EggState.WATCH: frozenset(EggState),
    EggState.PIPPED: _ENDS | {EggState.PIPPED},
}
# Which eggs are taken where somebody says how many and not which: those of the first state first.
_TAKEN = {
    EggState.SOUND: (EggState.WATCH,),
    EggState.WATCH: (EggState.SOUND,),
    EggState.REMOVED: (EggState.SOUND, EggState.WATCH, EggState.PIPPED),
    EggState.PIPPED: (EggState.SOUND, EggState.WATCH),
    EggState.HATCHED: (EggState.PIPPED, EggState.SOUND, EggState.WATCH),
    EggState.GIVEN_AWAY: (EggState.SOUND, EggState.WATCH, EggState.PIPPED),
}
_LONGEST_MARK = 12


def follows(before: Stated, after: Stated) -> bool:
    """Tell whether an egg can be this after it was that. Saying once more what it is anyway is possible."""
    if before.is_left:
        return after.state is EggState.REMOVED and not after.is_left
    return after.state in _NEXT.get(before.state, ())


def stated_as(text: str, note: str = "") -> Stated:
    """Read what people type: `watch`, `hatched`, `removed:mould`. Raises RegisterError that says how to write it."""
    word, _, why = text.strip().lower().partition(":")
    if word not in set(EggState):
        raise RegisterError(f"{text.strip()!r} is nothing that an egg can be", nearest(word, EggState), "state")
    state, why = EggState(word), why.strip()
    if why and why not in set(Reason):
        raise RegisterError(f"{why!r} is no reason for a lost egg", nearest(why, Reason), "reason")
    stated = Stated(state, Reason(why) if why else None, note)
    refuse_stated(stated)
    return stated


def refuse_stated(stated: Stated) -> None:
    """Raise RegisterError for a state without the reason that it needs, or with one that it does not."""
    if (stated.state is EggState.REMOVED) != (stated.reason is not None):
        if stated.reason is not None:
            raise RegisterError(f"an egg that is {stated.state} has no reason", "Write it as a note.", "reason")
        raise RegisterError(
            "an egg is removed for a reason", f"Give one of: {', '.join(Reason)}. Example: removed:mould", "reason"
        )
    if stated.reason is Reason.OTHER and not stated.note.strip():
        raise RegisterError(
            "the reason of a removed egg is other, and nothing says what", "Say it in the note.", "note"
        )


def refuse_moment(clutch: Clutch, what: str, at_ms: int, now_ms: int) -> None:
    """Raise RegisterError for a moment to come, or before the clutch was laid."""
    if at_ms > now_ms:
        raise RegisterError(
            (f"{clutch.label}: {what} at ", At(at_ms), " is in the future"),
            "Enter it when it is done; check the clock as well.",
            "at",
        )
    if at_ms < clutch.laid_from_ms:
        raise RegisterError(
            (f"{clutch.label}: {what} at ", At(at_ms), ", before it was laid (", At(clutch.laid_from_ms), ")"),
            "Check the date; if the day of laying is wrong, correct that first.",
            "at",
        )


def refuse_event(
    label: str, events: Sequence[EggEvent], egg: Egg, stated: Stated, at_ms: int, again: bool = False
) -> None:
    """Raise RegisterError where an egg cannot have become this at this moment, by all that stands of it.

    `again`: it may be said to be what it is anyway.
    """
    refuse_stated(stated)
    mine = course(events, egg.number)
    before = state_at(mine, egg.number, at_ms)
    if not again and (before.state, before.reason) == (stated.state, stated.reason):
        raise RegisterError(
            f"egg {egg.name} of {label} is {before.words} already",
            "Nothing to do. What you see goes in a note.",
            "eggs",
        )
    if not follows(before, stated):
        last = [one for one in mine if one.at_ms <= at_ms][-1]
        raise RegisterError(
            (f"egg {egg.name} of {label} cannot be {stated.words}: it is {before.words} since ", At(last.at_ms)),
            f"If that was a mistake, take it back first: event {last.number}.",
            "eggs",
        )
    later = next((one for one in mine if one.at_ms > at_ms), None)
    if later is not None and not follows(stated, later.stated):
        raise RegisterError(
            (
                f"egg {egg.name} of {label} cannot be {stated.words} at ",
                At(at_ms),
                f": it is {later.stated.words} later, at ",
                At(later.at_ms),
            ),
            f"Check the date. If the later one was a mistake, take it back first: event {later.number}.",
            "eggs",
        )


def egg_called(label: str, eggs: Sequence[Egg], name: str) -> Egg:
    """Give the egg with this mark, or this number. Raises RegisterError naming those that there are."""
    wanted = name.strip().casefold()
    for egg in eggs:
        if egg.mark and egg.mark.casefold() == wanted:
            return egg
    if wanted.isascii() and wanted.isdigit() and len(wanted) <= _LONGEST_MARK and 1 <= int(wanted) <= len(eggs):
        return eggs[int(wanted) - 1]
    marks = [egg.mark for egg in eggs if egg.mark]
    known = f"Its eggs have the numbers 1 to {len(eggs)}"
    marked = f", and the marks {', '.join(marks)}." if marks else "."
    raise RegisterError(f"{label} has no egg {name.strip()!r}", known + marked, "eggs")


def chosen(
    label: str, eggs: Sequence[Egg], events: Sequence[EggEvent], stated: Stated, count: int, at_ms: int
) -> list[Egg]:
    """Take so many eggs where nobody said which. Raises RegisterError where there are not as many.

    Eggs with a mark on the shell are taken only where all are meant: whoever marked them can say which. Dead ones that
    were left in place are never taken. Of the others the sound ones come first (to be hatched: the pipped ones), and of
    these the highest numbers. Project choice: numbers of unmarked eggs mean nothing, and so the low ones go on meaning
    the eggs that are still there.
    """
    if count < 1:
        raise RegisterError(f"{count} eggs are none", "Give a number, at least 1.", "count")
    found: list[Egg] = []
    fit = [
        egg
        for egg in eggs
        if state_at(events, egg.number, at_ms).state.is_open and _fits(label, events, egg, stated, at_ms)
    ]
    if count == len(fit):
        return fit
    for state in _TAKEN[stated.state]:
        of_state = [egg for egg in fit if not egg.mark and state_at(events, egg.number, at_ms).state is state]
        found += sorted(of_state, key=lambda egg: -egg.number)
    if len(found) >= count:
        return found[:count]
    marked = [egg.name for egg in fit if egg.mark]
    if len(found) + len(marked) >= count:
        raise RegisterError(
            f"{label} has only {len(found)} eggs without a mark that can be {stated.words}, not {count}",
            f"Say which of the marked ones: {', '.join(marked)}.",
            "eggs",
        )
    raise RegisterError(
        f"{count} eggs of {label} cannot be {stated.words}: there are only {len(found) + len(marked)}",
        "Check the number, and the number of eggs of the clutch.",
        "count",
    )


def _fits(label: str, events: Sequence[EggEvent], egg: Egg, stated: Stated, at_ms: int) -> bool:
    try:
        refuse_event(label, events, egg, stated, at_ms)
    except RegisterError:
        return False
    return True


def mark_of(label: str, eggs: Sequence[Egg], egg: Egg, mark: str) -> str:
    """Give a mark as it is kept; empty where it is to be forgotten. Raises RegisterError where another egg has it."""
    mark = mark.strip()
    # Where eggs are typed in, `3x` is three of them, and after a colon comes what was seen.
    is_count = mark[-1:] in ("x", "X") and mark[:-1].isdigit()
    if len(mark) > _LONGEST_MARK or not mark.isprintable() or any(each in mark for each in ",;:= ") or is_count:
        raise RegisterError(
            f"{mark[:_LONGEST_MARK]!r} is no mark for an egg of {label}",
            f"Give up to {_LONGEST_MARK} letters or digits without blanks, commas, colons and equal signs. A number "
            "with an x, as in 3x, means three eggs.",
            "mark",
        )
    for other in eggs:
        same = mark.casefold() in (other.mark.casefold(), str(other.number)) if mark else False
        if same and other.number != egg.number:
            raise RegisterError(
                f"the mark {mark} means egg {other.number} of {label} already",
                "Give another mark; a number is that of its own egg alone.",
                "mark",
            )
    return mark


def named(eggs: Iterable[Egg]) -> str:
    """Name eggs in a sentence."""
    return ", ".join(egg.name for egg in eggs)


def standing_event(label: str, events: Iterable[EggEvent], number: int) -> EggEvent:
    """Give an event that stands, by its number. Raises RegisterError."""
    found = next((one for one in events if one.number == number), None)
    if found is None or found.withdrawn:
        what = "was taken back already" if found is not None else f"is none of {label}"
        raise RegisterError(f"event {number} {what}", f"Numbers are in: clutchwarden clutch show {label}", "number")
    return found
