"""Moist air for the simulated world. The daemon has formulas of its own; the two are kept apart on purpose.

A simulation that shared its formulas with the daemon could not show a fault in them.
"""

import math

KELVIN = 273.15
VAPOUR_GAS_CONSTANT_J_KG_K = 461.52
"""Molar gas constant over the molar mass of water: 8.314462618 / 0.01801528 (CODATA 2018, IAPWS)."""

_BUCK_PA, _BUCK_A, _BUCK_B, _BUCK_C = 611.21, 18.678, 234.5, 257.14


def saturation_pressure_pa(temperature_c: float) -> float:
    """Saturation vapour pressure over water, pascal, from degree Celsius.

    Buck Research, Model CR-1A user's manual, appendix 1 (1996), a revision of Buck, J. Appl. Meteor. 20 (1981)
    1527-1532: e = 6.1121 hPa exp((18.678 - t/234.5) t/(257.14 + t)). Used here from 0 to 60 degree Celsius, where
    it stays within about 0.1 % of newer formulas.
    """
    return _BUCK_PA * math.exp((_BUCK_A - temperature_c / _BUCK_B) * temperature_c / (_BUCK_C + temperature_c))


def equilibrium_density_kg_m3(water_c: float, air_c: float) -> float:
    """Vapour in air at `air_c` that is in balance with water at `water_c`, kg/m3, as an ideal gas: e_s / (R_v T).

    The balance is one of vapour pressure, not of density: air that is warmer than the water holds less at the same
    pressure. With both the same it is the saturation density.
    """
    # Written out instead of calling saturation_pressure_pa: this is the innermost line of a simulated season.
    exponent = (_BUCK_A - water_c / _BUCK_B) * water_c / (_BUCK_C + water_c)
    return _BUCK_PA * math.exp(exponent) / (VAPOUR_GAS_CONSTANT_J_KG_K * (air_c + KELVIN))


def dew_point_c(density_kg_m3: float, temperature_c: float) -> float:
    """Dew point, degree Celsius: the exact inverse of the same Buck equation (a quadratic in t)."""
    pressure_pa = density_kg_m3 * VAPOUR_GAS_CONSTANT_J_KG_K * (temperature_c + KELVIN)
    logarithm = math.log(pressure_pa / _BUCK_PA)
    half = _BUCK_A - logarithm
    return _BUCK_B / 2 * (half - math.sqrt(half * half - 4 * _BUCK_C * logarithm / _BUCK_B))
