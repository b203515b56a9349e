"""Pure: a season by species and by place, from what became of each clutch. Times are UTC ms.

A share is given only where there is enough to say it of: at least 30 days, as with the alarms, and at least ten eggs of
which it is known what became of them (project choice). An egg counts as decided once it hatched or was lost; those that
were given away, and those of which nobody has said anything yet, are in neither part of a share.
"""

import math
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from statistics import median

from daemon.alarms.metrics import LEAST_DAYS
from daemon.clutches.eggs import Egg, EggState, Reason

LEAST_EGGS = 10
DAY_MS = 86_400_000


@dataclass(frozen=True, slots=True)
class Outcome:
    """How many eggs of how many clutches became what; `lost` by reason.

    `laid` is all of them: hatched, lost, given away, and open, of which nobody has said it yet.
    """

    clutches: int
    laid: int
    hatched: int
    lost: Mapping[Reason | None, int]
    given_away: int
    open: int

    @property
    def lost_in_all(self) -> int:
        """For whatever reason."""
        return sum(self.lost.values())

    @property
    def decided(self) -> int:
        """Hatched or lost."""
        return self.hatched + self.lost_in_all


@dataclass(frozen=True, slots=True)
class ClutchSeason:
    """One clutch of a season.

    `place` is where it lay longest, by name. `laid_ms` is the middle of its laying. `first_ms` and `last_ms` are when
    eggs hatched; `heat_ch` the heat from laying to the first of them, °C·h, as (low, best, high), None where none is
    counted. `until_ms`: when it was closed, or now.
    """

    clutch_id: int
    label: str
    species_id: str
    species: str
    place: str
    laid_ms: int
    until_ms: int
    outcome: Outcome
    first_ms: int | None = None
    last_ms: int | None = None
    heat_ch: tuple[float, float, float] | None = None

    @property
    def days_to_hatch(self) -> float | None:
        """From the middle of the laying to the first hatching."""
        return None if self.first_ms is None else (self.first_ms - self.laid_ms) / DAY_MS


@dataclass(frozen=True, slots=True)
class Spread:
    """The least, the middle and the most of some numbers."""

    count: int
    least: float
    middle: float
    most: float


@dataclass(frozen=True, slots=True)
class GroupSeason:
    """All clutches of a species, or of a place. `success` is None where `too_little` says why."""

    name: str
    outcome: Outcome
    days: Spread | None
    heat_ch: Spread | None
    success: float | None
    too_little: str


def outcome_of(eggs: Sequence[Egg]) -> Outcome:
    """Count the eggs of a clutch."""
    states = Counter(one.stated.state for one in eggs)
    lost = Counter(one.stated.reason for one in eggs if one.stated.state is EggState.REMOVED)
    return Outcome(
        1,
        len(eggs),
        states[EggState.HATCHED],
        dict(lost),
        states[EggState.GIVEN_AWAY],
        sum(one.stated.state.is_open for one in eggs),
    )


def grouped(clutches: Sequence[ClutchSeason], by: Callable[[ClutchSeason], str]) -> list[GroupSeason]:
    """Put clutches together, in the order of the names."""
    names = sorted({by(each) for each in clutches}, key=str.casefold)
    return [_group(name, [each for each in clutches if by(each) == name]) for name in names]


def too_little(decided: int, days: float) -> str:
    """Say why no share is given; empty where one is."""
    if days < LEAST_DAYS:
        return f"too little data: {math.floor(max(days, 0))} days of {LEAST_DAYS}"
    if decided < LEAST_EGGS:
        return f"too little data: {decided} eggs of {LEAST_EGGS}"
    return ""


def _group(name: str, clutches: Sequence[ClutchSeason]) -> GroupSeason:
    outcome = together([each.outcome for each in clutches])
    days = (max(each.until_ms for each in clutches) - min(each.laid_ms for each in clutches)) / DAY_MS
    missing = too_little(outcome.decided, days)
    return GroupSeason(
        name=name,
        outcome=outcome,
        days=_spread([each.days_to_hatch for each in clutches if each.days_to_hatch is not None]),
        heat_ch=_spread([each.heat_ch[1] for each in clutches if each.heat_ch is not None]),
        success=None if missing else outcome.hatched / outcome.decided,
        too_little=missing,
    )


def together(outcomes: Sequence[Outcome]) -> Outcome:
    """Add outcomes up."""
    lost: Counter[Reason | None] = Counter()
    for each in outcomes:
        lost.update(each.lost)
    return Outcome(
        sum(each.clutches for each in outcomes),
        sum(each.laid for each in outcomes),
        sum(each.hatched for each in outcomes),
        dict(lost),
        sum(each.given_away for each in outcomes),
        sum(each.open for each in outcomes),
    )


def _spread(values: Sequence[float]) -> Spread | None:
    return Spread(len(values), min(values), median(values), max(values)) if values else None
