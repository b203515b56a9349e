"""Places for one clutch, the one that suits best first. Pure values; temperatures in °C, times UTC ms."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from config.species import SpeciesProfile
from daemon.alarms.limits import Limits, Occupant, overlap
from daemon.development.basis import development_basis
from daemon.development.stages import stage_name
from daemon.placement.outside import Bounds, Stay

TOLD_LETHAL_H = 0.05
"""Hours of a mean day past a lethal limit from which on a place comes after all others: three minutes.
Project choice."""


@dataclass(frozen=True, slots=True)
class Needs:
    """What the eggs need now. `stage` says which of its limits hold; `constant_ch` is the heat from laying to hatching.

    `why_no_speed` says why nobody can tell how fast they would develop; empty where that is known.
    """

    occupant: Occupant
    species_id: str
    species_name: str
    limits: Limits
    bounds: Bounds
    stage: str
    constant_ch: float | None
    why_no_speed: str


@dataclass(frozen=True, slots=True)
class Option:
    """One place. `stay` is None where nobody knows; `unknown` then says why.

    `measured_by` is the probe that speaks for it, at the place named `measured_at`. `free` are places (path, name) in
    it that take a clutch. `conflicts` are sentences about neighbours that no climate suits together with this clutch,
    `band_c` what is left of all their ranges, None where they leave nothing.
    """

    place: str
    name: str
    is_here: bool
    stay: Stay | None
    unknown: str
    measured_by: str
    measured_at: str
    free: tuple[tuple[str, str], ...]
    neighbours: tuple[str, ...]
    conflicts: tuple[str, ...]
    band_c: tuple[float, float] | None


@dataclass(frozen=True, slots=True)
class Advice:
    """All places for one clutch. `clutch_id` is None for one that is not entered yet; `here` is where it lies.

    `caution` is what whoever goes near must know, `venomous`: trained handlers alone. `behind`: some of the newest
    readings are not counted yet.
    """

    site_name: str
    time_zone: str
    fahrenheit: bool
    now_ms: int
    days: int
    clutch_id: int | None
    label: str
    needs: Needs
    here: str
    options: tuple[Option, ...]
    venomous: bool
    caution: str
    behind: bool


def needs_of(label: str, profile: SpeciesProfile, stage: int | None) -> Needs:
    """Give what a clutch of this species needs at a stage (by its index; None before the first)."""
    occupant = Occupant(label, profile, stage)
    limits = overlap([occupant])
    basis = development_basis(profile) if profile.pause == "none" else None
    why = ""
    if profile.pause != "none":
        why = f"Development of this species pauses ({profile.pause}), so no speed is told."
    elif basis is None:
        why = "Nothing is known of how fast this species develops."
    return Needs(
        occupant,
        profile.id,
        profile.common_name,
        limits,
        Bounds(
            limits.low_c,
            limits.high_c,
            limits.lethal_low_c,
            limits.lethal_high_c,
            None if basis is None else basis.zero_c,
            None if basis is None else basis.cap_c,
        ),
        "" if stage is None else stage_name(profile.stages[stage]),
        None if basis is None else basis.constant_ch,
        why,
    )


def conflicts_with(own: Occupant, others: Sequence[Occupant]) -> tuple[str, ...]:
    """Give a sentence for each neighbour that no climate suits together with this clutch, or whose range kills it."""
    # The first of clutches that are alike is the one that is named.
    found = overlap([own, *others]).conflicts
    return tuple(dict.fromkeys(each.reason for each in found if own.label in (each.first, each.second)))


def band_of(own: Occupant, others: Sequence[Occupant]) -> tuple[float, float] | None:
    """Give the range (°C) that all clutches of a place would share; None where there is none."""
    lows, highs = zip(*((one.low_c, one.high_c) for one in map(_alone, (own, *others))), strict=True)
    low_c = max((each for each in lows if each is not None), default=None)
    high_c = min((each for each in highs if each is not None), default=None)
    return (low_c, high_c) if low_c is not None and high_c is not None and low_c < high_c else None


def sorted_options(options: Iterable[Option], needs: Needs) -> tuple[Option, ...]:
    """Put the places in order.

    Those that are known come first; of these, those never past a lethal limit; then the fewer hours outside, then the
    nearer to the middle of the range. What is equal stays in the order of the site file. For the order a place counts
    as far outside as halfway between what was measured and the most that it may have been (project choice): one that
    is known by day alone must not come before one that is known to be good.
    """

    def rank(option: Option) -> tuple[bool, bool, float, float]:
        stay = option.stay
        if stay is None:
            return True, False, 0.0, 0.0
        return (
            False,
            stay.lethal.best >= TOLD_LETHAL_H,
            round((stay.outside.best + stay.outside.high) / 2, 2),
            round(abs(stay.mean_c - _middle_c(needs.limits)), 2),
        )

    return tuple(sorted(options, key=rank))


def development_a_day(needs: Needs, stay: Stay | None) -> float | None:
    """Give the share of all development that a day in a place brings; None where nobody can tell."""
    if stay is None or stay.rate_k is None or not needs.constant_ch:
        return None
    return 24 * stay.rate_k / needs.constant_ch


def _alone(occupant: Occupant) -> Limits:
    return overlap([occupant])


def _middle_c(limits: Limits) -> float:
    return 0.0 if limits.low_c is None or limits.high_c is None else (limits.low_c + limits.high_c) / 2
