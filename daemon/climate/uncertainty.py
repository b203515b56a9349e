"""How sure a dew point, or a margin to it, is.

The law of propagation of uncertainty to first order, for inputs that are independent of each other
(JCGM 100:2008, the "GUM", 5.1.2, equation 10):

    u(y)^2 = sum over inputs of (df/dx)^2 u(x)^2

The slopes are difference quotients of the functions themselves, so a slope can never belong to another formula than the
value does (JCGM 100:2008, 5.1.3, note 2, allows numerical ones). First order is enough here: for 30 °C, 85 % and a
probe of ±0.2 K and ±2 % the second method, random draws, gives the same figure to 0.001 K.

A maker's "±" without a coverage factor is the half-width of a rectangle (4.3.7). Temperature and humidity are taken as
independent, which holds for a temperature measured at the humidity element itself: warmth that the element brings along
then cancels in the dew point. With the temperature of another probe the difference of the two places comes on top.
Close below 100 % the limits reach past saturation; no air is there, so the figure is then rather too wide.
"""

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from daemon.climate.condensation import surface_air, surface_temperature_c
from daemon.climate.psychrometrics import (
    HIGHEST_TEMPERATURE_C,
    LOWEST_HUMIDITY_PCT,
    LOWEST_TEMPERATURE_C,
    SATURATED_PCT,
    dew_point_c,
)

_STEP = 1e-3
"""Of difference quotients, in K and in %: wide against rounding (1e-11), narrow against curvature (1e-6)."""


@dataclass(frozen=True, slots=True)
class Estimate:
    """A value and its standard uncertainty (k = 1), both in the unit of the value."""

    value: float
    standard_uncertainty: float


@dataclass(frozen=True, slots=True)
class Air:
    """Air as a probe tells it, with the standard uncertainties of the probe: °C, %, K and % (k = 1)."""

    temperature_c: float
    relative_humidity_pct: float
    temperature_u_k: float
    relative_humidity_u_pct: float


@dataclass(frozen=True, slots=True)
class Lid:
    """A lid between two airs, for an estimate without a probe on it: °C, ISO 13788 factor, and k = 1 of both."""

    outside_c: float
    temperature_factor: float
    outside_u_k: float
    temperature_factor_u: float


def standard_uncertainty_of_limits(half_width: float) -> float:
    """Standard uncertainty of a value known to lie within plus or minus a limit, anywhere with equal chance.

    JCGM 100:2008, 4.3.7: half-width over the root of 3. Raises ValueError where the limit is negative or not a finite
    number.
    """
    if not 0 <= half_width < math.inf:
        raise ValueError(
            f"An accuracy of ±{half_width} is not one; give a number from 0 up, as on the probe's data sheet."
        )
    return half_width / math.sqrt(3)


def combined(parts: Iterable[tuple[float, float]]) -> float:
    """Combine (slope, standard uncertainty) of independent inputs: JCGM 100:2008, 5.1.2, equation 10."""
    return math.hypot(*(slope * uncertainty for slope, uncertainty in parts))


def of_air(quantity: Callable[[float, float], float], air: Air) -> Estimate:
    """Evaluate a function of air temperature (°C) and relative humidity (%), with the uncertainty the probe leaves.

    Made for those of `daemon.climate.psychrometrics`; the estimate is in the unit of the function. Raises ValueError
    where the air is outside the range of the function or an uncertainty is negative.
    """
    value = quantity(air.temperature_c, air.relative_humidity_pct)
    by_temperature, by_humidity = _slopes(quantity, air)
    return Estimate(value, _combined_for(air, by_temperature, by_humidity))


def margin_at_probe(air: Air, surface_c: float, surface_u_k: float, shared_u_k: float = 0.0) -> Estimate:
    """Surface minus dew point, in kelvin, with a probe of its own on the surface.

    Parameters
    ----------
    air
        The air; its `temperature_u_k` is what that probe errs on its own.
    surface_c, surface_u_k
        The surface, °C, and what its probe errs on its own, K (k = 1).
    shared_u_k
        Standard uncertainty of an offset that both thermometers have alike, K, as of two that were compared with one
        reference. It raises surface and dew point together, so only (1 - dTd/dT) of it is left in the margin: 2 % at
        30 °C and 85 %. That is equation 13 of JCGM 100:2008, 5.2.2, for a correlation by a common part (F.1.2.3).

    Returns
    -------
    Estimate
        Kelvin; 0 or less means water.

    Raises
    ------
    ValueError
        Where a value is outside its range or an uncertainty is negative.
    """
    by_temperature, by_humidity = _slopes(dew_point_c, air)
    margin_k = surface_air(air.temperature_c, air.relative_humidity_pct, surface_c).margin_k
    shared = (1.0 - by_temperature, shared_u_k)
    return Estimate(margin_k, _combined_for(air, -by_temperature, -by_humidity, (1.0, surface_u_k), shared))


def margin_by_factor(air: Air, lid: Lid) -> Estimate:
    """Surface minus dew point, in kelvin, with the surface estimated by the temperature factor of ISO 13788.

    The air temperature is in the surface as well as in the dew point, so its slope is the difference of both: an error
    of that probe mostly cancels. Raises ValueError as `surface_temperature_c` and `dew_point_c` do.
    """
    by_temperature, by_humidity = _slopes(dew_point_c, air)
    surface_c = surface_temperature_c(air.temperature_c, lid.outside_c, lid.temperature_factor)
    margin_k = surface_air(air.temperature_c, air.relative_humidity_pct, surface_c).margin_k
    uncertainty_k = _combined_for(
        air,
        lid.temperature_factor - by_temperature,
        -by_humidity,
        (1 - lid.temperature_factor, lid.outside_u_k),
        (air.temperature_c - lid.outside_c, lid.temperature_factor_u),
    )
    return Estimate(margin_k, uncertainty_k)


def probability_of_water(margin: Estimate) -> float:
    """Probability, 0 to 1, that the surface is at or below the dew point.

    Of a normal distribution around the margin: JCGM 100:2008, G.2, for several inputs of like weight. With one input
    far above the others the tails are shorter than that.
    """
    if margin.standard_uncertainty == 0:
        return 1.0 if margin.value <= 0 else 0.0
    return math.erfc(margin.value / margin.standard_uncertainty / math.sqrt(2)) / 2


def _combined_for(air: Air, by_temperature: float, by_humidity: float, *others: tuple[float, float]) -> float:
    parts = ((by_temperature, air.temperature_u_k), (by_humidity, air.relative_humidity_u_pct), *others)
    for _, uncertainty in parts:
        if not 0 <= uncertainty < math.inf:
            raise ValueError(f"A standard uncertainty of {uncertainty} is not one; give a number from 0 up.")
    return combined(parts)


def _slopes(quantity: Callable[[float, float], float], air: Air) -> tuple[float, float]:
    """How much the quantity changes per kelvin, and per percent of relative humidity."""
    temperature_c, humidity_pct = air.temperature_c, air.relative_humidity_pct
    return (
        _slope(lambda at: quantity(at, humidity_pct), temperature_c, LOWEST_TEMPERATURE_C, HIGHEST_TEMPERATURE_C),
        _slope(lambda at: quantity(temperature_c, at), humidity_pct, LOWEST_HUMIDITY_PCT, SATURATED_PCT),
    )


def _slope(function: Callable[[float], float], at: float, lowest: float, highest: float) -> float:
    """Central difference quotient; one-sided at an edge of the range, so that saturated air has slopes too."""
    below, above = max(at - _STEP, lowest), min(at + _STEP, highest)
    return (function(above) - function(below)) / (above - below)
