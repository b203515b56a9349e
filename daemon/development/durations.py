"""Durations of incubation at constant temperatures, as a paper or a keeper gives them."""

import math
from dataclasses import dataclass

from config.celsius import looks_like_fahrenheit
from config.errors import StatedError


@dataclass(frozen=True, slots=True)
class Duration:
    """How long eggs took from laying to hatching at one constant temperature.

    `days` is the mean of `eggs` eggs with the standard deviation `days_sd`, both None where not told; `source` says who
    measured it.
    """

    temperature_c: float
    days: float
    eggs: int | None = None
    days_sd: float | None = None
    source: str = ""


def require_possible(each: Duration) -> None:
    """Refuse what eggs cannot have done. Raises StatedError, a ValueError with `reason` and `hint`."""
    if not math.isfinite(each.temperature_c):
        raise StatedError(f"a temperature of {each.temperature_c} is none", "Give it in °C.")
    fahrenheit = looks_like_fahrenheit(each.temperature_c)
    if fahrenheit:
        raise StatedError(fahrenheit, "Give all temperatures in °C.")
    if not 0 < each.days < math.inf:
        reason = f"{each.days:g} days at {each.temperature_c:g} °C is no duration"
        raise StatedError(reason, "Give days from laying to hatching; leave out eggs of which none hatched.")
    if each.eggs is not None and each.eggs < 1:
        reason = f"{each.eggs} eggs at {each.temperature_c:g} °C cannot have hatched"
        raise StatedError(reason, "Give 1 or more, or leave the number out.")
    if each.days_sd is not None and not (0 <= each.days_sd < math.inf and (each.eggs or 0) > 1):
        reason = f"a standard deviation of {each.days_sd:g} days at {each.temperature_c:g} °C says nothing"
        raise StatedError(reason, "Give one from 0 up beside a number of two eggs or more, or leave it out.")
