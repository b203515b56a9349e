"""Pure: what was found in a box, in words for people."""

from collections.abc import Iterator, Sequence

from daemon.rounds.sheet import WaterOnLid
from daemon.rounds.values import LID_WORDS, MEDIUM_WORDS, WHERE_WORDS, BoxState, EggsDone, Stop, named

BEGUN_WORDS = "begun: say medium and lid"
LEAST_KNOWN_H = 3.0
"""Of less than this a figure says nothing. Project choice."""


def state_lines(state: BoxState) -> Iterator[str]:
    """Give what stands of a box in a round."""
    if state.skipped:
        yield f"left out by {named(state.who)}: {state.skipped}"
    found = found_text(state)
    if found:
        yield f"{found} ({named(state.who)})"
    for done in state.eggs:
        refused = f" (not taken: {done.refused})" if done.refused else ""
        yield f"{_which(done)}: {done.seen.stated.words}{refused}"
    yield from (f"remark by {each.who}: {each.text}" for each in state.remarks)
    yield from disagreement_lines(state)


def _which(done: EggsDone) -> str:
    which = done.names or done.seen.which
    if isinstance(which, int):
        return f"{which} of the eggs"
    return f"{'egg' if len(which) == 1 else 'eggs'} {named(which)}"


def found_text(state: BoxState) -> str:
    """Say what hand and eye found and what was done, without eggs and remarks; empty where nothing of it was said."""
    parts = [
        "" if state.medium is None else f"medium {MEDIUM_WORDS[state.medium]}",
        "" if state.lid is None else f"lid {LID_WORDS[state.lid]}{', wiped' if state.wiped else ''}",
        *(f"{each.ml:g} ml{'' if each.where is None else f' {WHERE_WORDS[each.where]}'}" for each in state.water),
        "eggs looked at" if state.looked_at_eggs else "",
        *(f"treated: {each}" for each in state.treated),
    ]
    return ", ".join(part for part in parts if part)


def disagreement_lines(state: BoxState) -> Iterator[str]:
    """Say where two people saw the same thing differently."""
    for one in state.disagreements:
        yield f"{one.what}: {one.earlier_who} said {one.earlier}; {one.later_who} said {one.later}, which counts"


def water_text(water: WaterOnLid) -> str:
    """Say for how long there was water on a lid, as far as the probes can tell."""
    if water.hours_known < LEAST_KNOWN_H:
        return "water on the lid: too little is known yet"
    if water.is_vague:
        return f"water on the lid: in {water.hours_known:.0f} h the probes could not tell whether there was any"
    return f"water on the lid for about {water.hours:.0f} of {water.hours_known:.0f} h"


def not_seen_words(stops: Sequence[Stop]) -> str:
    """Say which boxes nobody has seen in a round, and what comes of it; empty without any."""
    if not stops:
        return ""
    names = ", ".join(each.label or each.name for each in stops)
    return f"Not seen: {names}. This round does not count for {'it' if len(stops) == 1 else 'them'}."
