"""How sure a dew point is: published slopes, another formula, random draws, direction and bounds."""

import math
from collections.abc import Callable
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daemon.climate.psychrometrics import (
    absolute_humidity_g_m3,
    dew_point_c,
    vapour_pressure_deficit_pa,
    vapour_pressure_pa,
)
from daemon.climate.uncertainty import (
    Air,
    Estimate,
    Lid,
    combined,
    margin_at_probe,
    margin_by_factor,
    of_air,
    probability_of_water,
    standard_uncertainty_of_limits,
)
from tests.support.tables import read_table

ROWS = read_table("dewpoint-uncertainty-check.csv")
SEED = 100_2008
DRAWS = 40_000
AIR_C = st.floats(15, 40)
HUMIDITY_PCT = st.floats(30, 100)


def of_limits(temperature_c: float, humidity_pct: float, limit_k: float = 0.2, limit_pct: float = 2.0) -> Air:
    limits = standard_uncertainty_of_limits
    return Air(temperature_c, humidity_pct, limits(limit_k), limits(limit_pct))


def row_id(row: dict[str, str]) -> str:
    return f"{row['temperature_c']}C-{row['relative_humidity_pct']}pct"


@pytest.mark.parametrize("row", ROWS, ids=row_id)
def test_slopes_and_uncertainty_of_the_dew_point_agree_with_the_table(row: dict[str, str]) -> None:
    air_c, humidity_pct = float(row["temperature_c"]), float(row["relative_humidity_pct"])
    by_temperature = of_air(dew_point_c, Air(air_c, humidity_pct, 1, 0)).standard_uncertainty
    by_humidity = of_air(dew_point_c, Air(air_c, humidity_pct, 0, 1)).standard_uncertainty
    limits = of_air(dew_point_c, of_limits(air_c, humidity_pct))
    standard = of_air(dew_point_c, Air(air_c, humidity_pct, 0.1, 1.0))
    # The table is printed to 0.0001; half of that is its rounding.
    assert limits.value == pytest.approx(float(row["dew_point_c"]), abs=6e-5), row["source"]
    assert by_temperature == pytest.approx(float(row["slope_k_per_k"]), abs=6e-5), row["source"]
    assert by_humidity == pytest.approx(float(row["slope_k_per_pct"]), abs=6e-5), row["source"]
    assert limits.standard_uncertainty == pytest.approx(float(row["u_of_limits_k"]), abs=6e-5), row["source"]
    assert standard.standard_uncertainty == pytest.approx(float(row["u_of_standard_k"]), abs=6e-5), row["source"]


@pytest.mark.parametrize("row", ROWS, ids=row_id)
def test_slopes_are_those_of_the_saturation_line_of_iapws_95(row: dict[str, str]) -> None:
    from CoolProp.CoolProp import PropsSI  # large: only in the process that runs this

    # With s = d ln e / dT along the saturation line, dTd/dT = s(T)/s(Td) and dTd/dRH = 1/(RH s(Td)); s analytically
    # by CoolProp from IAPWS-95. IAPWS-IF97 differs by 0.007 % in e at most, and by less than 0.05 % in its slope.
    def log_slope(temperature_c: float) -> float:
        kelvin = temperature_c + 273.15
        slope: float = PropsSI("d(P)/d(T)|sigma", "T", kelvin, "Q", 0, "Water")
        return slope / PropsSI("P", "T", kelvin, "Q", 0, "Water")

    air_c, humidity_pct = float(row["temperature_c"]), float(row["relative_humidity_pct"])
    dew_c = dew_point_c(air_c, humidity_pct)
    by_temperature = of_air(dew_point_c, Air(air_c, humidity_pct, 1, 0)).standard_uncertainty
    by_humidity = of_air(dew_point_c, Air(air_c, humidity_pct, 0, 1)).standard_uncertainty
    assert by_temperature == pytest.approx(log_slope(air_c) / log_slope(dew_c), rel=5e-4)
    assert by_humidity == pytest.approx(1 / (humidity_pct * log_slope(dew_c)), rel=5e-4)


