"""What a period did to one clutch: development, hatch window, exposure, humidity. Pure values."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from daemon.development.stages import Share
from daemon.development.window import NoWindow
from daemon.review.clutch_air import BoxAir
from daemon.review.clutch_exposure import Exposure, Extremes
from daemon.review.clutch_heat import HatchShift, HeatLoss, best_of
from daemon.review.values import Verdict

WORTH_TELLING_H = 1.0
"""Development lost or won of less than this is what any day brings. Project choice."""
LATE_SHARE = 0.75
"""From here on eggs count as near their end, where cold was survived with little delay. Project choice."""


class Lain(NamedTuple):
    """Where a clutch lay within the period, until before `to_ms`; `name` is for people."""

    place: str
    name: str
    from_ms: int
    to_ms: int


@dataclass(frozen=True, slots=True)
class Stage:
    """How far a clutch was when the period began.

    `share` is None where it is not known. `low_c` and `high_c` are what it needed; `reason` says which stage and why.
    """

    share: Share | None
    low_c: float
    high_c: float
    reason: str


@dataclass(frozen=True, slots=True)
class ClutchReview:
    """What a period did to one clutch; all times UTC ms.

    `lain` are its stays within the period, in order: never empty. `heat` is None where no heat is counted, for the
    reason `no_heat`. `exposures` come lethal limits first; empty where there is no profile. `stage` and `extremes` are
    None where nothing is known. `is_open`: it lies there still, so something can be done for it.
    """

    clutch_id: int
    label: str
    species_name: str
    egg_count: int
    venomous: bool
    caution: str
    is_open: bool
    lain: tuple[Lain, ...]
    stage: Stage | None
    heat: HeatLoss | None
    no_heat: str
    shift: HatchShift | NoWindow
    exposures: tuple[Exposure, ...]
    extremes: Extremes | None
    air: BoxAir

    @property
    def place(self) -> str:
        """Where it lay last within the period."""
        return self.lain[-1].place

    def has_published(self, *, above: bool) -> bool:
        """True where somebody published for how long such eggs stand heat (above) or cold."""
        found = [one.tolerance for one in self.exposures if one.tolerance.is_above == above]
        return any(one.is_published and not one.is_lethal for one in found)

    def verdict(self, *, above: bool) -> Verdict | None:
        """Of all tolerances on one side together, the worst; None where there is none on that side."""
        found = [one.verdict for one in self.exposures if one.tolerance.is_above == above]
        return next((each for each in (Verdict.OUT, Verdict.UNKNOWN, Verdict.IN) if each in found), None)

    @property
    def is_held_back(self) -> bool:
        """True where it lost development that is worth telling."""
        loss = None if self.heat is None else self.heat.lost_h
        return loss is not None and best_of(loss) >= WORTH_TELLING_H

    @property
    def is_late(self) -> bool:
        """True near the end of its development."""
        return self.stage is not None and self.stage.share is not None and self.stage.share.best >= LATE_SHARE


def most_urgent_first(reviews: Sequence[ClutchReview]) -> tuple[ClutchReview, ...]:
    """Put venomous clutches first, since who may go near comes before all; then by what was passed, then by loss."""
    return tuple(sorted(reviews, key=_urgency))


_RANK = {Verdict.OUT: 0, Verdict.UNKNOWN: 1, Verdict.IN: 2, None: 3}


def _urgency(review: ClutchReview) -> tuple[bool, int, int, float, str]:
    lost = 0.0 if review.heat is None or review.heat.lost_h is None else best_of(review.heat.lost_h)
    hot, cold = review.verdict(above=True), review.verdict(above=False)
    return not review.venomous, _RANK[hot], _RANK[cold], -lost, review.label
