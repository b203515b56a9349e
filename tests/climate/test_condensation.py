"""Water on a lid: the margin, where the surface temperature came from, and both forms of the test."""

import math

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from daemon.climate.condensation import condensation, surface_air, surface_temperature_c
from daemon.climate.psychrometrics import dew_point_c, saturation_vapour_pressure_pa, vapour_pressure_pa
from tests.support.tables import read_table

AIR_C = st.floats(5, 45)
HUMIDITY_PCT = st.floats(20, 100)
ROUND_TRIP_K = 1e-7
"""Closer to the dew point than this, rounding decides which side a surface is on."""


def surface_humidity_pct(air_c: float, humidity_pct: float, surface_c: float) -> float:
    """Relative humidity of the same vapour at the temperature of the surface."""
    return 100 * vapour_pressure_pa(air_c, humidity_pct) / saturation_vapour_pressure_pa(surface_c)


@pytest.mark.parametrize(
    "row",
    read_table("moist-air-check.csv"),
    ids=lambda row: f"{row['temperature_c']}C-{row['relative_humidity_pct']}pct-{row['surface_c']}C",
)
def test_margin_and_verdict_agree_with_the_published_table(row: dict[str, str]) -> None:
    air_c, humidity_pct, surface_c = (
        float(row[key]) for key in ("temperature_c", "relative_humidity_pct", "surface_c")
    )
    found = condensation(air_c, humidity_pct, surface_c, None, None)
    assert found.margin_k is not None
    assert found.margin_k == pytest.approx(float(row["margin_k"]), abs=0.002)
    assert surface_humidity_pct(air_c, humidity_pct, surface_c) == pytest.approx(
        float(row["surface_humidity_pct"]), abs=0.02
    )
    at_surface = surface_air(air_c, humidity_pct, surface_c)
    assert at_surface.relative_humidity_pct == found.surface_humidity_pct
    # A boundary is water: ISO 13788 and the trade both say "at or below the dew point".
    settles = row["condenses"] in ("yes", "boundary")
    assert (found.margin_k <= 0) == (at_surface.relative_humidity_pct >= 100) == settles
    if row["condenses"] == "boundary":
        assert (found.margin_k, at_surface.relative_humidity_pct) == (0.0, 100.0)


@settings(derandomize=True, deadline=None, max_examples=1000)
@given(air_c=st.floats(-40, 100), humidity_pct=st.floats(1.5, 100), surface_c=st.floats(-40, 100))
def test_both_forms_of_the_test_agree_everywhere(air_c: float, humidity_pct: float, surface_c: float) -> None:
    at_surface = surface_air(air_c, humidity_pct, surface_c)
    assert (at_surface.margin_k <= 0) == (at_surface.relative_humidity_pct >= 100)


@settings(derandomize=True, deadline=None, max_examples=1000)
@given(
    air_c=st.floats(-20, 100),
    humidity_pct=st.one_of(st.just(100.0), st.floats(20, 100)),
    steps=st.integers(-3, 3),
    off_k=st.sampled_from([0.0, 1e-9, -1e-9, 9e-8, -9e-8, 1.1e-7, -1.1e-7, 1e-6]),
)
def test_both_forms_agree_at_a_tie_and_some_roundings_beside_it(
    air_c: float, humidity_pct: float, steps: int, off_k: float
) -> None:
    surface_c = min(dew_point_c(air_c, humidity_pct) + off_k, 100.0)
    for _ in range(abs(steps)):
        surface_c = min(math.nextafter(surface_c, math.copysign(math.inf, steps)), 100.0)
    at_surface = surface_air(air_c, humidity_pct, surface_c)
    assert (at_surface.margin_k <= 0) == (at_surface.relative_humidity_pct >= 100)
    if abs(off_k) < 9.5e-8:
        assert (at_surface.margin_k, at_surface.relative_humidity_pct) == (0.0, 100.0)


@settings(derandomize=True, deadline=None, max_examples=500)
@given(air_c=st.floats(-40, 100))
def test_saturated_air_settles_on_a_surface_of_its_own_temperature(air_c: float) -> None:
    assert condensation(air_c, 100, air_c, None, None).margin_k == 0.0


