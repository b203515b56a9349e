"""Whether a lid counts as wet, and what its temperature factor has to be. Pure.

The verdict has a deadband, so that a surface that lies at the dew point does not turn wet and dry with every reading.
The temperature factor of ISO 13788, f = (Ts - Te) / (Ti - Te), is measured once; with it and the two airs a lid has a
margin without a probe of its own. Uncertainties are those of JCGM 100:2008, 5.1.2, equation 10.
"""

from daemon.climate.cooling import RoomAir
from daemon.climate.psychrometrics import dew_point_c
from daemon.climate.uncertainty import (
    Air,
    Estimate,
    Lid,
    combined,
    margin_at_probe,
    margin_by_factor,
    of_air,
    standard_uncertainty_of_limits,
)

DEADBAND_K = 0.2
"""A wet surface counts as wet until it is this far above the dew point. About three times what neighbouring readings
differ by: a thermometer of 1/16 K steps on the lid, and 0.2 % RH of noise, which is 0.04 K of dew point. This
project's choice."""

MOULD_HUMIDITY_PCT = 80.0
"""Relative humidity at a surface from which mould may grow on it: the criterion of ISO 13788 for walls of buildings,
as a monthly mean. A lid of a box for eggs is often above it; it is information, and no limit of a clutch."""

FACTOR_LIMIT = 0.05
"""Half-width of a temperature factor that a keeper measured once. Common practice, no source."""
_LEAST_DIFFERENCE = 5.0
"""Inside and outside air must differ by this many standard uncertainties of the difference. The quotient is then still
nearly a straight line of its inputs, which the first order needs."""


def water_settles(margin_k: float, settled_before: bool) -> bool:
    """Tell whether water is on the surface: at the dew point or below, and after that until `DEADBAND_K` above it."""
    return margin_k <= 0 or (settled_before and margin_k < DEADBAND_K)


def lid_in(room: RoomAir | None, temperature_factor: float | None) -> Lid | None:
    """Give the lid between a place and its room, by a factor that a keeper measured once; None where one is unknown."""
    if room is None or temperature_factor is None:
        return None
    return Lid(room.temperature_c, temperature_factor, room.u_k, standard_uncertainty_of_limits(FACTOR_LIMIT))


def margin_of(air: Air, surface: Estimate | None, lid: Lid | None) -> Estimate | None:
    """Surface minus dew point, kelvin: from the probe on the surface, else from the lid's factor, else None."""
    if surface is not None:
        return margin_at_probe(air, surface.value, surface.standard_uncertainty)
    return None if lid is None else margin_by_factor(air, lid)


def temperature_factor(inside: Estimate, outside: Estimate, surface: Estimate) -> Estimate:
    """Work out the temperature factor of a lid or wall from three temperatures that have settled.

    Parameters
    ----------
    inside, outside, surface
        Air in the box, air around it, inner side of the lid; °C and K (k = 1), erring independently.

    Returns
    -------
    Estimate
        Without a unit: 0 as cold as outside, 1 as warm as inside.

    Raises
    ------
    ValueError
        Where both airs are too alike for a factor.

    Notes
    -----
    ISO 13788, temperature factor at the internal surface. Its slopes are 1/(Ti - Te) to the surface, -f/(Ti - Te) to
    the inside and (f - 1)/(Ti - Te) to the outside.
    """
    difference_k = _difference(inside, outside)
    factor = (surface.value - outside.value) / difference_k
    parts = (
        (1 / difference_k, surface.standard_uncertainty),
        (-factor / difference_k, inside.standard_uncertainty),
        ((factor - 1) / difference_k, outside.standard_uncertainty),
    )
    return Estimate(factor, combined(parts))


def least_temperature_factor(air: Air, outside: Estimate) -> Estimate:
    """Work out the temperature factor below which water settles on a lid.

    Parameters
    ----------
    air
        In the box.
    outside
        The air around it, °C and K (k = 1).

    Returns
    -------
    Estimate
        Without a unit. 1 for saturated air; 0 or less where even a lid as cold as the air outside stays dry.

    Raises
    ------
    ValueError
        Where both airs are too alike for a factor, or the air is outside its range.

    Notes
    -----
    ISO 13788, the factor at which the surface is at the dew point: (Td - Te) / (Ti - Te).
    """
    difference_k = _difference(Estimate(air.temperature_c, air.temperature_u_k), outside)

    def factor(temperature_c: float, relative_humidity_pct: float) -> float:
        return (dew_point_c(temperature_c, relative_humidity_pct) - outside.value) / (temperature_c - outside.value)

    by_air = of_air(factor, air)
    by_outside = ((by_air.value - 1) / difference_k, outside.standard_uncertainty)
    return Estimate(by_air.value, combined([(1.0, by_air.standard_uncertainty), by_outside]))


def _difference(inside: Estimate, outside: Estimate) -> float:
    difference_k = inside.value - outside.value
    spread_k = combined([(1.0, inside.standard_uncertainty), (1.0, outside.standard_uncertainty)])
    if difference_k == 0 or abs(difference_k) < _LEAST_DIFFERENCE * spread_k:
        raise ValueError(
            f"Inside ({inside.value:.1f} °C) and outside ({outside.value:.1f} °C) are too alike for a temperature "
            f"factor: they must differ by {_LEAST_DIFFERENCE * spread_k:.1f} K or more. Measure when the room is "
            "colder, or with better thermometers."
        )
    return difference_k
