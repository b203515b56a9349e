"""Why a hatch window is what it is, or why there is none: short sentences for whoever looks after the eggs."""

from collections.abc import Sequence
from typing import Literal

from config.species import SpeciesProfile
from daemon.development.basis import Basis


def why(
    basis: Basis,
    parts: Sequence[tuple[str, float]],
    standing: Literal["ahead", "open", "overdue"],
    past_days: float,
    kept_c: float | None,
    tried_c: tuple[float, float] | None,
) -> str:
    """Where the window comes from, what makes it wide, and what to mind. `past_days`: since its end, below 0 before."""
    name, days = parts[0]
    told = [basis.reason, f"Nine clutches in ten hatch inside the window. Most of its width is {name}: ± {days:.1f} d."]
    if standing == "open":
        told.append("The window is open: look every day.")
    if standing == "overdue":
        told.append(_overdue(past_days))
    elif kept_c is not None:
        told += _at(kept_c, basis, tried_c)
    return " ".join(told)


def _overdue(past_days: float) -> str:
    ago = "today" if past_days < 1 else f"{past_days:.0f} {'day' if round(past_days) == 1 else 'days'} ago"
    return (
        f"Overdue: the window ended {ago}. That proves nothing: leave sound eggs, and look again at the laying date "
        "and the probe."
    )


def _at(kept_c: float, basis: Basis, tried_c: tuple[float, float] | None) -> list[str]:
    if kept_c > basis.cap_c:
        return [f"{kept_c:.1f} °C is above the cap: development is counted as at {basis.cap_c:g} °C, not faster."]
    if tried_c is not None and kept_c < tried_c[0] - _margin_k(basis):
        return [f"{kept_c:.1f} °C is colder than any eggs this comes from ({tried_c[0]:g} °C): it may well be later."]
    return []


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


def stands_still(kept_c: float, basis: Basis) -> str:
    """Why a clutch at or below its zero has no date."""
    return (
        f"At {kept_c:.1f} °C development is counted as standing still: the zero is {basis.zero_c:.1f} °C. "
        "No date until it is warmer."
    )


def too_uncertain(kept_c: float, basis: Basis) -> str:
    """Why a clutch kept far from all that is known, or near the zero, has no date."""
    zero = f"{basis.zero_c:.1f} ± {basis.zero_u_k or 0.0:.1f} °C"
    return (
        f"{basis.reason} The zero is {zero}, and at {kept_c:.1f} °C that leaves more than a third of the whole time "
        "open. No date."
    )
