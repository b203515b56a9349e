"""Heat of a clutch that is in no journal: kept at one stated temperature, or measured by a logger. Pure."""

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

from daemon.development.heat_gap import gap_heat
from daemon.development.heat_interval import HeatLines, HeatRule, covered_heat
from daemon.development.heat_since_laying import Kept, Laying, since_laying
from daemon.development.window import Future, HeatSoFar

RECENT_H = 72
_MS_PER_HOUR = 3_600_000
_BEFORE_U_K = 2.0
"""Standard uncertainty of the temperature stated for the days before a record begins. This project's choice."""
_FUTURE_U_K = 0.5
"""How well the last three days tell the next weeks; so much a thermostat may drift. This project's choice."""


class Known(NamedTuple):
    """Heat so far, and what the clutch will be kept at."""

    heat: HeatSoFar
    future: Future


def steady(laid_ms: tuple[int, int], temperature_c: float, u_k: float, rule: HeatRule, now_ms: int) -> Known:
    """Kept at one temperature from laying on, which is as wrong in future as it was: a common offset of `u_k`."""
    first_ms, last_ms = laid_ms[0], min(laid_ms[1], now_ms)
    hours = (now_ms - (first_ms + last_ms) / 2) / _MS_PER_HOUR
    rate_k = rule.rate_k(temperature_c)
    heat = HeatSoFar(
        low_ch=rate_k * hours,
        best_ch=rate_k * hours,
        high_ch=rate_k * hours,
        offset_ch=(rule.rate_k(temperature_c + u_k) - rule.rate_k(temperature_c - u_k)) / 2 * hours,
        linear_h=hours if temperature_c > rule.zero_c else 0.0,
        since_laying_h=hours,
        laying_half_width_h=(last_ms - first_ms) / 2 / _MS_PER_HOUR,
        heat_rate_before_k=rate_k,
        colder_ch=(rate_k - rule.rate_k(temperature_c - 2 * u_k)) * hours,
        warmer_ch=(rule.rate_k(temperature_c + 2 * u_k) - rate_k) * hours,
    )
    return Known(heat, Future(temperature_c, 0.0, u_k))


def measured(
    laid_ms: tuple[int, int],
    readings: Sequence[tuple[int, float]],
    stated_c: float | None,
    u_k: float,
    rule: HeatRule,
    bridge_ms: int,
    now_ms: int,
) -> Known:
    """Measured by a logger: `readings` are (UTC ms, °C) in order of time, at least one after laying and by `now_ms`.

    `stated_c` is for the days before the first reading and from now on; None: anything is possible before, and what
    comes is like the last three days.
    """
    first_ms, last_ms = laid_ms[0], min(laid_ms[1], now_ms)
    middle_ms = (first_ms + last_ms) // 2
    begin_ms = max(readings[0][0], middle_ms)
    lines = HeatLines(readings, begin_ms, now_ms, bridge_ms)
    piece = covered_heat(lines, rule, u_k)
    for gap in lines.gaps:
        piece += gap_heat(gap, rule, None, u_k)
    kept = None if stated_c is None else Kept(stated_c, _BEFORE_U_K)
    # The logger may have run in an empty box, so it does not tell by when the eggs were laid.
    heat = since_laying(Laying(middle_ms, middle_ms, begin_ms), kept, piece, rule, now_ms)
    heat = replace(heat, laying_half_width_h=(last_ms - first_ms) / 2 / _MS_PER_HOUR)
    if stated_c is not None:
        return Known(heat, Future(stated_c, _FUTURE_U_K, u_k))
    return Known(heat, Future(_recent_c(readings, rule, bridge_ms), _FUTURE_U_K, u_k))


def _recent_c(readings: Sequence[tuple[int, float]], rule: HeatRule, bridge_ms: int) -> float:
    """Mean of the last three days that readings cover; the newest reading where they cover nothing."""
    last_ms, last_c = readings[-1]
    lines = HeatLines(readings, last_ms - RECENT_H * _MS_PER_HOUR, last_ms, bridge_ms)
    piece = covered_heat(lines, rule, 0.0)
    return piece.temperature_ch / (piece.covered_ms / _MS_PER_HOUR) if piece.covered_ms else last_c