@pytest.mark.parametrize("row", ROWS, ids=row_id)
def test_slopes_are_near_the_closed_form_of_the_wmo_magnus_formula(row: dict[str, str]) -> None:
    # WMO-No. 8, annex 4.B: ln e = 17.62 t/(243.12 + t) + constant, so dTd/dT = ((Td + c)/(T + c))^2 and
    # dTd/dRH = (Td + c)^2/(b c RH). That formula errs by up to 0.3 % in e; 0.5 % covers its slopes here.
    air_c, humidity_pct = float(row["temperature_c"]), float(row["relative_humidity_pct"])
    b, c, dew_c = 17.62, 243.12, float(row["dew_point_c"])
    found = of_air(dew_point_c, Air(air_c, humidity_pct, 1, 0)).standard_uncertainty
    assert found == pytest.approx(((dew_c + c) / (air_c + c)) ** 2, rel=5e-3)
    found = of_air(dew_point_c, Air(air_c, humidity_pct, 0, 1)).standard_uncertainty
    assert found == pytest.approx((dew_c + c) ** 2 / (b * c * humidity_pct), rel=5e-3)


@pytest.mark.parametrize(
    "quantity", [dew_point_c, vapour_pressure_pa, vapour_pressure_deficit_pa, absolute_humidity_g_m3]
)
@pytest.mark.parametrize(("air_c", "humidity_pct"), [(30, 85), (28, 60), (22, 45)])
def test_random_draws_spread_as_the_first_order_says(
    quantity: Callable[[float, float], float], air_c: float, humidity_pct: float
) -> None:
    # The standard deviation of n rectangular draws has a relative spread of 0.45/sqrt(n), here 0.2 %; 1 % is 5 of it.
    draw = np.random.default_rng(SEED)
    temperatures_c = draw.uniform(air_c - 0.2, air_c + 0.2, DRAWS).tolist()
    humidities_pct = draw.uniform(humidity_pct - 2, humidity_pct + 2, DRAWS).tolist()
    spread = float(np.std([quantity(*each) for each in zip(temperatures_c, humidities_pct, strict=True)]))
    found = of_air(quantity, of_limits(air_c, humidity_pct))
    assert found.standard_uncertainty == pytest.approx(spread, rel=0.01), f"seed {SEED}"


def test_random_draws_of_a_lid_spread_and_drip_as_the_first_order_says() -> None:
    # Air 30 °C and 85 %, room 20 °C, factor 0.74: surface 27.4 °C, the dew point 27.2 °C.
    draw = np.random.default_rng(SEED)
    air, half = of_limits(30, 85), standard_uncertainty_of_limits
    lid = Lid(20, 0.74, half(1.0), half(0.05))
    inside_c, humidity_pct = draw.uniform(29.8, 30.2, DRAWS), draw.uniform(83, 87, DRAWS)
    outside_c, factor = draw.uniform(19, 21, DRAWS), draw.uniform(0.69, 0.79, DRAWS)
    dew_c = np.array([dew_point_c(*each) for each in zip(inside_c.tolist(), humidity_pct.tolist(), strict=True)])
    margins_k = outside_c + factor * (inside_c - outside_c) - dew_c
    found = margin_by_factor(air, lid)
    assert found.value == pytest.approx(float(np.mean(margins_k)), abs=0.01), f"seed {SEED}"
    assert found.standard_uncertainty == pytest.approx(float(np.std(margins_k)), rel=0.01), f"seed {SEED}"
    assert probability_of_water(found) == pytest.approx(float(np.mean(margins_k <= 0)), abs=0.03), f"seed {SEED}"


@settings(derandomize=True, deadline=None, max_examples=300)
@given(air_c=AIR_C, humidity_pct=HUMIDITY_PCT, limit_k=st.floats(0, 1), limit_pct=st.floats(0, 5))
def test_uncertainty_lies_between_its_larger_part_and_the_sum_and_falls_with_humidity(
    air_c: float, humidity_pct: float, limit_k: float, limit_pct: float
) -> None:
    both = of_air(dew_point_c, of_limits(air_c, humidity_pct, limit_k, limit_pct)).standard_uncertainty
    by_temperature = of_air(dew_point_c, of_limits(air_c, humidity_pct, limit_k, 0)).standard_uncertainty
    by_humidity = of_air(dew_point_c, of_limits(air_c, humidity_pct, 0, limit_pct)).standard_uncertainty
    assert max(by_temperature, by_humidity) <= both * (1 + 1e-12)
    assert both <= (by_temperature + by_humidity) * (1 + 1e-12)
    drier = of_air(dew_point_c, of_limits(air_c, humidity_pct - 10, 0, limit_pct)).standard_uncertainty
    assert drier >= by_humidity