@settings(derandomize=True, deadline=None, max_examples=500)
@given(air_c=AIR_C, humidity_pct=HUMIDITY_PCT, surface_c=st.floats(-5, 45))
def test_dew_point_form_and_surface_humidity_form_say_the_same(
    air_c: float, humidity_pct: float, surface_c: float
) -> None:
    found = condensation(air_c, humidity_pct, surface_c, None, None)
    assert found.margin_k is not None
    assume(abs(found.margin_k) > ROUND_TRIP_K)
    assert (found.margin_k <= 0) == (surface_humidity_pct(air_c, humidity_pct, surface_c) >= 100)


@settings(derandomize=True, deadline=None, max_examples=500)
@given(air_c=AIR_C, humidity_pct=HUMIDITY_PCT, off_k=st.sampled_from([-1e-6, 1e-6]))
def test_both_forms_agree_a_microkelvin_from_the_dew_point(air_c: float, humidity_pct: float, off_k: float) -> None:
    surface_c = dew_point_c(air_c, humidity_pct) + off_k
    found = condensation(air_c, humidity_pct, surface_c, None, None)
    assert found.margin_k is not None
    assert (found.margin_k <= 0) == (off_k < 0) == (surface_humidity_pct(air_c, humidity_pct, surface_c) >= 100)


@pytest.mark.parametrize(
    ("factor", "expected_c"),
    # By hand from ISO 13788, f = (Ts - Te) / (Ti - Te), inside 30 and outside 20 °C.
    [(0.0, 20.0), (0.5, 25.0), (0.72, 27.2), (1.0, 30.0)],
)
def test_surface_temperature_follows_the_temperature_factor(factor: float, expected_c: float) -> None:
    assert surface_temperature_c(30, 20, factor) == pytest.approx(expected_c, abs=1e-12)


@pytest.mark.parametrize(("factor", "settles"), [(0.70, True), (0.719, True), (0.721, False), (0.80, False)])
def test_the_least_factor_that_keeps_a_lid_dry_is_the_one_of_the_standard(factor: float, settles: bool) -> None:
    # ISO 13788: least factor (Td - Te) / (Ti - Te); 30 °C at 85 % has its dew point at 27.1986 °C (CoolProp,
    # IAPWS-95), in a room of 20 °C that is 0.71986.
    found = condensation(30, 85, None, 20, factor)
    assert found.margin_k is not None
    assert (found.margin_k <= 0) == settles


def test_a_probe_on_the_surface_is_believed_before_an_estimate() -> None:
    found = condensation(30, 85, 29.0, 20, 0.5)
    assert found.surface_temperature_c == 29.0
    assert found.reason == "Surface temperature measured by a surface probe."


def test_an_estimate_says_that_it_is_one_and_from_what() -> None:
    found = condensation(30, 85, None, 20, 0.5)
    assert found.surface_temperature_c == pytest.approx(25.0)
    origin = "estimated from the temperature factor 0.5 (ISO 13788) and the air outside"
    assert found.reason == f"Surface temperature {origin}."


@pytest.mark.parametrize(
    ("outside_c", "factor", "missing"),
    [
        (None, None, "no temperature factor and no temperature of the air outside"),
        (None, 0.7, "the temperature of the air outside is not known"),
        (20.0, None, "no temperature factor is stated"),
    ],
)
def test_an_unknown_surface_gives_the_dew_point_and_says_what_is_missing(
    outside_c: float | None, factor: float | None, missing: str
) -> None:
    found = condensation(30, 85, None, outside_c, factor)
    assert found.dew_point_c == pytest.approx(27.1986, abs=0.002)  # CoolProp, IAPWS-95
    assert found.surface_temperature_c is None
    assert found.margin_k is None
    assert "Surface temperature unknown" in found.reason
    assert missing in found.reason
    assert "settles" not in found.reason


@pytest.mark.parametrize("factor", [-0.01, 1.01, math.nan])
def test_a_temperature_factor_outside_0_to_1_is_refused_with_how_to_measure_it(factor: float) -> None:
    with pytest.raises(ValueError, match="outside 0 to 1; measure the surface and both airs"):
        surface_temperature_c(30, 20, factor)


@pytest.mark.parametrize("surface_c", [math.nan, -127.0, 301.15])
def test_a_broken_surface_probe_is_refused_not_compared(surface_c: float) -> None:
    with pytest.raises(ValueError, match=r"surface temperature of .* is outside -40 to 100 °C; check that probe"):
        condensation(30, 85, surface_c, None, None)


def test_a_broken_room_probe_is_refused_not_compared() -> None:
    with pytest.raises(ValueError, match="outside temperature of nan °C is outside -40 to 100 °C"):
        condensation(30, 85, None, math.nan, 0.7)
