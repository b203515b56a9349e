"""Has a probe settled? Judged from its readings of the last minutes. Pure.

Settled is: enough readings over most of the span, no trend that goes on, and little scatter. The bounds are common
practice, no source: about one or two of the last digits that such probes tell.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from config.words import Quantity
from sensors.calibration_scale import Scale

LEAST_READINGS = 5
_LEAST_SHARE = 0.7
_MINUTE_MS = 60_000
_LARGEST_TREND = {True: 0.1, False: 0.6}
_LARGEST_SCATTER = {True: 0.1, False: 0.6}


@dataclass(frozen=True, slots=True)
class Settling:
    """What the last minutes say: mean and standard deviation, K or % RH; `trend` is the change over the whole span.

    `reason` says why it has not settled, or that it has. All figures are None where there is no reading.
    """

    settled: bool
    readings: int
    mean: float | None
    scatter: float | None
    trend: float | None
    reason: str


def settling(
    quantity: Quantity,
    readings: Sequence[tuple[int, float]],
    span_ms: int,
    end_ms: int,
    *,
    fahrenheit: bool = False,
) -> Settling:
    """Judge the (time in ms, value) readings, in order of time, of the span that ends at a moment.

    `fahrenheit`: the unit of what the reason says, and of nothing else.
    """
    inside = [(at_ms, value) for at_ms, value in readings if end_ms - span_ms <= at_ms <= end_ms]
    minutes = span_ms / _MINUTE_MS
    if not inside:
        return Settling(False, 0, None, None, None, f"There is no good reading in these {minutes:g} minutes.")
    values = [value for _, value in inside]
    mean = math.fsum(values) / len(values)
    scatter = math.sqrt(math.fsum((value - mean) ** 2 for value in values) / max(1, len(values) - 1))
    trend = _trend(inside) * span_ms
    reason = _reason(Scale(quantity, fahrenheit), inside, span_ms, trend, scatter)
    return Settling(not reason, len(inside), mean, scatter, trend, reason or "It has settled.")


def _reason(scale: Scale, inside: Sequence[tuple[int, float]], span_ms: int, trend: float, scatter: float) -> str:
    minutes, covered_ms = span_ms / _MINUTE_MS, inside[-1][0] - inside[0][0]
    unit, is_temperature = scale.difference_unit, scale.quantity.is_temperature
    if len(inside) < LEAST_READINGS or covered_ms < _LEAST_SHARE * span_ms:
        count = f"{len(inside)} good reading{'s' * (len(inside) != 1)} over {covered_ms / _MINUTE_MS:.0f} min"
        return f"Only {count}; at least {LEAST_READINGS} over most of {minutes:g} min are needed."
    if abs(trend) > _LARGEST_TREND[is_temperature]:
        way = "rises" if trend > 0 else "falls"
        return f"It still {way}, by {scale.shown_difference(abs(trend)):.2g} {unit} in {minutes:g} min. Wait."
    if scatter > _LARGEST_SCATTER[is_temperature]:
        return (
            f"It jumps by ±{scale.shown_difference(scatter):.2g} {unit}. Keep it closed and out of draughts, and wait."
        )
    return ""


def _trend(inside: Sequence[tuple[int, float]]) -> float:
    """Slope of the least-squares line, per ms; 0 where all readings are of one moment."""
    middle_ms = math.fsum(at_ms for at_ms, _ in inside) / len(inside)
    spread = math.fsum((at_ms - middle_ms) ** 2 for at_ms, _ in inside)
    return math.fsum((at_ms - middle_ms) * value for at_ms, value in inside) / spread if spread else 0.0
