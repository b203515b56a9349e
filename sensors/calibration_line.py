"""A correction line through one or two reference points, and how sure a corrected reading is.

Two points (R1, x1), (R2, x2) of reference and reading give r = R1 + g (x - x1) with g = (R2 - R1)/(x2 - x1). With
L = (x - x1)/(x2 - x1) and independent inputs the law of propagation (JCGM 100:2008, 5.1.2, equation 10) gives

    u^2(r) = (1 - L)^2 [u^2(R1) + g^2 u^2(x1)] + L^2 [u^2(R2) + g^2 u^2(x2)] + g^2 u^2(x)

which averages the points between them and grows outside. One reference instrument used at both points errs there in
the same direction; its part is then the larger of that sum of squares and of the plain sum (5.2.2, equation 16).

One point gives r = x + (R - x1). It says nothing of the slope, so what the maker states as plus or minus may build up
again over a distance from that point (`reach`).

Two more parts belong to every reading: how well the probe repeats itself, u(x), and how far it may have wandered since,
an allowance per year taken as the half-width of a rectangle (4.3.7). The figures of `USUAL` are common practice, no
source.
"""

import math
from dataclasses import dataclass

from config.errors import StatedError
from config.words import Quantity
from sensors.calibration_scale import Scale

YEAR_MS = 365 * 86_400_000


@dataclass(frozen=True, slots=True)
class Usual:
    """What is taken for a quantity where nothing is stated; K or % RH.

    `accuracy` and `drift_per_year` are half-widths of rectangles, `repeatability_u` is k = 1. `typical` is a reading in
    use. The rest are bounds of what is believed: `largest_shift` at a point, `least_span` between two, gain from
    `least_gain` to `largest_gain`, `worst_reference` as the plus or minus of something to calibrate by;
    `reference_accuracy` is taken where nothing is said of it.
    """

    unit: str
    accuracy: float
    repeatability_u: float
    drift_per_year: float
    reach: float
    typical: float
    largest_shift: float
    least_span: float
    least_gain: float
    largest_gain: float
    worst_reference: float
    reference_accuracy: float


_TEMPERATURE = Usual("K", 0.5, 0.05, 0.1, 20.0, 29.0, 5.0, 4.0, 0.9, 1.1, 1.0, 0.1)
"""The accuracy is that of a common 1-wire digital thermometer by its data sheet."""
_HUMIDITY = Usual("% RH", 3.0, 0.5, 1.5, 30.0, 85.0, 15.0, 10.0, 0.8, 1.25, 5.0, 2.0)
_LOWEST = {True: -30.0, False: 0.0}
_HIGHEST = {True: 60.0, False: 102.0}


def usual(quantity: Quantity) -> Usual:
    """Give what is taken for a quantity where nothing is stated."""
    return _TEMPERATURE if quantity.is_temperature else _HUMIDITY


@dataclass(frozen=True, slots=True)
class Point:
    """The true value, what the probe said of it uncorrected, and the standard uncertainties (k = 1) of both."""

    reference: float
    reading: float
    reference_u: float
    reading_u: float
    against: str


@dataclass(frozen=True, slots=True)
class Line:
    """corrected = gain * reading + shift, and what its uncertainty is made of. Without points nothing is corrected."""

    gain: float
    shift: float
    points: tuple[Point, ...]
    repeatability_u: float
    drift_per_year: float
    slope_u: float = 0.0
    one_reference: bool = False

    def corrected(self, reading: float) -> float:
        """Give the value that a reading of the probe means."""
        return self.gain * reading + self.shift

    def standard_uncertainty(self, reading: float, age_ms: int) -> float:
        """Give the standard uncertainty (k = 1) of a corrected reading, taken so long before or after the points."""
        first = self.points[0]
        parts = [
            self.reference_part(reading),
            *(
                weight * self.gain * point.reading_u
                for weight, point in zip(self._weights(reading), self.points, strict=True)
            ),
            self.gain * self.repeatability_u,
            self.slope_u * (reading - first.reading),
            self.drift_per_year * abs(age_ms) / YEAR_MS / math.sqrt(3),
        ]
        return math.hypot(*parts)

    def reference_part(self, reading: float) -> float:
        """Give what of that uncertainty comes from the reference, k = 1."""
        parts = [w * point.reference_u for w, point in zip(self._weights(reading), self.points, strict=True)]
        independent = math.hypot(*parts)
        return max(independent, abs(math.fsum(parts))) if self.one_reference else independent

    def _weights(self, reading: float) -> tuple[float, ...]:
        if len(self.points) == 1:
            return (1.0,)
        first, second = self.points
        share = (reading - first.reading) / (second.reading - first.reading)
        return 1.0 - share, share


UNCORRECTED = Line(1.0, 0.0, (), 0.0, 0.0)
"""A probe of which nothing is known but what its maker states."""


