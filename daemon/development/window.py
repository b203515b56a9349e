"""When a clutch will hatch: earliest, likely and latest, from its heat so far and what it will be kept at.

With the heat H so far, the zero T0, the constant K and the credited temperature Tf from now on (never above the cap),

    hours to go = (K - H) / (Tf - T0)

To first order (JCGM 100:2008, 5.1.2, equation 10, and 5.2.2, equation 13 for the pair), with r = Tf - T0 and L the
hours in which a higher zero takes heat away (dH/dT0 = -L):

    by the heat      -1 / r                      gaps, laying window, the probe's offset in the past
    by Tf            -(hours to go) / r          future temperature, the same offset in the future
    by T0            (L + hours to go) / r
    by K             1 / r

so that the pair's error is least where a clutch is kept as those were that the pair comes from. Bounds (gaps, laying)
count as rectangular: half the width over the root of 3 (JCGM 100:2008, 4.3.7). How clutches differ is on top. This
derivation is ours. Once the heat has reached K, the heat per hour since laying takes the place of r.
"""

import math
from dataclasses import dataclass
from typing import Literal

from config.species import SpeciesProfile
from daemon.development.basis import Basis, Kind
from daemon.development.window_words import (
    COVERAGE,
    beyond_lethal,
    no_basis,
    no_future,
    pauses,
    stands_still,
    too_uncertain,
    why,
)

LEVEL_PCT = 90
"""How often a window of these holds the day."""
MOST_TOLD_SHARE = 1.2
"""Of the thermal constant; a larger share is told as more than this. This project's choice."""
_DAY_TO_DAY = 1.5
"""Days, standard deviation, on top of the share of the duration: eggs of a clutch hatch within some days, and hatching
counts from the first slit or from leaving the egg. This project's choice."""
_MOST_OF_DURATION = 1 / 3
"""Where line and future temperature leave more of the whole duration open than this (standard deviation), first order
is worthless and no date better than a bad one: this project's choice."""
_LINE, _TO_COME = "how well the species is known", "the temperature from now on"
_HOURS_PER_DAY, _MS_PER_HOUR = 24, 3_600_000

Standing = Literal["ahead", "open", "overdue"]


@dataclass(frozen=True, slots=True)
class HeatSoFar:
    """Heat from laying to now, °C·h, counted between the zero and the cap of the basis.

    `low_ch` and `high_ch` hold what gaps and the time before set-up leave open; the probe's common offset and the
    laying window are apart. `offset_ch` is the change for plus one standard uncertainty of the probe, `linear_h` the
    hours in which a higher zero takes heat away (-dHeat/dZero), `since_laying_h` counts from the middle of the laying
    window, `heat_rate_before_k` is the heat per hour that a clutch had about the time of laying.
    """

    low_ch: float
    best_ch: float
    high_ch: float
    offset_ch: float
    linear_h: float
    since_laying_h: float
    laying_half_width_h: float
    heat_rate_before_k: float
    colder_ch: float | None = None
    warmer_ch: float | None = None
    """what it loses and gains were the probe two standard uncertainties off, where the two differ"""


@dataclass(frozen=True, slots=True)
class Future:
    """What the clutch will be kept at, °C, and the standard uncertainty of that, K.

    `offset_u_k` is the standard uncertainty of the probe's offset, which past and future share; None takes it from the
    heat so far (`offset_ch` over `linear_h`).
    """

    temperature_c: float
    u_k: float
    offset_u_k: float | None = None
    rate_k: float | None = None
    """heat per hour that it will bring, where that is better known than by the mean temperature: days and nights on
    both sides of the zero or the cap do not average out"""


@dataclass(frozen=True, slots=True)
class HatchWindow:
    """A window that holds the day of hatching in 90 of 100 cases, UTC milliseconds since the epoch.

    `parts` are names and standard deviations in days, the largest first; their quadrature is `sd_days`. `share` is
    that of the thermal constant, and may pass 1. A clutch that has not hatched and is past its window is `overdue`,
    its `latest_ms` then lies in the past; one within its window is `open`.
    """

    earliest_ms: int
    likely_ms: int
    latest_ms: int
    sd_days: float
    share: float
    parts: tuple[tuple[str, float], ...]
    kind: Kind
    reason: str
    standing: Standing

    @property
    def half_days(self) -> float:
        """From the likely day to either end, days."""
        return COVERAGE * self.sd_days

    @property
    def half_parts(self) -> tuple[tuple[str, float], ...]:
        """The parts at the level of the window, ± days: their quadrature is `half_days`."""
        return tuple((name, COVERAGE * days) for name, days in self.parts)


@dataclass(frozen=True, slots=True)
class NoWindow:
    """No date, and why."""

    reason: str


def hatch_window(
    profile: SpeciesProfile, basis: Basis | None, heat: HeatSoFar, future: Future | None, now_ms: int
) -> HatchWindow | NoWindow:
    """When a clutch that has not hatched yet will.

    Parameters
    ----------
    profile, basis
        The species, and `development_basis(profile)`: the heat must have been counted by it.
    heat, future
        From laying to now, and from now on; None where nobody knows what the clutch will be kept at.
    now_ms
        UTC milliseconds since the epoch.

    Returns
    -------
    HatchWindow or NoWindow
        No date where development pauses, where nothing is known, where what is to come is lethal, where development
        stands still at it, or so far from what is known that any date would be invented. Formulas and sources in the
        head of this module.
    """
    if profile.pause != "none":
        return NoWindow(pauses(profile.pause))
    if basis is None:
        return NoWindow(no_basis(profile))
    if future is not None and heat.best_ch < basis.constant_ch and _is_lethal(profile, future.temperature_c):
        return NoWindow(beyond_lethal(future.temperature_c, profile))
    rate_k = _rate_k(basis, heat, future)
    if isinstance(rate_k, NoWindow):
        return rate_k
    to_go_h = (basis.constant_ch - heat.best_ch) / rate_k
    parts = _parts(basis, heat, future, rate_k, to_go_h)
    if future is not None and _worthless(parts, heat.since_laying_h + to_go_h):
        return NoWindow(too_uncertain(future.temperature_c, basis))
    kept_c = None if future is None else future.temperature_c
    return _window(profile, basis, parts, heat.best_ch / basis.constant_ch, kept_c, to_go_h, now_ms)


