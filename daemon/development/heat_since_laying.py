"""Heat of a clutch from laying to now: what lay before the set-up, the stored and the newest heat, as one interval."""

import math
from dataclasses import dataclass

from daemon.development.heat_interval import HeatPiece, HeatRule
from daemon.development.window import HeatSoFar

_MS_PER_HOUR = 3_600_000
_K = 2.0
"""Coverage factor of the interval that is shown (GUM 6.3.3: about 95 % for a normal distribution)."""
_HALF = 0.5


@dataclass(frozen=True, slots=True)
class Laying:
    """When a clutch was laid and set up, UTC ms; laid between two moments, the later one never after the set-up."""

    laid_from_ms: int
    laid_to_ms: int
    set_up_ms: int

    @property
    def middle_ms(self) -> float:
        """The middle of the laying window."""
        return (self.laid_from_ms + min(self.laid_to_ms, self.set_up_ms)) / 2

    @property
    def half_width_h(self) -> float:
        """Half of the laying window, hours."""
        return (min(self.laid_to_ms, self.set_up_ms) - self.laid_from_ms) / 2 / _MS_PER_HOUR


@dataclass(frozen=True, slots=True)
class Kept:
    """How warm the eggs lay between laying and set-up, degree Celsius, with its standard uncertainty, K."""

    temperature_c: float
    u_k: float


def heat_before(laying: Laying, kept: Kept | None, rule: HeatRule) -> HeatPiece:
    """Heat from the middle of the laying window to the set-up, at the temperature stated for it.

    Where none is stated, anything from no heat to the cap is possible, and the middle of that is taken.
    """
    missing_ms = laying.set_up_ms - laying.middle_ms
    hours = missing_ms / _MS_PER_HOUR
    if kept is None:
        most = (rule.cap_c - rule.zero_c) * hours
        piece = HeatPiece(0.0, most / 2, most)
    else:
        low, best, high = (rule.rate_k(kept.temperature_c + k * kept.u_k) * hours for k in (-_K, 0, _K))
        piece = HeatPiece(low, best, high)
    is_linear = kept is None or rule.zero_c < kept.temperature_c < rule.cap_c
    return piece + HeatPiece(missing_ms=round(missing_ms), linear_ms=round(missing_ms) if is_linear else 0)


def since_laying(laying: Laying, kept: Kept | None, since_set_up: HeatPiece, rule: HeatRule, now_ms: int) -> HeatSoFar:
    """Put the parts together. The laying window and the probe stay apart, for whoever adds uncertainties up."""
    whole = heat_before(laying, kept, rule) + since_set_up
    temperature_c = (rule.zero_c + rule.cap_c) / 2 if kept is None else kept.temperature_c
    # A clutch that was found at once had the heat of its first days about the time of laying, not that of the room.
    at_once = laying.set_up_ms - laying.middle_ms <= _HALF * _MS_PER_HOUR
    counted_h = (since_set_up.covered_ms + since_set_up.missing_ms) / _MS_PER_HOUR
    rate_k = since_set_up.best_ch / counted_h if at_once and counted_h else rule.rate_k(temperature_c)
    return HeatSoFar(
        low_ch=whole.low_ch,
        best_ch=whole.best_ch,
        high_ch=whole.high_ch,
        offset_ch=(whole.colder_ch + whole.warmer_ch) / 2 / _K,
        # A higher zero takes heat away above the cap as well, where a warmer probe brings none.
        linear_h=(whole.linear_ms + whole.above_cap_ms) / _MS_PER_HOUR,
        since_laying_h=(now_ms - laying.middle_ms) / _MS_PER_HOUR,
        laying_half_width_h=laying.half_width_h,
        heat_rate_before_k=rate_k,
        colder_ch=whole.colder_ch,
        warmer_ch=whole.warmer_ch,
    )


def interval_ch(heat: HeatSoFar) -> tuple[float, float, float]:
    """Low, best and high of the heat, degree-hours: bounds of gaps, laying window and probe added in quadrature.

    The three are independent of each other (GUM 5.1.2). Gaps and the probe may be wider to one side, so each side has
    its own.
    """
    laying_ch = heat.laying_half_width_h * heat.heat_rate_before_k
    even_ch = _K * heat.offset_ch
    colder_ch = even_ch if heat.colder_ch is None else heat.colder_ch
    warmer_ch = even_ch if heat.warmer_ch is None else heat.warmer_ch
    low = heat.best_ch - math.hypot(heat.best_ch - heat.low_ch, laying_ch, colder_ch)
    high = heat.best_ch + math.hypot(heat.high_ch - heat.best_ch, laying_ch, warmer_ch)
    return max(low, 0.0), heat.best_ch, high
