"""Why a hatch window is what it is, or why there is none: short sentences for whoever looks after the eggs."""

from collections.abc import Sequence
from typing import Literal

from config.species import SpeciesProfile
from daemon.development.basis import Basis, tried_c

COVERAGE = 1.645
"""Factor k of a level of 90 % of a normal distribution: JCGM 100:2008, table G.1. Every ± for a keeper has it."""


def why(
    profile: SpeciesProfile,
    basis: Basis,
    parts: Sequence[tuple[str, float]],
    standing: Literal["ahead", "open", "overdue"],
    past_days: float,
    kept_c: float | None,
) -> str:
    """Where the window comes from, what makes it wide, and what to mind.

    `parts` are standard deviations, the largest first; `past_days` counts from the end of the window, below 0 before.
    """
    name, days = parts[0]
    told = [
        basis.reason,
        "Nine clutches in ten hatch inside the window; all ± are nine in ten.",
        f"Most of its width is {name}: ± {COVERAGE * days:.1f} d.",
    ]
    if standing == "open":
        told.append("The window is open: look every day.")
    if standing == "overdue":
        told.append(_overdue(past_days))
    elif kept_c is not None:
        told += _at(kept_c, basis, profile)
    return " ".join(told)


def _overdue(past_days: float) -> str:
    ago = "today" if past_days < 1 else f"{past_days:.0f} {'day' if round(past_days) == 1 else 'days'} ago"
    return (
        f"Overdue: the window ended {ago}. That proves nothing: leave sound eggs, and look again at the laying date "
        "and the probe."
    )


def _at(kept_c: float, basis: Basis, profile: SpeciesProfile) -> list[str]:
    low_c, high_c, tried = profile.temperature.low.value, profile.temperature.high.value, tried_c(profile)
    told = []
    if not low_c <= kept_c <= high_c:
        told.append(f"{kept_c:.1f} °C is outside {low_c:g} to {high_c:g} °C, the range of these eggs.")
    if kept_c > basis.cap_c:
        told.append(f"{kept_c:.1f} °C is above the cap: development is counted as at {basis.cap_c:g} °C, not faster.")
    elif tried is not None and kept_c < tried[0] - _margin_k(basis):
        told.append(f"{kept_c:.1f} °C is colder than any eggs this comes from ({tried[0]:g} °C): it may well be later.")
    return told


def _margin_k(basis: Basis) -> float:
    """One usual temperature is told in whole degrees; a line ends where it ends."""
    return 1.0 if basis.kind == "usual duration" else 0.0


def pauses(pause: str) -> str:
    """Why a species whose development pauses has no date."""
    what = {"diapause": "Development pauses in the egg (diapause)", "arrest": "Development rests after laying (arrest)"}
    return f"{what[pause]}, and heat does not tell for how long. No date."


def no_basis(profile: SpeciesProfile) -> str:
    """Why a species without a basis has no date."""
    if profile.durations:
        return (
            "The durations in the profile give no line that tells a date: see `clutchwarden species fit`. No date. "
            "One usual duration in the profile would give a wide window."
        )
    return (
        "Nothing is known of how long these eggs take. No date. One usual duration in the profile, your own record "
        "will do, gives a window."
    )


def no_future() -> str:
    """Why a clutch of which nobody knows what it is kept at has no date."""
    return "Nobody knows what the clutch will be kept at: no reading of late. No date."


def beyond_lethal(kept_c: float, profile: SpeciesProfile) -> str:
    """Why a clutch that is kept where eggs die has no date."""
    low, high = profile.temperature.lethal_low, profile.temperature.lethal_high
    if low is not None and kept_c <= low.value:
        return f"{kept_c:.1f} °C is {_beside(kept_c, low.value)} the lethal limit of {low.value:g} °C. No date."
    return f"{kept_c:.1f} °C is {_beside(kept_c, high.value)} the lethal limit of {high.value:g} °C. No date."


def _beside(kept_c: float, limit_c: float) -> str:
    if f"{kept_c:.1f}" == f"{limit_c:.1f}":
        return "at"
    return "above" if kept_c > limit_c else "below"


def stands_still(kept_c: float, basis: Basis) -> str:
    """Why a clutch at or below its zero has no date."""
    return (
        f"At {kept_c:.1f} °C development is counted as standing still: the zero is {basis.zero_c:.1f} °C. "
        "No date until it is warmer."
    )


def too_uncertain(kept_c: float, basis: Basis) -> str:
    """Why a clutch kept far from all that is known, or near the zero, has no date."""
    zero = f"{basis.zero_c:.1f} ± {COVERAGE * (basis.zero_u_k or 0.0):.1f} °C"
    return (
        f"{basis.reason} The zero is {zero} (nine in ten), and at {kept_c:.1f} °C that leaves more than a third of the "
        "whole time open. No date."
    )
