"""Water in air: saturation pressure, dew point, vapour pressure, vapour pressure deficit, absolute humidity.

All of it rests on one pair of equations, the saturation line of the IAPWS Industrial Formulation 1997 (release
R7-97(2012), equations 30 and 31). Equation 31 is the exact inverse of equation 30, so the dew point needs no iteration
and saturated air gives back its own temperature.

Validity. The release covers 0 °C to 373.946 °C; this module takes -40 °C to 100 °C. Below 0.01 °C water on the line is
supercooled and the equations are extrapolated: down to -40 °C they stay within 0.25 % in pressure and 0.025 K in dew
point of Murphy and Koop 2005 (Q. J. R. Meteorol. Soc. 131, 1539-1565, equation 10); colder dew points are indicative
only. A dew point below zero is over liquid water, as a humidity probe reports it; the frost point is a little higher.

Left out on purpose: the enhancement factor (that air is not a perfect gas mixed with vapour). It nearly cancels in the
dew point (0.011 K at most for 15 to 40 °C and 30 to 100 %) and makes the other quantities about 0.5 % too low, which is
less than what 1 % of relative humidity does.
"""

import math

LOWEST_TEMPERATURE_C = -40.0
HIGHEST_TEMPERATURE_C = 100.0
LOWEST_HUMIDITY_PCT = 1.5
"""Below this a number is a fraction (0.85 for 85 %) or a dead probe, not the air of an incubator or its room."""
SATURATED_PCT = 100

ZERO_CELSIUS_K = 273.15
WATER_VAPOUR_GAS_CONSTANT = 461.5228
"""J/(kg K): the molar gas constant 8.314462618 J/(mol K) over the molar mass of water 0.01801528 kg/mol."""

# Coefficients n1 to n10 of the release, table 34.
_N1 = 0.11670521452767e4
_N2 = -0.72421316703206e6
_N3 = -0.17073846940092e2
_N4 = 0.12020824702470e5
_N5 = -0.32325550322333e7
_N6 = 0.14915108613530e2
_N7 = -0.48232657361591e4
_N8 = 0.40511340542057e6
_N9 = -0.23855557567849
_N10 = 0.65017534844798e3
_PA_PER_MPA = 1e6


def saturation_vapour_pressure_pa(temperature_c: float) -> float:
    """Pressure of water vapour over liquid water at equilibrium.

    Parameters
    ----------
    temperature_c
        -40 to 100 degree Celsius; below 0.01 °C extrapolated over supercooled water.

    Returns
    -------
    float
        Pascal.

    Raises
    ------
    ValueError
        Where the temperature is outside the range or not a number.

    Notes
    -----
    IAPWS R7-97(2012), equation 30; within 0.01 % of IAPWS-95 for 0.01 to 50 °C.
    """
    _require_temperature(temperature_c)
    kelvin = temperature_c + ZERO_CELSIUS_K
    theta = kelvin + _N9 / (kelvin - _N10)
    a = (theta + _N1) * theta + _N2
    b = (_N3 * theta + _N4) * theta + _N5
    c = (_N6 * theta + _N7) * theta + _N8
    root: float = 2 * c / (-b + math.sqrt(b * b - 4 * a * c))
    return root**4 * _PA_PER_MPA


def vapour_pressure_pa(temperature_c: float, relative_humidity_pct: float) -> float:
    """Pressure of the water vapour in the air.

    Parameters
    ----------
    temperature_c
        Air temperature, -40 to 100 degree Celsius.
    relative_humidity_pct
        Percent over liquid water, 1.5 to 100.

    Returns
    -------
    float
        Pascal: relative humidity times the saturation pressure (the definition of WMO-No. 8, annex 4.A).

    Raises
    ------
    ValueError
        Where an argument is outside its range or not a number.
    """
    _require_humidity(relative_humidity_pct)
    return relative_humidity_pct / 100 * saturation_vapour_pressure_pa(temperature_c)


