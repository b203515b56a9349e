"""Whether water settles on the lid or wall of a box.

Water settles where a surface is at or below the dew point of the air that touches it; the same is said by a relative
humidity at the surface of 100 % or more. The surface temperature comes from a probe on it or, without one, from the
temperature factor of the lid.
"""

from dataclasses import dataclass

from daemon.climate.psychrometrics import (
    HIGHEST_TEMPERATURE_C,
    LOWEST_TEMPERATURE_C,
    SATURATED_PCT,
    dew_point_c,
    saturation_vapour_pressure_pa,
    vapour_pressure_pa,
)

TIE_K = 1e-7
"""Nearer to the dew point than this, the rounding of the equations would decide on which side a surface is."""


@dataclass(frozen=True, slots=True)
class Condensation:
    """The dew point of the air, the surface beside it, and how they were come by.

    `margin_k` is surface minus dew point in kelvin: zero or less means that water settles. Surface, margin and humidity
    at the surface are None where the surface temperature is unknown, and then nothing is said about water. `reason`
    says how the surface temperature is known, or why it is not; the verdict is left to whoever knows the accuracies.
    """

    dew_point_c: float
    surface_temperature_c: float | None
    margin_k: float | None
    surface_humidity_pct: float | None
    reason: str


@dataclass(frozen=True, slots=True)
class SurfaceAir:
    """The air right at a surface, by both forms of the test for water.

    `margin_k` is surface minus dew point, `relative_humidity_pct` that of the same vapour at the temperature of the
    surface; past 100 it says by how much there is too much. The margin is 0 or less exactly where the humidity is 100
    or more.
    """

    margin_k: float
    relative_humidity_pct: float


def surface_air(temperature_c: float, relative_humidity_pct: float, surface_c: float) -> SurfaceAir:
    """Bring the air of a box to the temperature of a surface (°C, %, °C).

    A surface at the dew point is a tie, and both forms then say so with 0 K and 100 %: the equations give back a
    temperature to 1e-8 K, so within `TIE_K` the sign of the difference would be chance. Raises ValueError where an
    argument is outside its range or not a number.
    """
    _require_temperature("surface", surface_c)
    margin_k = surface_c - dew_point_c(temperature_c, relative_humidity_pct)
    if abs(margin_k) < TIE_K:
        return SurfaceAir(0.0, SATURATED_PCT)
    vapour_pa = vapour_pressure_pa(temperature_c, relative_humidity_pct)
    return SurfaceAir(margin_k, SATURATED_PCT * vapour_pa / saturation_vapour_pressure_pa(surface_c))


def surface_temperature_c(inside_c: float, outside_c: float, temperature_factor: float) -> float:
    """Estimate the inner surface temperature of a lid or wall between two airs.

    Parameters
    ----------
    inside_c, outside_c
        Air temperatures on both sides, -40 to 100 degree Celsius.
    temperature_factor
        0 (as cold as outside) to 1 (as warm as inside); the keeper measures it once: (surface - outside) over
        (inside - outside).

    Returns
    -------
    float
        Degree Celsius.

    Raises
    ------
    ValueError
        Where an argument is outside its range or not a number.

    Notes
    -----
    ISO 13788, temperature factor at the internal surface, f = (Ts - Te) / (Ti - Te), solved for Ts. It holds for
    temperatures that have settled; in the minutes after a door was opened the surface lags behind.
    """
    _require_temperature("inside", inside_c)
    _require_temperature("outside", outside_c)
    if not 0 <= temperature_factor <= 1:
        raise ValueError(
            f"A temperature factor of {temperature_factor} is outside 0 to 1; measure the surface and both airs and "
            "take (surface - outside) / (inside - outside)."
        )
    return outside_c + temperature_factor * (inside_c - outside_c)


def condensation(
    temperature_c: float,
    relative_humidity_pct: float,
    surface_c: float | None,
    outside_c: float | None,
    temperature_factor: float | None,
) -> Condensation:
    """Compare a surface with the dew point of the air that touches it.

    Parameters
    ----------
    temperature_c, relative_humidity_pct
        The air in the box: -40 to 100 degree Celsius, 1.5 to 100 percent.
    surface_c
        What a probe on the surface says, degree Celsius; it is believed before any estimate.
    outside_c, temperature_factor
        The air around the box and the temperature factor of its lid, for an estimate without a probe.

    Returns
    -------
    Condensation
        With a reason that names where the surface temperature came from, or what is missing.

    Raises
    ------
    ValueError
        Where an argument that is used is outside its range or not a number.
    """
    dew = dew_point_c(temperature_c, relative_humidity_pct)
    if surface_c is not None:
        at_surface = surface_air(temperature_c, relative_humidity_pct, surface_c)
        return _compared(dew, surface_c, at_surface, "measured by a surface probe")
    if outside_c is not None and temperature_factor is not None:
        estimate = surface_temperature_c(temperature_c, outside_c, temperature_factor)
        origin = f"estimated from the temperature factor {temperature_factor:g} (ISO 13788) and the air outside"
        return _compared(dew, estimate, surface_air(temperature_c, relative_humidity_pct, estimate), origin)
    return Condensation(
        dew, None, None, None, f"Surface temperature unknown: {_missing(outside_c, temperature_factor)}."
    )


def _compared(dew_c: float, surface_c: float, at_surface: SurfaceAir, origin: str) -> Condensation:
    reason = f"Surface temperature {origin}."
    return Condensation(dew_c, surface_c, at_surface.margin_k, at_surface.relative_humidity_pct, reason)


def _missing(outside_c: float | None, temperature_factor: float | None) -> str:
    if outside_c is None and temperature_factor is None:
        return "there is no surface probe, no temperature factor and no temperature of the air outside"
    if outside_c is None:
        return "there is no surface probe, and the temperature of the air outside is not known"
    return "there is no surface probe, and no temperature factor is stated for this box or its incubator"


def _require_temperature(where: str, temperature_c: float) -> None:
    if not LOWEST_TEMPERATURE_C <= temperature_c <= HIGHEST_TEMPERATURE_C:
        raise ValueError(
            f"The {where} temperature of {temperature_c} °C is outside {LOWEST_TEMPERATURE_C:g} to "
            f"{HIGHEST_TEMPERATURE_C:g} °C; check that probe, its cable and its unit (°F? K?)."
        )
