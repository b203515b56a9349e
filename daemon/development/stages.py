"""Which stage of a profile is in force, and what the eggs need in it. Pure.

Stages follow each other in the order in which the profile lists them, and the last one that has begun is in force. Each
changes what it states and leaves the rest as it was. Lethal limits are those of the profile in every stage.
"""

import math
from dataclasses import dataclass

from config.species import SpeciesProfile, StageLimits
from daemon.development.window import MOST_TOLD_SHARE

_NAMED_PARTS = {0.5: "second half", 0.667: "last third", 0.75: "last quarter", 0.8: "last fifth", 0.9: "last tenth"}
_NAMED_WITHIN = 0.001
_ROUNDING = 1e-9


@dataclass(frozen=True, slots=True)
class Share:
    """Share of development as an interval; 0 at laying, 1 at hatching, and past 1 where hatching is late.

    `low` and `high` are what is possible, `best` what is most likely. Raises ValueError where they are not in order.
    """

    low: float
    best: float
    high: float

    def __post_init__(self) -> None:
        if not self.low <= self.best <= self.high:
            raise ValueError(f"The share of development is {self.low} to {self.high}, best {self.best}: not in order.")


@dataclass(frozen=True, slots=True)
class StageInForce:
    """The index into `profile.stages`, None before the first of them, and why, in words."""

    index: int | None
    reason: str


@dataclass(frozen=True, slots=True)
class Ranges:
    """What the eggs need at present: air temperature in °C and relative humidity in %; None where none is stated."""

    low_c: float
    high_c: float
    humidity_low_pct: float | None
    humidity_high_pct: float | None


def stage_in_force(profile: SpeciesProfile, share: Share | None, day: float | None) -> StageInForce:
    """Tell the stage of a clutch.

    Parameters
    ----------
    share
        Share of development by now; None where it is not known.
    day
        Days since laying, the middle of the laying window; None where the day of laying is not known.

    Returns
    -------
    StageInForce
        The best share decides, since either mistake has its price; the reason says where the stage is not certain.
    """
    if not profile.stages:
        return StageInForce(None, "one set of limits holds throughout")
    begun = [index for index, stage in enumerate(profile.stages) if _has_begun(stage, share, day)]
    index = begun[-1] if begun else None
    following = profile.stages[0 if index is None else index + 1 :]
    parts = ["no stage has begun yet" if index is None else _present(profile.stages[index], share, day)]
    if following:
        parts.append(_coming(following[0], share, day))
    return StageInForce(index, "; ".join(parts))


def ranges_in_force(profile: SpeciesProfile, stage: int | None) -> Ranges:
    """Give what the eggs need in a stage, by its index; None for what holds before the first."""
    low, high, humidity = profile.temperature.low, profile.temperature.high, profile.humidity
    for one in () if stage is None else profile.stages[: stage + 1]:
        if one.temperature is not None:
            low, high = one.temperature.low, one.temperature.high
        humidity = one.humidity or humidity
    damp = (None, None) if humidity is None else (humidity.low.value, humidity.high.value)
    return Ranges(low.value, high.value, *damp)


def stage_name(stage: StageLimits) -> str:
    """Name a stage as it stands in a sentence: "in its last tenth", "from day 14 on"."""
    if stage.from_share is None:
        return f"from day {stage.from_day:g} on"
    for begin, name in _NAMED_PARTS.items():
        if abs(stage.from_share - begin) < _NAMED_WITHIN:
            return f"in its {name}"
    return f"from {100 * stage.from_share:g} % of its development on"


def _has_begun(stage: StageLimits, share: Share | None, day: float | None) -> bool:
    if stage.from_share is not None:
        return share is not None and share.best >= stage.from_share
    return day is not None and stage.from_day is not None and day >= stage.from_day


def _present(stage: StageLimits, share: Share | None, day: float | None) -> str:
    if stage.from_share is None or share is None:
        return f"{stage_name(stage)}, and this is day {day:.0f}"
    doubt = f", though perhaps only {_percent(share.low)}" if share.low < stage.from_share else ""
    return f"{stage_name(stage)}: {_percent(share.best)} of development is done{doubt}"


def _coming(stage: StageLimits, share: Share | None, day: float | None) -> str:
    if stage.from_share is None:
        since = "the day of laying is not known" if day is None else f"this is day {day:.0f}"
        return f"other limits hold from day {stage.from_day:g} on, and {since}"
    start = f"other limits hold from {100 * stage.from_share:g} % of development on"
    if share is None:
        return f"{start}, and the share is not known"
    doubt = f", perhaps {_percent(share.high)}" if share.high >= stage.from_share else ""
    return f"{start}, and {_percent(share.best)} is done{doubt}"


def _percent(share: float) -> str:
    """Cut off, not rounded: 89.7 % must not look like the 90 % that it has yet to reach."""
    if share > MOST_TOLD_SHARE:
        return f"more than {100 * MOST_TOLD_SHARE:.0f} %"
    return f"{math.floor(100 * share + _ROUNDING)} %"