def dew_point_c(temperature_c: float, relative_humidity_pct: float) -> float:
    """Temperature at which water begins to settle from this air, over liquid water.

    Parameters
    ----------
    temperature_c
        Air temperature, -40 to 100 degree Celsius.
    relative_humidity_pct
        Percent over liquid water, 1.5 to 100.

    Returns
    -------
    float
        Degree Celsius; at 100 % the air temperature itself to 1e-8 K.

    Raises
    ------
    ValueError
        Where an argument is outside its range or not a number.

    Notes
    -----
    IAPWS R7-97(2012), equation 31 at the vapour pressure; within 0.002 K of IAPWS-95 for 15 to 40 °C and 30 to 100 %
    with a dew point above 0 °C. Below, see the validity in the head of this module.
    """
    beta: float = (vapour_pressure_pa(temperature_c, relative_humidity_pct) / _PA_PER_MPA) ** 0.25
    e = (beta + _N3) * beta + _N6
    f = (_N1 * beta + _N4) * beta + _N7
    g = (_N2 * beta + _N5) * beta + _N8
    d = 2 * g / (-f - math.sqrt(f * f - 4 * e * g))
    total = _N10 + d
    return (total - math.sqrt(total * total - 4 * (_N9 + _N10 * d))) / 2 - ZERO_CELSIUS_K


def vapour_pressure_deficit_pa(temperature_c: float, relative_humidity_pct: float) -> float:
    """How much more vapour pressure the air could take up: the pull that dries a shell or a medium.

    Parameters
    ----------
    temperature_c
        Air temperature, -40 to 100 degree Celsius.
    relative_humidity_pct
        Percent over liquid water, 1.5 to 100.

    Returns
    -------
    float
        Pascal: saturation pressure times (1 - relative humidity), 0 for saturated air.

    Raises
    ------
    ValueError
        Where an argument is outside its range or not a number.
    """
    _require_humidity(relative_humidity_pct)
    return (1 - relative_humidity_pct / 100) * saturation_vapour_pressure_pa(temperature_c)


def absolute_humidity_g_m3(temperature_c: float, relative_humidity_pct: float) -> float:
    """Mass of water vapour in a volume of air.

    Parameters
    ----------
    temperature_c
        Air temperature, -40 to 100 degree Celsius.
    relative_humidity_pct
        Percent over liquid water, 1.5 to 100.

    Returns
    -------
    float
        Gram per cubic metre: e / (R_v T), the ideal gas law with R_v = 461.5228 J/(kg K).

    Raises
    ------
    ValueError
        Where an argument is outside its range or not a number.
    """
    pressure_pa = vapour_pressure_pa(temperature_c, relative_humidity_pct)
    return 1000 * pressure_pa / (WATER_VAPOUR_GAS_CONSTANT * (temperature_c + ZERO_CELSIUS_K))


def _require_temperature(temperature_c: float) -> None:
    if not LOWEST_TEMPERATURE_C <= temperature_c <= HIGHEST_TEMPERATURE_C:
        raise ValueError(
            f"A temperature of {temperature_c} °C is outside {LOWEST_TEMPERATURE_C:g} to {HIGHEST_TEMPERATURE_C:g} °C, "
            "where the vapour pressure of water is known here; check the probe, its cable and its unit (°F? K?)."
        )


def _require_humidity(relative_humidity_pct: float) -> None:
    if LOWEST_HUMIDITY_PCT <= relative_humidity_pct <= SATURATED_PCT:
        return
    if 0 < relative_humidity_pct < LOWEST_HUMIDITY_PCT:
        advice = f"Give percent, not a fraction: {relative_humidity_pct:g} would be {100 * relative_humidity_pct:g} %."
    elif relative_humidity_pct > SATURATED_PCT:
        advice = "A probe a little above 100 sits in saturated air: use 100. Further above, dry it and check it."
    else:
        advice = "Air without any vapour has no dew point: check the probe and its cable."
    raise ValueError(
        f"A relative humidity of {relative_humidity_pct} % is outside {LOWEST_HUMIDITY_PCT:g} to 100 %. {advice}"
    )
