"""Whether a lid counts as wet and what its factor has to be: published values, random draws, direction and bounds."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daemon.climate.condensation_risk import (
    DEADBAND_K,
    least_temperature_factor,
    lid_in,
    margin_of,
    temperature_factor,
    water_settles,
)
from daemon.climate.cooling import RoomAir
from daemon.climate.psychrometrics import dew_point_c
from daemon.climate.uncertainty import (
    Air,
    Estimate,
    Lid,
    margin_at_probe,
    probability_of_water,
    standard_uncertainty_of_limits,
)
from tests.support.tables import read_table

SEED = 13_788
DRAWS = 40_000
U = standard_uncertainty_of_limits
AIR = Air(30, 85, U(0.2), U(2.0))
"""Probe limits of ±0.2 K and ±2 % at 30 °C and 85 %."""
SLOPE = 0.9791
"""dTd/dT there; column slope_k_per_k of dewpoint-uncertainty-check.csv, by another coding of IAPWS-IF97."""


def test_margin_and_uncertainty_with_a_probe_on_the_lid_are_those_of_the_hand_calculation() -> None:
    # u(Td) of the table is 0.2578 K for these limits; with ±0.2 K on the lid, by hand sqrt(0.2578² + 0.04/3) = 0.2825.
    [row] = [
        row
        for row in read_table("dewpoint-uncertainty-check.csv")
        if float(row["temperature_c"]) == 30 and float(row["relative_humidity_pct"]) == 85
    ]
    expected_k = math.hypot(float(row["u_of_limits_k"]), 0.2 / math.sqrt(3))
    assert expected_k == pytest.approx(0.2825, abs=5e-5)
    found = margin_at_probe(AIR, 29.0, U(0.2))
    assert found.standard_uncertainty == pytest.approx(expected_k, abs=6e-5)
    assert found.value == pytest.approx(1.8014, abs=0.002)  # moist-air-check.csv, CoolProp with IAPWS-95


def test_an_offset_that_both_probes_share_moves_the_margin_by_two_percent_of_it() -> None:
    exact = Air(30, 85, 0, 0)
    assert margin_at_probe(exact, 29, 0, 0.5).standard_uncertainty == pytest.approx((1 - SLOPE) * 0.5, abs=5e-5)
    direct_k = (29.5 - dew_point_c(30.5, 85)) - (29.0 - dew_point_c(30, 85))
    assert margin_at_probe(exact, 29, 0, 0.5).standard_uncertainty == pytest.approx(direct_k, abs=5e-4)


def test_shared_and_own_errors_spread_as_random_draws_do() -> None:
    draw = np.random.default_rng(SEED)
    shared_k, own_k, lid_k = draw.normal(0, 0.4, DRAWS), draw.normal(0, 0.05, DRAWS), draw.normal(0, 0.07, DRAWS)
    airs_c, humidities_pct = 30 + shared_k + own_k, draw.normal(85, 0.5, DRAWS)
    dews_c = [dew_point_c(*each) for each in zip(airs_c.tolist(), humidities_pct.tolist(), strict=True)]
    spread_k = float(np.std(29 + shared_k + lid_k - np.array(dews_c)))
    found = margin_at_probe(Air(30, 85, 0.05, 0.5), 29, 0.07, 0.4)
    assert found.standard_uncertainty == pytest.approx(spread_k, rel=0.02), f"seed {SEED}"
    apart = margin_at_probe(Air(30, 85, math.hypot(0.05, 0.4), 0.5), 29, math.hypot(0.07, 0.4))
    assert apart.standard_uncertainty > 3 * found.standard_uncertainty


@pytest.mark.parametrize("surface_c", [26.9, 27.1, 27.2, 27.4, 27.8])
def test_the_probability_of_water_is_the_share_of_random_draws_at_or_below_the_dew_point(surface_c: float) -> None:
    # A share of n draws has a standard error of 0.5/sqrt(n) or less, here 0.0025; the rest is the shape of rectangles.
    draw = np.random.default_rng(SEED)
    airs_c, humidities_pct = draw.uniform(29.8, 30.2, DRAWS), draw.uniform(83, 87, DRAWS)
    dews_c = [dew_point_c(*each) for each in zip(airs_c.tolist(), humidities_pct.tolist(), strict=True)]
    share = float(np.mean(surface_c + draw.uniform(-0.2, 0.2, DRAWS) <= np.array(dews_c)))
    assert probability_of_water(margin_at_probe(AIR, surface_c, U(0.2))) == pytest.approx(share, abs=0.03), f"{SEED}"


def test_the_least_factor_at_30_degrees_85_percent_and_a_room_of_20_is_that_of_the_standard() -> None:
    # ISO 13788, (Td - Te)/(Ti - Te): (27.1986 - 20)/10 with the dew point by CoolProp, IAPWS-95.
    assert least_temperature_factor(AIR, Estimate(20, 0.5)).value == pytest.approx(0.720, abs=0.0005)


def test_a_lid_of_just_the_least_factor_is_at_the_dew_point() -> None:
    least = least_temperature_factor(AIR, Estimate(20, 0.5)).value
    margin = margin_of(AIR, None, Lid(20, least, 0.5, 0))
    assert margin is not None
    assert margin.value == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize(("inside_c", "outside_c", "surface_c"), [(30.0, 20.0, 28.0), (28.0, 15.0, 24.5)])
def test_a_measured_factor_spreads_as_random_draws_do(inside_c: float, outside_c: float, surface_c: float) -> None:
    draw = np.random.default_rng(SEED)
    inside, outside, surface = (
        draw.normal(middle, spread, DRAWS) for middle, spread in ((inside_c, 0.15), (outside_c, 0.4), (surface_c, 0.2))
    )
    factors = (surface - outside) / (inside - outside)
    found = temperature_factor(Estimate(inside_c, 0.15), Estimate(outside_c, 0.4), Estimate(surface_c, 0.2))
    assert found.value == pytest.approx((surface_c - outside_c) / (inside_c - outside_c), abs=1e-12)
    assert found.standard_uncertainty == pytest.approx(float(np.std(factors)), rel=0.02), f"seed {SEED}"


def test_the_least_factor_spreads_as_random_draws_do() -> None:
    draw = np.random.default_rng(SEED)
    airs_c, humidities_pct = draw.normal(30, 0.15, DRAWS), draw.normal(85, 1.0, DRAWS)
    rooms_c = draw.normal(20, 0.5, DRAWS)
    dews_c = [dew_point_c(*each) for each in zip(airs_c.tolist(), humidities_pct.tolist(), strict=True)]
    factors = (np.array(dews_c) - rooms_c) / (airs_c - rooms_c)
    found = least_temperature_factor(Air(30, 85, 0.15, 1.0), Estimate(20, 0.5))
    assert found.standard_uncertainty == pytest.approx(float(np.std(factors)), rel=0.02), f"seed {SEED}"


@pytest.mark.parametrize(("outside_c", "outside_u_k"), [(30.0, 0.0), (29.0, 0.5), (31.0, 0.5), (20.0, 3.0)])
def test_a_factor_from_airs_that_are_too_alike_is_refused_with_what_to_do(outside_c: float, outside_u_k: float) -> None:
    refusal = r"too alike for a temperature factor: .* Measure when the room is colder"
    with pytest.raises(ValueError, match=refusal):
        temperature_factor(Estimate(30, 0.1), Estimate(outside_c, outside_u_k), Estimate(29.5, 0.1))
    with pytest.raises(ValueError, match=refusal):
        least_temperature_factor(Air(30, 85, 0.1, 1), Estimate(outside_c, outside_u_k))


@settings(derandomize=True, deadline=None, max_examples=300)
@given(st.lists(st.floats(-0.05, 0.15), min_size=2, max_size=60))
def test_a_margin_that_trembles_within_the_deadband_turns_wet_once_and_stays(margins_k: list[float]) -> None:
    settled, turns = False, 0
    for margin_k in margins_k:
        turns += settled != (settled := water_settles(margin_k, settled))
    assert turns == (1 if min(margins_k) <= 0 else 0)


def test_a_surface_is_wet_at_the_dew_point_and_dry_again_past_the_deadband() -> None:
    assert water_settles(0.0, settled_before=False)
    assert not water_settles(1e-6, settled_before=False)
    assert water_settles(DEADBAND_K - 1e-6, settled_before=True)
    assert not water_settles(DEADBAND_K, settled_before=True)


def test_a_probe_on_the_surface_is_taken_before_the_lid_and_nothing_is_said_without_both() -> None:
    room = RoomAir(20.0, 3.0, measured=False)
    lid = lid_in(room, 0.9)
    assert margin_of(AIR, Estimate(28.0, 0.1), lid) == margin_at_probe(AIR, 28.0, 0.1)
    by_lid = margin_of(AIR, None, lid)
    assert by_lid is not None
    assert by_lid.value == pytest.approx(29.0 - 27.1986, abs=0.002)  # CoolProp, IAPWS-95; ISO 13788 by hand
    assert margin_of(AIR, None, None) is None
    assert lid_in(None, 0.9) is None
    assert lid_in(room, None) is None
