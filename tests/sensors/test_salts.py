"""Humidity over saturated salts: published rows, a second published fit, the saturation line, direction and bounds."""

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from config.errors import StatedError
from sensors.salts import CAUTIONS, SALTS, USUAL_PAIR, Salt, fixed_point, relative_slope_per_k, salt_named
from tests.support.tables import read_table

ROWS = read_table("salt-fixed-points.csv")
ALL = list(SALTS.values())
BY_FORMULA = pytest.mark.parametrize("salt", ALL, ids=lambda salt: salt.formula)


def row_id(row: dict[str, str]) -> str:
    return f"{row['salt']}-{row['temperature_c']}C"


def test_the_table_has_every_salt_at_the_four_temperatures() -> None:
    assert {(row["salt"], row["temperature_c"]) for row in ROWS} == {
        (salt.formula, at) for salt in ALL for at in ("20", "25", "30", "35")
    }


@pytest.mark.parametrize("row", ROWS, ids=row_id)
def test_the_humidity_is_that_of_the_printed_table(row: dict[str, str]) -> None:
    # The printed table cuts the polynomial off after two decimals (75.298 is printed 75.29): up to 0.01 and rounding.
    found = salt_named(row["salt"]).relative_humidity_pct(float(row["temperature_c"]))
    printed = float(row["relative_humidity_pct"])
    assert printed - 0.001 <= found <= printed + 0.011, row["value_source"]


@pytest.mark.parametrize("row", [row for row in ROWS if row["salt"] != "NaBr"], ids=row_id)
def test_the_plus_or_minus_is_that_of_the_printed_table(row: dict[str, str]) -> None:
    assert salt_named(row["salt"]).limits_pct(float(row["temperature_c"])) == float(row["limits_pct"])


@pytest.mark.parametrize("row", [row for row in ROWS if row["guide_pct"]], ids=row_id)
def test_the_humidity_rounds_to_that_of_a_calibrator_s_guide(row: dict[str, str]) -> None:
    # Printed to 0.1, of a table that was cut off: half a digit and 0.01.
    found = salt_named(row["salt"])
    at_c = float(row["temperature_c"])
    assert found.relative_humidity_pct(at_c) == pytest.approx(float(row["guide_pct"]), abs=0.06)
    assert found.limits_pct(at_c) == pytest.approx(float(row["guide_limits_pct"]), abs=0.05)


@pytest.mark.parametrize("row", [row for row in ROWS if row["crc_fit_pct"]], ids=row_id)
def test_the_humidity_is_near_the_fit_of_the_crc_handbook(row: dict[str, str]) -> None:
    # RH = A exp(B/T), CRC Handbook of Chemistry and Physics (2005), stated good to 2 %.
    found = salt_named(row["salt"]).relative_humidity_pct(float(row["temperature_c"]))
    assert found == pytest.approx(float(row["crc_fit_pct"]), abs=2.0)


def test_lithium_chloride_does_not_fall_into_the_trap_of_the_lost_sign() -> None:
    # The table prints 11.3 at every one of the four temperatures; with the sign lost it would be 10.89 at 25 °C.
    for at_c in (20, 25, 30, 35):
        assert SALTS["licl"].relative_humidity_pct(at_c) == pytest.approx(11.3, abs=0.06)
    start, slope, bend = SALTS["licl"].coefficients
    assert slope > 0
    assert replace(SALTS["licl"], coefficients=(start, -slope, bend)).relative_humidity_pct(25) < 11.0


@pytest.mark.parametrize("row", [row for row in ROWS if row["salt"] == "NaBr"], ids=row_id)
def test_the_salt_whose_figures_are_from_memory_is_only_as_sure_as_its_two_sources_agree(row: dict[str, str]) -> None:
    apart = abs(float(row["relative_humidity_pct"]) - float(row["crc_fit_pct"]))
    assert SALTS["nabr"].limits_pct(float(row["temperature_c"])) >= max(apart, float(row["limits_pct"]))
    assert "all values" in SALTS["nabr"].from_memory


