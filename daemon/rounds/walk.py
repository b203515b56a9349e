"""Pure: the walk of a round: boxes in the order in which they stand, what is done, and which need it most."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from daemon.rounds.cautions import Caution
from daemon.rounds.hints import Hint
from daemon.rounds.need import SHORT_ROUND, Need, NeedClass
from daemon.rounds.sheet import BoxSheet
from daemon.rounds.values import BoxState, Photo, Stop
from daemon.storage.rounds import RoundOnRecord


class Done(StrEnum):
    """How far a box is."""

    OPEN = "open"
    BEGUN = "begun"
    """something was said of its eggs, and nothing of medium and lid"""
    SEEN = "seen"
    SKIPPED = "skipped"


@dataclass(frozen=True, slots=True)
class WalkBox:
    """One box of the walk. `state` is what was entered for it in this round, None so far."""

    stop: Stop
    round_number: int | None
    need: Need
    state: BoxState | None = None

    @property
    def is_open(self) -> bool:
        """True where there is something left to look at."""
        return self.done in (Done.OPEN, Done.BEGUN)

    @property
    def done(self) -> Done:
        """How far it is."""
        if self.state is None or not self.state.at_ms:
            return Done.OPEN
        if self.state.skipped:
            return Done.SKIPPED
        # What is not to be opened was seen through its lid, as far as it can be.
        return Done.BEGUN if self.state.is_begun and not self.stop.venomous else Done.SEEN


@dataclass(frozen=True, slots=True)
class Walk:
    """The boxes of the rounds that go on, in the order in which they stand: that of the site file."""

    rounds: tuple[RoundOnRecord, ...]
    boxes: tuple[WalkBox, ...]

    @property
    def by_need(self) -> tuple[WalkBox, ...]:
        """The same, those first that need it most; of equal ones in the order in which they stand."""
        return tuple(sorted(self.boxes, key=lambda each: each.need.rank))

    @property
    def short(self) -> tuple[WalkBox, ...]:
        """The few that matter most, in the order in which they stand; fewer where fewer need anything."""
        some = [each for each in self.by_need if each.need.kind is not NeedClass.NOTHING][:SHORT_ROUND]
        return tuple(each for each in self.boxes if each in some)

    @property
    def still_open(self) -> tuple[WalkBox, ...]:
        """Those with a clutch that nobody has skipped or looked into, beyond an egg."""
        return tuple(each for each in self.boxes if each.is_open and not each.stop.is_empty)

    @property
    def not_seen(self) -> tuple[WalkBox, ...]:
        """Those with a clutch of which nobody said anything, in rounds that go on, which will not count for them."""
        going = {each.number for each in self.rounds if each.round.ended_ms is None}
        here = (each for each in self.boxes if each.round_number in going and not each.stop.is_empty)
        return tuple(each for each in here if each.done is Done.OPEN)

    def after(self, key: str) -> WalkBox | None:
        """Give the next box that is still open, from this one on and then from the start; None where all are done."""
        keys = [each.stop.key for each in self.boxes]
        at = keys.index(key) + 1 if key in keys else 0
        later = (*self.boxes[at:], *self.boxes[:at])
        open_keys = {each.stop.key for each in self.still_open}
        return next((each for each in later if each.stop.key in open_keys and each.stop.key != key), None)


@dataclass(frozen=True, slots=True)
class BoxView:
    """Everything for the page of one box. `round` is None where no round goes on in its incubator.

    `first_hints` are at most three. `beside` has sentences where the probes and the hand say different things.
    `through_lid_only`: nothing that needs a hand in the box is to be offered, unless the person is a trained handler.
    `all_well` is what the two taps state. `photos` are those of the round, without one those of the last look;
    `last_photos` those of the look before this round, left out where a walk is read whole.
    """

    stop: Stop
    round: RoundOnRecord | None
    sheet: BoxSheet
    need: Need
    state: BoxState | None
    photos: tuple[Photo, ...]
    first_hints: tuple[Hint, ...]
    more_hints: tuple[Hint, ...]
    cautions: Sequence[Caution]
    beside: tuple[str, ...]
    through_lid_only: bool
    all_well: str
    last_photos: tuple[Photo, ...] = ()


@dataclass(frozen=True, slots=True)
class IncubatorDue:
    """One incubator: the round that goes on there, and when the next one is due.

    `due_ms` is None where no eggs lie in it.
    """

    incubator: str
    name: str
    going_on: RoundOnRecord | None
    due_ms: int | None
    boxes: int
    clutches: int