def _window(
    profile: SpeciesProfile,
    basis: Basis,
    parts: tuple[tuple[str, float], ...],
    share: float,
    kept_c: float | None,
    to_go_h: float,
    now_ms: int,
) -> HatchWindow:
    """The window around the moment that is so many hours ahead, and how the present stands to it."""
    sd_days = math.hypot(*(days for _, days in parts))
    likely_ms = now_ms + round(to_go_h * _MS_PER_HOUR)
    half_ms = round(COVERAGE * sd_days * _HOURS_PER_DAY * _MS_PER_HOUR)
    standing: Standing = "ahead" if now_ms < likely_ms - half_ms else "open"
    standing = "overdue" if now_ms > likely_ms + half_ms else standing
    past_days = (now_ms - likely_ms - half_ms) / (_HOURS_PER_DAY * _MS_PER_HOUR)
    return HatchWindow(
        likely_ms - half_ms,
        likely_ms,
        likely_ms + half_ms,
        sd_days,
        share,
        parts,
        basis.kind,
        why(profile, basis, parts, standing, past_days, kept_c),
        standing,
    )


def _is_lethal(profile: SpeciesProfile, kept_c: float) -> bool:
    low, high = profile.temperature.lethal_low, profile.temperature.lethal_high
    return kept_c >= high.value or (low is not None and kept_c <= low.value)


def _rate_k(basis: Basis, heat: HeatSoFar, future: Future | None) -> float | NoWindow:
    """Heat per hour by which what is still missing, or what is too much, turns into time."""
    if heat.best_ch >= basis.constant_ch and heat.since_laying_h > 0:
        return heat.best_ch / heat.since_laying_h
    if future is None:
        return NoWindow(no_future())
    rate_k = future.rate_k
    if rate_k is None:
        rate_k = min(future.temperature_c, basis.cap_c) - basis.zero_c
    return rate_k if rate_k > 0 else NoWindow(stands_still(future.temperature_c, basis))


def _worthless(parts: tuple[tuple[str, float], ...], duration_h: float) -> bool:
    open_days = math.hypot(*(days for name, days in parts if name in {_LINE, _TO_COME}))
    return open_days * _HOURS_PER_DAY > _MOST_OF_DURATION * duration_h


def _parts(
    basis: Basis, heat: HeatSoFar, future: Future | None, rate_k: float, to_go_h: float
) -> tuple[tuple[str, float], ...]:
    """Standard deviations in days, the largest first; what came after the heat had reached K does not count."""
    future_h = max(to_go_h, 0.0)
    duration_h = heat.since_laying_h + to_go_h
    offset_ch, drift_ch = heat.offset_ch, 0.0
    if to_go_h < 0:
        offset_ch *= max(duration_h, 0.0) / heat.since_laying_h
    elif future is not None:
        shared_k = future.offset_u_k
        if shared_k is None:
            shared_k = heat.offset_ch / heat.linear_h if heat.linear_h > 0 else 0.0
        offset_ch += _credited_u_k(future.temperature_c, shared_k, basis) * future_h
        drift_ch = _credited_u_k(future.temperature_c, future.u_k, basis) * future_h
    in_heat = {
        "gaps and the time before set-up": (heat.high_ch - heat.low_ch) / 2 / math.sqrt(3),
        "the day of laying": heat.laying_half_width_h / math.sqrt(3) * heat.heat_rate_before_k,
        "the probe": abs(offset_ch),
        _TO_COME: drift_ch,
        _LINE: _pair_ch(basis, heat.linear_h + to_go_h),
    }
    by_duration_days = basis.scatter_pct / 100 * duration_h / _HOURS_PER_DAY
    parts = [(name, in_ch / rate_k / _HOURS_PER_DAY) for name, in_ch in in_heat.items()]
    parts.append(("how much clutches differ", math.hypot(by_duration_days, _DAY_TO_DAY)))
    return tuple(sorted(parts, key=lambda part: -part[1]))


def _credited_u_k(temperature_c: float, u_k: float, basis: Basis) -> float:
    """Half the change of the credited temperature over plus and minus one uncertainty: less than it near the cap."""
    warm_c, cold_c = (min(max(each, basis.zero_c), basis.cap_c) for each in (temperature_c + u_k, temperature_c - u_k))
    return (warm_c - cold_c) / 2


def _pair_ch(basis: Basis, hours: float) -> float:
    """Error of K + T0 times all hours that count, with the correlation of the pair, °C·h."""
    by_zero, by_constant = hours * (basis.zero_u_k or 0.0), basis.constant_u_ch or 0.0
    variance = by_zero**2 + by_constant**2 + 2 * basis.correlation * by_zero * by_constant
    return math.sqrt(max(0.0, variance))
