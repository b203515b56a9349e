"""What a clutch's heat is counted against: developmental zero T0, thermal constant K, cap, and how sure they are.

From the best that a profile states, in this order: a line through published durations, durations to lay one
through, one usual duration. The last takes T0 from other species of the group and K = D (Tr - T0) from the duration D
at the usual temperature Tr, so that the pair gives back D at Tr whatever T0 is: tight there, wider away from it. To
first order (JCGM 100:2008, F.1.2.3), T0 and D being independent of each other:

    u(K)^2 = (D u(T0))^2 + ((Tr - T0) u(D))^2          u(T0, K) = -D u(T0)^2
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from config.errors import StatedError
from config.species import DevelopmentFit, SpeciesProfile, StatedDuration, UsualDuration
from daemon.development.durations import Duration
from daemon.development.fits import fit_durations
from daemon.development.groups import group_zero

Kind = Literal["fit", "durations", "usual duration"]

STRAIGHT_UPTO_C = 30.5
"""Up to here lines are laid, and no cap is lower: this project's choice; development stops speeding up above about 30
to 32 °C in many species, and nobody published a figure that holds for all."""

_OWN_SCATTER_PCT, _DOUBTFUL_SCATTER_PCT = 6.0, 7.0
"""Of the duration, standard deviation. Both are this project's choice, from what it computed of RepDevo and ROSIE (see
`groups`). Eggs kept alike spread by 3.9 % (median of 668 treatments of 85 species), means of studies of one species at
one temperature by 3.8 % (133 cells of 37 species); with the tails of both it takes 6 % for a line of one paper to hold
nine in ten of what other papers saw (89 % of 988 treatments; with 4 % it held 80 %), and 7 % for anything less."""

_RATE_SCATTER_PCT = {"good": 3.0, "fair": 4.6, "weak": 9.5, "two-point": 4.6}
"""Of mean rates about a line where a profile states no errors: medians of 32 good, 20 fair and 13 weak lines, computed
by this project as in `groups`. Of two points nothing is known; taken as fair."""
_DOUBTS = {"weak": "a weak one", "two-point": "through two temperatures only"}
_POINTS = {"two-point": 2}
_USUAL_POINTS = 4
_LEAST_FOR_A_CUT = 3
_LEAST_ABOVE_ZERO_K = 2.0
"""Eggs that did hatch were at least so far above their zero: this project's choice, for species of the cold."""
_HOURS_PER_DAY = 24


@dataclass(frozen=True, slots=True)
class Basis:
    """T0 (`zero_c`, °C), K (`constant_ch`, °C·h) and the cap (`cap_c`, °C), with standard uncertainties (k = 1).

    `correlation` is that of T0 and K; the two are always used together. `scatter_pct` is how far a clutch strays from
    the line, percent of its duration (standard deviation). `reason` says where all this comes from, for a keeper.
    """

    kind: Kind
    zero_c: float
    constant_ch: float
    cap_c: float
    zero_u_k: float | None
    constant_u_ch: float | None
    correlation: float
    scatter_pct: float
    flag: str
    reason: str


def development_basis(profile: SpeciesProfile) -> Basis | None:
    """What is known of the development of a species, or None where nothing is: then no heat is counted.

    Development that pauses does not matter here: heat is counted, and `hatch_window` refuses the date.
    """
    if profile.development is not None:
        return _of_line(profile.development)
    if profile.durations and (found := _of_durations(profile.durations)) is not None:
        return found
    return None if profile.usual_duration is None else _of_usual(profile.usual_duration, profile.group)


def _of_line(line: DevelopmentFit) -> Basis:
    errors = _usual_errors(
        line.developmental_zero_c, line.thermal_constant_ch, (line.fit_low_c, line.fit_high_c), line.flag
    )
    return Basis(
        "fit",
        line.developmental_zero_c,
        line.thermal_constant_ch,
        line.cap_c,
        *errors,
        _scatter_pct(line.flag, pooled=line.pooled),
        line.flag,
        f"From a line through published durations{_doubts(line.flag, pooled=line.pooled)}.",
    )


