"""Pure: what hand and eye said of each box in the last round, as far as whoever comes next has to know it."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from daemon.clutches.eggs import EggState
from daemon.rounds.values import LID_WORDS, MEDIUM_WORDS, BoxState, EggsDone, Lid, Medium, named
from daemon.rounds.words import disagreement_lines

_FIRST, _NEXT, _THEN, _AFTER, _LAST = range(5)
_EGG_RANKS = {EggState.PIPPED: _FIRST, EggState.HATCHED: _FIRST, EggState.REMOVED: _NEXT, EggState.WATCH: _NEXT}


@dataclass(frozen=True, slots=True)
class BoxFound:
    """A place with a clutch in a round, and what stands of it there; `state` is None where nobody said anything."""

    name: str
    label: str
    venomous: bool
    state: BoxState | None

    @property
    def is_untouched(self) -> bool:
        """True where nobody looked, and nobody said why not."""
        return self.state is None or not self.state.at_ms


@dataclass(frozen=True, slots=True)
class BoxSaid:
    """What was said of a box that is not simply as it should be, the most pressing of it first."""

    name: str
    label: str
    venomous: bool
    words: tuple[str, ...]


def boxes_said(boxes: Iterable[BoxFound]) -> tuple[BoxSaid, ...]:
    """Give the boxes of which there is something to say, the most pressing first."""
    found = []
    for box in boxes:
        said = [] if box.state is None else sorted(_said(box.state), key=lambda each: each[0])
        if said:
            words = tuple(words for _, words in said)
            found.append((said[0][0], BoxSaid(box.name, box.label, box.venomous, words)))
    return tuple(box for _, box in sorted(found, key=lambda each: each[0]))


def eggs_that_are(boxes: Iterable[BoxFound], what: EggState) -> int:
    """Count the eggs of which this was said last in the round."""
    states = [each.state for each in boxes if each.state is not None]
    return sum(list(_last_of_each(state).values()).count(what) for state in states)


def _last_of_each(state: BoxState) -> dict[str, EggState]:
    return {name: done.seen.stated.state for done in state.taken for name in done.names}


def _said(state: BoxState) -> Iterator[tuple[int, str]]:
    """Give each thing with how pressing it is."""
    if state.skipped:
        yield _FIRST, f"left out: {state.skipped}"
    for done in state.eggs:
        yield _of_eggs(done)
    if state.medium is Medium.DRY:
        yield (_THEN if state.water_ml else _FIRST), f"medium {MEDIUM_WORDS[state.medium]}"
    if state.medium is Medium.WET:
        yield _NEXT, f"medium {MEDIUM_WORDS[state.medium]}"
    if state.lid in (Lid.DRIPPING, Lid.BEADS):
        yield _THEN, f"lid {LID_WORDS[state.lid]}{', wiped' if state.wiped else ''}"
    yield from ((_NEXT, each) for each in disagreement_lines(state))
    if state.water_ml:
        yield _AFTER, f"{state.water_ml:g} ml of water added"
    yield from ((_THEN, f"“{each.text}”") for each in state.remarks)
    yield from ((_LAST, f"treated: {each}") for each in state.treated)


def _of_eggs(done: EggsDone) -> tuple[int, str]:
    which = done.names or done.seen.which
    if isinstance(which, int):
        told = f"{which} {'egg' if which == 1 else 'eggs'}"
    else:
        told = f"{'egg' if len(which) == 1 else 'eggs'} {named(which)}"
    words = f"{told} {done.seen.stated.words}"
    if done.refused:
        return _FIRST, f"{words} (not taken: {done.refused})"
    return _EGG_RANKS.get(done.seen.stated.state, _THEN), words
