"""Our equations against libraries of others and against formulas of others, at random points.

The seed is fixed and named in every failure.
"""

import math
import random

import psychrolib
import pytest

from daemon.climate.psychrometrics import (
    absolute_humidity_g_m3,
    dew_point_c,
    saturation_vapour_pressure_pa,
    vapour_pressure_pa,
)

SEED = 13788
POINTS = 400
TRIPLE_POINT_C = 0.01


def random_air(lowest_humidity_pct: float = 30) -> list[tuple[float, float]]:
    """Air of incubators and their rooms: 15 to 40 °C, with a dew point above the triple point."""
    generator = random.Random(SEED)
    points = [(generator.uniform(15, 40), generator.uniform(lowest_humidity_pct, 100)) for _ in range(POINTS)]
    return [air for air in points if dew_point_c(*air) > TRIPLE_POINT_C]


def test_saturation_pressure_is_that_of_another_coding_of_the_same_release() -> None:
    from CoolProp.CoolProp import PropsSI  # large: only in the process that runs this

    # CoolProp carries IAPWS-IF97 as a separate back end; the same equations, so only rounding may differ.
    generator = random.Random(SEED)
    for _ in range(POINTS):
        temperature_c = generator.uniform(TRIPLE_POINT_C, 100)
        expected_pa = PropsSI("P", "T", temperature_c + 273.15, "Q", 0, "IF97::Water")
        assert saturation_vapour_pressure_pa(temperature_c) == pytest.approx(expected_pa, rel=1e-11), f"seed {SEED}"


def test_dew_point_is_within_2_mk_of_iapws_95() -> None:
    from CoolProp.CoolProp import PropsSI

    # CoolProp's Water is IAPWS-95, the scientific formulation; its own pressure and its own inverse.
    air = random_air()
    assert len(air) > POINTS * 0.95
    for temperature_c, humidity_pct in air:
        pressure_pa = humidity_pct / 100 * PropsSI("P", "T", temperature_c + 273.15, "Q", 1, "Water")
        expected_c = PropsSI("T", "P", pressure_pa, "Q", 1, "Water") - 273.15
        assert dew_point_c(temperature_c, humidity_pct) == pytest.approx(expected_c, abs=0.002), f"seed {SEED}"


def test_dew_point_is_within_12_mk_of_real_moist_air() -> None:
    from CoolProp.CoolProp import HAPropsSI

    # HAPropsSI treats air and vapour as real gases at 101 325 Pa. What we leave out (the enhancement factor) is worth
    # at most 0.0103 K here, in the dry hot corner; 0.002 K more for the saturation line.
    for temperature_c, humidity_pct in random_air():
        expected_c = HAPropsSI("D", "T", temperature_c + 273.15, "R", humidity_pct / 100, "P", 101_325) - 273.15
        assert dew_point_c(temperature_c, humidity_pct) == pytest.approx(expected_c, abs=0.0125), f"seed {SEED}"


def test_absolute_humidity_is_within_0_6_percent_of_real_moist_air() -> None:
    from CoolProp.CoolProp import HAPropsSI

    # The enhancement factor (1.004 to 1.005) and nothing else: ours must be the lower one.
    for temperature_c, humidity_pct in random_air():
        state = ("T", temperature_c + 273.15, "R", humidity_pct / 100, "P", 101_325)
        expected_g_m3 = 1000 * HAPropsSI("W", *state) / HAPropsSI("Vda", *state)
        ratio = expected_g_m3 / absolute_humidity_g_m3(temperature_c, humidity_pct)
        assert 1.003 < ratio < 1.006, f"seed {SEED}"


def test_vapour_pressure_and_dew_point_agree_with_hyland_and_wexler() -> None:
    # PsychroLib codes Hyland and Wexler 1983 (ASHRAE), 0.02 % below IF97 here, and solves the dew point by Newton
    # steps to 0.001 K; the two lines are 0.003 K apart at most. Its switch to ice below 0 °C is avoided.
    psychrolib.SetUnitSystem(psychrolib.SI)
    for temperature_c, humidity_pct in random_air():
        expected_pa = psychrolib.GetVapPresFromRelHum(temperature_c, humidity_pct / 100)
        expected_c = psychrolib.GetTDewPointFromRelHum(temperature_c, humidity_pct / 100)
        assert vapour_pressure_pa(temperature_c, humidity_pct) == pytest.approx(expected_pa, rel=2e-4), f"seed {SEED}"
        assert dew_point_c(temperature_c, humidity_pct) == pytest.approx(expected_c, abs=0.004), f"seed {SEED}"


def murphy_koop_pa(temperature_c: float) -> float:
    """Murphy and Koop 2005 (Q. J. R. Meteorol. Soc. 131, 1539-1565), equation 10: over liquid water, 123 to 332 K."""
    kelvin = temperature_c + 273.15
    low = 54.842763 - 6763.22 / kelvin - 4.210 * math.log(kelvin) + 0.000367 * kelvin
    bend = 53.878 - 1331.22 / kelvin - 9.44523 * math.log(kelvin) + 0.014025 * kelvin
    return math.exp(low + math.tanh(0.0415 * (kelvin - 218.8)) * bend)


@pytest.mark.parametrize(
    ("dew_c", "air_c", "tolerance_k", "tolerance"),
    [(-5, 20, 1e-4, 1e-5), (-20, 20, 0.005, 5e-4), (-30, 20, 0.0065, 6e-4), (-40, 0, 0.025, 25e-4)],
)
def test_the_extrapolation_over_supercooled_water_stays_close_to_murphy_and_koop(
    dew_c: float, air_c: float, tolerance_k: float, tolerance: float
) -> None:
    # The release stops at 0 °C; the tolerances are those that the module's head states.
    assert saturation_vapour_pressure_pa(dew_c) == pytest.approx(murphy_koop_pa(dew_c), rel=tolerance)
    humidity_pct = 100 * murphy_koop_pa(dew_c) / saturation_vapour_pressure_pa(air_c)
    assert dew_point_c(air_c, humidity_pct) == pytest.approx(dew_c, abs=tolerance_k)