def _usual_errors(
    zero_c: float, constant_ch: float, range_c: tuple[float, float], flag: str
) -> tuple[float, float, float]:
    """Errors of a line that knows none: formulas of `fits`, points spread evenly, scatter that is usual for its flag.

    Sxx of n points evenly over a span L is L^2 n (n + 1) / (12 (n - 1)). Gives u(T0), u(K) and their correlation.
    """
    low_c, high_c = range_c
    count = _POINTS.get(flag, _USUAL_POINTS)
    above_zero_k = (low_c + high_c) / 2 - zero_c
    squares_k2 = (high_c - low_c) ** 2 * count * (count + 1) / (12 * (count - 1))
    scatter = _RATE_SCATTER_PCT[flag] / 100
    slope = above_zero_k / math.sqrt(squares_k2)
    both = math.hypot(1 / math.sqrt(count), slope)
    return above_zero_k * scatter * both, constant_ch * scatter * slope, -slope / both


def _of_durations(stated: Sequence[StatedDuration]) -> Basis | None:
    durations = [Duration(one.temperature_c, one.days, one.eggs, one.days_sd, one.source) for one in stated]
    straight = {one.temperature_c for one in durations if one.temperature_c <= STRAIGHT_UPTO_C}
    try:
        line = fit_durations(durations, upto_c=STRAIGHT_UPTO_C if len(straight) >= _LEAST_FOR_A_CUT else None)
    except StatedError:
        return None
    if line.flag == "do not use":
        return None
    zero_c, constant_ch, warmest_c = line.developmental_zero_c, line.thermal_constant_ch, line.points[-1].temperature_c
    zero_u_k, constant_u_ch, correlation = line.developmental_zero_u_k, line.thermal_constant_u_ch, line.correlation
    if zero_u_k is None:
        range_c = (line.points[0].temperature_c, warmest_c)
        zero_u_k, constant_u_ch, correlation = _usual_errors(zero_c, constant_ch, range_c, line.flag)
    own = all(one.source.casefold().startswith("own ") for one in stated)
    doubts = _doubts(line.flag, pooled=line.pooled, own=own)
    return Basis(
        "durations",
        zero_c,
        constant_ch,
        max(STRAIGHT_UPTO_C, warmest_c),
        zero_u_k,
        constant_u_ch,
        correlation,
        _scatter_pct(line.flag, pooled=line.pooled),
        line.flag,
        f"From durations at {len(line.points)} temperatures{doubts}.",
    )


def _of_usual(usual: UsualDuration, group: str) -> Basis:
    """See the head of this module. The range of days is taken to hold the range of temperatures, the larger counts."""
    others = group_zero(group)
    reference_c = (usual.temperature_low_c + usual.temperature_high_c) / 2
    zero_c = min(others.median_c, usual.temperature_low_c - _LEAST_ABOVE_ZERO_K)
    zero_u_k = others.standard_uncertainty_k
    above_zero_k = reference_c - zero_c
    hours = (usual.days_low + usual.days_high) / 2 * _HOURS_PER_DAY
    by_days_h = (usual.days_high - usual.days_low) * _HOURS_PER_DAY / 2
    by_temperature_h = hours * (usual.temperature_high_c - usual.temperature_low_c) / 2 / above_zero_k
    hours_u = max(by_days_h, by_temperature_h) / math.sqrt(3)
    constant_u_ch = math.hypot(hours * zero_u_k, above_zero_k * hours_u)
    return Basis(
        "usual duration",
        zero_c,
        hours * above_zero_k,
        max(STRAIGHT_UPTO_C, usual.temperature_high_c),
        zero_u_k,
        constant_u_ch,
        -hours * zero_u_k / constant_u_ch,
        _DOUBTFUL_SCATTER_PCT,
        "none",
        f"From one usual duration and what is known of {others.species} other {others.name}.",
    )


def _scatter_pct(flag: str, *, pooled: bool) -> float:
    return _DOUBTFUL_SCATTER_PCT if pooled or flag in _DOUBTS else _OWN_SCATTER_PCT


def _doubts(flag: str, *, pooled: bool, own: bool = False) -> str:
    told = [_DOUBTS[flag]] if flag in _DOUBTS else []
    told += [f"of several {'records of your own' if own else 'studies'} together"] if pooled else []
    return ", " + ", ".join(told) if told else ""


def tried_c(profile: SpeciesProfile) -> tuple[float, float] | None:
    """Give the coldest and the warmest temperature, °C, that the basis of a profile comes from; None without one."""
    line, usual = profile.development, profile.usual_duration
    if line is not None:
        return line.fit_low_c, line.fit_high_c
    if profile.durations:
        temperatures = [one.temperature_c for one in profile.durations]
        return min(temperatures), max(temperatures)
    return None if usual is None else (usual.temperature_low_c, usual.temperature_high_c)