def one_point(
    quantity: Quantity,
    point: Point,
    accuracy: float,
    repeatability_u: float,
    drift_per_year: float,
    *,
    fahrenheit: bool = False,
) -> Line:
    """Give the line that shifts every reading by what the probe is off at one point.

    `accuracy` is the maker's plus or minus, from which the unknown slope is judged. `fahrenheit`: the unit of what a
    refusal says, and of nothing else. Raises StatedError.
    """
    _refuse_point(Scale(quantity, fahrenheit), point)
    shift = point.reference - point.reading
    slope_u = accuracy / math.sqrt(3) / usual(quantity).reach
    return Line(1.0, shift, (point,), repeatability_u, drift_per_year, slope_u)


def two_point(
    quantity: Quantity,
    one: Point,
    other: Point,
    repeatability_u: float,
    drift_per_year: float,
    one_reference: bool,
    *,
    fahrenheit: bool = False,
) -> Line:
    """Give the line through two points, in either order.

    `one_reference`: both points were measured by the same instrument. `fahrenheit`: the unit of what a refusal says.
    Raises StatedError for points too close to each other, for readings that look exchanged, and for a line that no
    working probe needs.
    """
    scale = Scale(quantity, fahrenheit)
    for point in (one, other):
        refuse_unlikely(quantity, point, fahrenheit=fahrenheit)
    _refuse_pair(scale, one, other)
    for point in (one, other):
        _refuse_point(scale, point)
    low, high = sorted((one, other), key=lambda point: point.reading)
    gain = (high.reference - low.reference) / (high.reading - low.reading)
    _refuse_gain(quantity, gain)
    shift = low.reference - gain * low.reading
    return Line(gain, shift, (low, high), repeatability_u, drift_per_year, 0.0, one_reference)


def refuse_unlikely(quantity: Quantity, point: Point, *, fahrenheit: bool = False) -> None:
    """Refuse numbers that are none, or of another unit. Raises StatedError, in the unit of people."""
    if not quantity.is_temperature and (0 < point.reading <= 1 or 0 < point.reference <= 1):
        raise StatedError("a humidity of 1 % or less looks like a ratio", "Give percent: 35.1, not 0.351.")
    scale = Scale(quantity, fahrenheit)
    refuse_value(scale, "reference", point.reference)
    refuse_value(scale, "reading", point.reading)
    refuse_reference(scale, point.reference_u * math.sqrt(3))


def refuse_value(scale: Scale, name: str, value: float) -> None:
    """Refuse a value that no incubator, bath or room has; `name` says which it is. Raises StatedError."""
    low, high = _LOWEST[scale.quantity.is_temperature], _HIGHEST[scale.quantity.is_temperature]
    if not low <= value <= high:
        raise StatedError(
            f"a {name} of {scale.shown(value):g} {scale.unit} cannot be",
            f"Give {scale.shown(low):g} to {scale.shown(high):g} {scale.unit}.",
        )


def refuse_reference(scale: Scale, accuracy: float) -> None:
    """Refuse a reference by its plus or minus, K or % RH. Raises StatedError."""
    worst = usual(scale.quantity).worst_reference
    if not 0 < accuracy <= worst * (1 + 1e-9):
        stated = scale.shown_difference(accuracy)
        raise StatedError(
            f"a reference that is sure within {stated:.2g} {scale.difference_unit} cannot be used",
            "Give what its certificate or data sheet states, above 0 and at most "
            f"{scale.shown_difference(worst):g} {scale.difference_unit}.",
        )


def _refuse_point(scale: Scale, point: Point) -> None:
    refuse_unlikely(scale.quantity, point, fahrenheit=scale.fahrenheit)
    off = point.reading - point.reference
    if abs(off) > usual(scale.quantity).largest_shift:
        raise StatedError(
            f"the probe says {scale.shown(point.reading):.4g} where {scale.shown(point.reference):.4g} is true; so far "
            "off it is broken, or probe and reference were not at the same place",
            "Let both stand side by side until neither moves, and read again. Replace a probe that stays so far off.",
        )


def _refuse_pair(scale: Scale, one: Point, other: Point) -> None:
    least, unit = usual(scale.quantity).least_span, scale.difference_unit
    true, said = other.reference - one.reference, other.reading - one.reading
    if min(abs(true), abs(said)) < least:
        shown_true, shown_said = (scale.shown_difference(abs(each)) for each in (true, said))
        raise StatedError(
            f"the two points are {shown_true:.3g} {unit} apart and their readings {shown_said:.3g} {unit}; a line "
            "through them would swing",
            f"Take points at least {scale.shown_difference(least):g} {unit} apart, on both sides of where the probe "
            "works, or use one point.",
        )
    if true * said < 0:
        raise StatedError(
            "the reading falls where the reference rises", "The two readings look exchanged; give each with its own."
        )


def _refuse_gain(quantity: Quantity, gain: float) -> None:
    bounds = usual(quantity)
    if not bounds.least_gain <= gain <= bounds.largest_gain:
        raise StatedError(
            f"between the two points the reference changes {gain:.2f} times as much as the probe; a working one needs "
            f"{bounds.least_gain:g} to {bounds.largest_gain:g}",
            "Read both points again after everything has settled. Replace a probe that stays so.",
        )
