"""Pure: what became of each egg of a clutch, from all that was ever said about it.

Eggs have the numbers 1 to n of their clutch, and the mark that stands on the shell where there is one. Every statement
is an event with a date; a mistaken one is taken back by another that names it. What may follow what is in
`egg_rules`; `egg_records.egg_counts` gives the counts of all clutches at once.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum


class EggState(StrEnum):
    """What an egg is. One of which nothing was said is sound."""

    SOUND = "sound"
    WATCH = "watch"
    REMOVED = "removed"
    PIPPED = "pipped"
    HATCHED = "hatched"
    GIVEN_AWAY = "given-away"

    @property
    def is_open(self) -> bool:
        """True where nobody has said yet what became of it."""
        return self in (EggState.SOUND, EggState.WATCH, EggState.PIPPED)


class Reason(StrEnum):
    """Why an egg is lost. `STUCK`: it is dead, and stays because it sticks to sound ones."""

    INFERTILE = "infertile"
    COLLAPSED = "collapsed"
    MOULD = "mould"
    DISCOLOURED = "discoloured"
    STUCK = "stuck"
    OTHER = "other"


STATE_WORDS = {
    EggState.SOUND: "sound",
    EggState.WATCH: "on watch",
    EggState.REMOVED: "removed",
    EggState.PIPPED: "pipped",
    EggState.HATCHED: "hatched",
    EggState.GIVEN_AWAY: "given away",
}
REASON_WORDS = {
    Reason.INFERTILE: "infertile",
    Reason.COLLAPSED: "collapsed",
    Reason.MOULD: "mould",
    Reason.DISCOLOURED: "discoloured",
    Reason.STUCK: "dead, stuck and left in place",
    Reason.OTHER: "other",
}


@dataclass(frozen=True, slots=True)
class Stated:
    """What somebody says of an egg. `reason` belongs to REMOVED, and to nothing else."""

    state: EggState
    reason: Reason | None = None
    note: str = ""

    @property
    def words(self) -> str:
        """For people: `removed: mould`."""
        if self.reason is None:
            return STATE_WORDS[self.state]
        return "lost: " + REASON_WORDS[self.reason] if self.is_left else f"removed: {REASON_WORDS[self.reason]}"

    @property
    def is_left(self) -> bool:
        """True for an egg that is lost and still lies in the box."""
        return self.reason is Reason.STUCK


SOUND = Stated(EggState.SOUND)


@dataclass(frozen=True, slots=True)
class EggEvent:
    """One statement about one egg, at `at_ms` (UTC ms). `number`: that of the event.

    `by_count`: somebody said how many eggs, not which; this one was taken for it. `withdrawn`: it was taken back.
    """

    number: int
    egg: int
    at_ms: int
    stated: Stated
    who: str
    by_count: bool = False
    withdrawn: bool = False
    recorded_ms: int = 0


@dataclass(frozen=True, slots=True)
class Egg:
    """An egg as it is. `since_ms` (UTC ms) and `event` are None where nothing was ever said of its state."""

    number: int
    mark: str = ""
    stated: Stated = SOUND
    since_ms: int | None = None
    event: EggEvent | None = None

    @property
    def name(self) -> str:
        """What people call it: its mark, else its number."""
        return self.mark or str(self.number)

    @property
    def is_inside(self) -> bool:
        """True while it lies in the box."""
        return self.stated.state.is_open or self.stated.is_left


@dataclass(frozen=True, slots=True)
class EggCounts:
    """How many eggs of a clutch are what. `lost` are the removed ones; `left_in_place` are those of them still inside.

    `total` = sound + watch + pipped + hatched + lost + given_away.
    """

    total: int
    sound: int = 0
    watch: int = 0
    lost: int = 0
    pipped: int = 0
    hatched: int = 0
    left_in_place: int = 0
    given_away: int = 0

    @property
    def inside(self) -> int:
        """How many lie in the box."""
        return self.sound + self.watch + self.pipped + self.left_in_place

    @property
    def open(self) -> int:
        """How many of which nobody has said what became of them."""
        return self.sound + self.watch + self.pipped


def since_ms(eggs: Iterable[Egg], state: EggState) -> int | None:
    """Give when this was said last of one of the eggs that are it, UTC ms; None where none is."""
    return max(
        (each.since_ms for each in eggs if each.stated.state is state and each.since_ms is not None), default=None
    )


def course(events: Iterable[EggEvent], egg: int) -> list[EggEvent]:
    """Give what stands of one egg in order of time; of one moment, what was said later comes later."""
    standing = (one for one in events if one.egg == egg and not one.withdrawn)
    return sorted(standing, key=lambda one: (one.at_ms, one.number))


def state_at(events: Iterable[EggEvent], egg: int, moment_ms: int) -> Stated:
    """Give what an egg was at a moment, by what is known now."""
    before = [one for one in course(events, egg) if one.at_ms <= moment_ms]
    return before[-1].stated if before else SOUND


def eggs_of(egg_count: int, events: Sequence[EggEvent], marks: dict[int, str] | None = None) -> tuple[Egg, ...]:
    """Give all eggs of a clutch as they are."""
    newest: dict[int, EggEvent] = {}
    for one in sorted(events, key=lambda each: (each.at_ms, each.number)):
        if not one.withdrawn:
            newest[one.egg] = one
    known = marks or {}
    return tuple(_egg(number, known.get(number, ""), newest.get(number)) for number in range(1, egg_count + 1))


def egg_of(number: int, mark: str, events: Iterable[EggEvent]) -> Egg:
    """Give one egg as it is."""
    mine = course(events, number)
    return _egg(number, mark, mine[-1] if mine else None)


def _egg(number: int, mark: str, event: EggEvent | None) -> Egg:
    return Egg(number, mark) if event is None else Egg(number, mark, event.stated, event.at_ms, event)


def counts_of(eggs: Sequence[Egg]) -> EggCounts:
    """Count eggs by what they are."""
    return counted(len(eggs), [(one.stated.state, one.stated.is_left, 1) for one in eggs if one.event is not None])


def counted(total: int, stated: Iterable[tuple[EggState, bool, int]]) -> EggCounts:
    """Count from (state, whether it is left in the box, how many) of eggs of which something was said."""
    found = dict.fromkeys(EggState, 0)
    left = 0
    for state, is_left, number in stated:
        found[state] += number
        left += number if is_left else 0
    others = sum(number for state, number in found.items() if state is not EggState.SOUND)
    return EggCounts(
        total=total,
        sound=total - others,
        watch=found[EggState.WATCH],
        lost=found[EggState.REMOVED],
        pipped=found[EggState.PIPPED],
        hatched=found[EggState.HATCHED],
        left_in_place=left,
        given_away=found[EggState.GIVEN_AWAY],
    )