@pytest.mark.parametrize("row", ROWS, ids=row_id)
def test_the_worst_corner_lies_beyond_one_and_within_three_standard_uncertainties(row: dict[str, str]) -> None:
    # Two rectangles end at sqrt(3) to sqrt(6) times their combined standard deviation; 3 leaves room for curvature.
    air_c, humidity_pct = float(row["temperature_c"]), float(row["relative_humidity_pct"])
    middle = of_air(dew_point_c, of_limits(air_c, humidity_pct, 0.2, 1.0))
    corners = [dew_point_c(air_c + t, humidity_pct + h) for t, h in product((-0.2, 0.2), (-1.0, 1.0))]
    worst_k = max(abs(corner - middle.value) for corner in corners)
    assert math.sqrt(3) * middle.standard_uncertainty < worst_k < 3 * middle.standard_uncertainty


def test_saturated_and_very_dry_air_at_the_ends_of_the_range_have_an_uncertainty() -> None:
    # For saturated air the dew point is the air temperature: slope 1 to the last figure.
    assert of_air(dew_point_c, Air(30, 100, 0.1, 0)).standard_uncertainty == pytest.approx(0.1, rel=1e-5)
    assert of_air(dew_point_c, Air(30, 1.5, 0, 0.1)).standard_uncertainty > 0.5
    assert of_air(dew_point_c, Air(-40, 50, 0.1, 0)).standard_uncertainty > 0
    assert of_air(dew_point_c, Air(100, 50, 0.1, 0)).standard_uncertainty > 0


def test_a_shared_offset_of_both_probes_falls_out_of_the_margin() -> None:
    # By the slope 0.9791 of the table at 30 °C and 85 %: an offset d moves the margin by (1 - 0.9791) d.
    together = Air(30, 85, 0.2, 0)
    assert margin_by_factor(together, Lid(20, 1.0, 0.0, 0.0)).standard_uncertainty == pytest.approx(
        0.0209 * 0.2, abs=2e-5
    )
    assert margin_at_probe(together, 29, 0.2).standard_uncertainty == pytest.approx(
        0.2 * math.hypot(1, 0.9791), abs=2e-5
    )


def test_the_parts_add_in_squares() -> None:
    assert combined([(2.0, 1.5), (-1.0, 4.0)]) == 5.0  # 3-4-5
    assert standard_uncertainty_of_limits(0.3) == pytest.approx(0.3 / 1.7320508)
    assert combined([]) == 0.0


@pytest.mark.parametrize(
    ("margin_k", "u_k", "probability"),
    # Standard normal table: 1.6449 standard deviations leave 5 %, 1.9600 leave 2.5 %.
    [(0.0, 0.3, 0.5), (1.6449, 1.0, 0.05), (0.98, 0.5, 0.025), (-1.6449, 1.0, 0.95), (0.1, 0, 0.0), (-0.1, 0, 1.0)],
)
def test_the_chance_of_water_is_that_of_the_normal_distribution(
    margin_k: float, u_k: float, probability: float
) -> None:
    assert probability_of_water(Estimate(margin_k, u_k)) == pytest.approx(probability, abs=1e-5)


@pytest.mark.parametrize("wrong", [-0.1, math.nan, math.inf])
def test_an_accuracy_that_is_none_is_refused(wrong: float) -> None:
    with pytest.raises(ValueError, match="is not one"):
        standard_uncertainty_of_limits(wrong)
    with pytest.raises(ValueError, match="is not one"):
        of_air(dew_point_c, Air(30, 85, wrong, 1))
    with pytest.raises(ValueError, match="is not one"):
        margin_at_probe(Air(30, 85, 0.1, 1), 29, wrong)
