"""Constant temperature equivalent: the constant temperature that stands for a changing one where sex is decided.

Sex follows the share of development, not of time, that eggs spend above a temperature in the sensitive period. The
equivalent is the temperature above which one half of the development takes place: A. Georges 1989, Female turtles from
hot nests: is it duration of incubation or proportion of development at high temperatures that matters? Oecologia
81:323-328; A. Georges, C. Limpus and R. Stoutjesdijk 1994, Hatchling sex in the marine turtle Caretta caretta is
determined by proportion of development at a temperature, not daily duration of exposure. Journal of Experimental
Zoology 270:432-444 (volumes and pages from memory).

It is a figure to set beside the pivotal temperature of a species, and no promise of either sex.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from config.errors import StatedError
from config.species import SexDetermination

_HALVINGS = 60
"""Of a bracket not wider than pi: narrower than a double can tell apart."""


@dataclass(frozen=True, slots=True)
class SensitivePart:
    """What of the sensitive period lies behind a clutch.

    `rows` are (temperature_c, degree_hours_ch) in it. Of the development in the whole period, `passed_share` is done by
    now, and `known_share` is done at a temperature that is known.
    """

    rows: tuple[tuple[float, float], ...]
    passed_share: float
    known_share: float


def cte_of_daily_sine(mean_c: float, amplitude_k: float, zero_c: float) -> float:
    """Constant temperature equivalent of a temperature that swings as a sine, °C.

    Parameters
    ----------
    mean_c, amplitude_k
        Mean, °C, and half the range between the coldest and the warmest, K.
    zero_c
        Developmental zero T0, °C. Below it nothing develops.

    Returns
    -------
    float
        M + A cos t, where t solves (M - T0) t + A sin t = half of what that sum is at the end of development: at t = pi
        where the coldest is not below T0, so that the equation is (M - T0)(t - pi/2) + A sin t = 0, and otherwise
        where M + A cos t = T0. It follows from the definition (references in the head of this module) with a rate of
        development that is a straight line above T0.

    Raises
    ------
    StatedError
        A ValueError with `reason` and `hint`: a figure that is not finite, an amplitude below 0, no development at all.
    """
    if not all(map(math.isfinite, (mean_c, amplitude_k, zero_c))) or amplitude_k < 0:
        reason = f"a mean of {mean_c} °C, an amplitude of {amplitude_k} K and a zero of {zero_c} °C make no swing"
        raise StatedError(reason, "Give ordinary numbers, and 0 or more for the amplitude.")
    excess_k = mean_c - zero_c
    if excess_k + amplitude_k <= 0:
        reason = f"the warmest of the day, {mean_c + amplitude_k:g} °C, is not above the zero of {zero_c:g} °C"
        raise StatedError(reason, "Nothing develops there, so no temperature stands for it.")
    if amplitude_k == 0:
        return mean_c
    end = math.pi if excess_k >= amplitude_k else math.acos(-excess_k / amplitude_k)

    def done(angle: float) -> float:
        return excess_k * angle + amplitude_k * math.sin(angle)

    half, warm_side, cold_side = done(end) / 2, 0.0, end
    for _ in range(_HALVINGS):  # the sum rises all the way, so one bracket holds its only root
        middle = (warm_side + cold_side) / 2
        warm_side, cold_side = (middle, cold_side) if done(middle) < half else (warm_side, middle)
    return mean_c + amplitude_k * math.cos((warm_side + cold_side) / 2)


def cte_of_record(rows: Sequence[tuple[float, float]]) -> float | None:
    """Constant temperature equivalent of a measured record, °C: the median temperature, weighed by development.

    Parameters
    ----------
    rows
        (temperature_c, degree_hours_ch) of each hour or other short stretch, in any order.

    Returns
    -------
    float | None
        Where exactly one half lies on each side, the middle between the two nearest; None without any development.
    """
    warming = sorted((temperature_c, heat_ch) for temperature_c, heat_ch in rows if heat_ch > 0)
    total_ch = math.fsum(heat_ch for _, heat_ch in warming)
    done_ch = 0.0
    for place, (temperature_c, heat_ch) in enumerate(warming):
        done_ch += heat_ch
        if 2 * done_ch == total_ch:
            return (temperature_c + warming[place + 1][0]) / 2
        if 2 * done_ch > total_ch:
            return temperature_c
    return None


def sensitive_part(
    rows: Iterable[tuple[float | None, float]], constant_ch: float, sex: SexDetermination
) -> SensitivePart:
    """Cut out of a record what lies in the sensitive period.

    Parameters
    ----------
    rows
        (temperature_c, degree_hours_ch) from laying on, in order of time; None as the temperature of heat that was not
        measured, such as heat before set-up or over a gap.
    constant_ch
        Thermal constant K, °C·h: its share is the share of development.
    """
    begin_ch, end_ch = sex.sensitive_from_share * constant_ch, sex.sensitive_to_share * constant_ch
    kept: list[tuple[float, float]] = []
    done_ch = 0.0
    for temperature_c, heat_ch in rows:
        inside_ch = min(done_ch + heat_ch, end_ch) - max(done_ch, begin_ch)
        done_ch += heat_ch
        if inside_ch > 0 and temperature_c is not None:
            kept.append((temperature_c, inside_ch))
    length_ch = end_ch - begin_ch
    passed_ch = min(max(done_ch - begin_ch, 0.0), length_ch)
    return SensitivePart(tuple(kept), passed_ch / length_ch, math.fsum(heat for _, heat in kept) / length_ch)


def sex_sentence(part: SensitivePart, sex: SexDetermination) -> str:
    """Say what the record tells of sex: a temperature with its source, and never a promise."""
    period = f"sensitive period ({100 * sex.sensitive_from_share:.0f} to {100 * sex.sensitive_to_share:.0f} %)"
    equivalent_c = cte_of_record(part.rows)
    if equivalent_c is None:
        state = "has not begun" if part.passed_share == 0 else "has no measured temperature"
        return f"The {period} {state}, so no constant temperature equivalent can be told."
    behind = "" if part.passed_share >= 1 else f", of which {100 * part.passed_share:.0f} % is done,"
    unmeasured = part.passed_share - part.known_share
    unknown = f" Of it, {100 * unmeasured:.0f} % was not measured." if unmeasured > 0.005 else ""  # noqa: PLR2004 - shows as 1 %
    pivotal = (
        "no pivotal temperature is known"
        if sex.pivotal_c is None
        else f"pivotal temperature {sex.pivotal_c.value:g} °C: {sex.pivotal_c.source}"
    )
    return (
        f"Constant temperature equivalent over the {period}{behind} {equivalent_c:.1f} °C ({pivotal}). "
        f"No promise of either sex.{unknown}"
    )