@pytest.mark.parametrize("at_c", [20, 25, 30, 35])
def test_a_warmer_probe_reads_lower_by_the_slope_of_the_saturation_line(at_c: float) -> None:
    from CoolProp.CoolProp import PropsSI  # large: only in the process that runs this

    # Second method: d ln p/dT along the saturation line by CoolProp, IAPWS-95. Magnus is within 1 % of it here.
    kelvin = at_c + 273.15
    slope = PropsSI("d(P)/d(T)|sigma", "T", kelvin, "Q", 0, "Water") / PropsSI("P", "T", kelvin, "Q", 0, "Water")
    assert relative_slope_per_k(at_c) == pytest.approx(slope, rel=0.01)


@pytest.mark.parametrize(("humidity_pct", "moved_pct"), [(50, 3), (97, 6)])
def test_one_kelvin_moves_the_reading_as_a_calibrator_s_guide_says(humidity_pct: float, moved_pct: float) -> None:
    # The guide's whole percents, at 20 °C.
    assert round(humidity_pct * relative_slope_per_k(20)) == moved_pct


@settings(derandomize=True, deadline=None)
@given(salt=st.sampled_from(ALL), at_c=st.floats(20, 35), one_k=st.floats(0, 0.5), other_k=st.floats(0, 0.5))
def test_a_fixed_point_is_as_sure_as_its_salt_and_less_so_the_more_the_temperatures_differ(
    salt: Salt, at_c: float, one_k: float, other_k: float
) -> None:
    alike = fixed_point(salt, at_c, 0)
    assert alike.standard_uncertainty_pct == pytest.approx(salt.limits_pct(at_c) / math.sqrt(3))
    near, far = (fixed_point(salt, at_c, each) for each in sorted((one_k, other_k)))
    assert alike.standard_uncertainty_pct <= near.standard_uncertainty_pct <= far.standard_uncertainty_pct
    assert near.relative_humidity_pct == far.relative_humidity_pct


@settings(derandomize=True, deadline=None)
@given(at_c=st.floats(20, 35))
def test_the_salts_stand_in_order_of_their_humidity_at_every_temperature(at_c: float) -> None:
    values = [salt.relative_humidity_pct(at_c) for salt in ALL]
    assert values == sorted(values)
    assert 11 < values[0] < values[-1] < 98


@BY_FORMULA
@pytest.mark.parametrize("at_c", [19.9, 35.1, 17.0, math.nan])
def test_outside_the_span_that_was_read_there_is_no_value(salt: Salt, at_c: float) -> None:
    with pytest.raises(StatedError, match="is outside 20 to 35 °C"):
        salt.relative_humidity_pct(at_c)
    with pytest.raises(StatedError, match="is outside 20 to 35 °C"):
        salt.limits_pct(at_c)


@pytest.mark.parametrize("difference_k", [0.51, 5, -0.1, math.nan])
def test_probe_and_salt_of_clearly_different_temperature_are_refused(difference_k: float) -> None:
    with pytest.raises(StatedError, match="each kelvin is 5 to 6 % of the reading"):
        fixed_point(SALTS["nacl"], 25, difference_k)


def test_a_salt_is_known_by_its_formula_in_any_letters_and_an_unknown_one_is_refused_with_the_known() -> None:
    assert salt_named(" K2so4 ") is SALTS["k2so4"]
    with pytest.raises(StatedError) as refused:
        salt_named("CaCl2")
    assert "K2SO4" in refused.value.hint


@BY_FORMULA
def test_every_salt_has_a_caution_waiting_times_and_says_what_is_from_memory(salt: Salt) -> None:
    least, rather = salt.minutes()
    # A calibrator's guide: 10 to 30 minutes, 20 to 40 at high humidity.
    assert (least, rather) == ((10, 30) if salt.relative_humidity_pct(25) < 70 else (20, 40))
    assert salt.caution
    assert salt.from_memory


def test_cautions_name_what_hurts() -> None:
    words = " ".join([*CAUTIONS, *(salt.caution for salt in ALL)])
    for needed in ("do not eat", "gloves", "animals", "eggs", "electronics", "safety data sheet"):
        assert needed in words
    assert "18 °C" in SALTS["licl"].caution
    assert "burns" in SALTS["kno3"].caution


def test_the_usual_pair_lies_around_what_boxes_are_kept_at() -> None:
    low, high = (SALTS[key].relative_humidity_pct(28) for key in USUAL_PAIR)
    assert low < 80
    assert high > 95
