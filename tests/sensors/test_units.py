"""Units: published fixed points, and no guess ever."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from config.words import Quantity
from sensors.units import UnitError, senml_to_canonical, to_canonical

AIR, LID, RH = Quantity.AIR_TEMPERATURE, Quantity.SURFACE_TEMPERATURE, Quantity.RELATIVE_HUMIDITY

steady = settings(derandomize=True, deadline=None)
PUBLISHED = [
    (AIR, 273.15, "K", 0.0, "BIPM SI Brochure 9th ed. 2.3.1: 0 °C = 273.15 K"),
    (AIR, 273.16, "K", 0.01, "triple point of water, ITS-90"),
    (AIR, 32.0, "degF", 0.0, "NIST SP 811 (2008) B.8: (t/°F - 32)/1.8"),
    (AIR, 212.0, "degF", 100.0, "NIST SP 811 (2008) B.8"),
    (AIR, -40.0, "degF", -40.0, "where both scales meet, NIST SP 811 (2008) B.8"),
    (LID, 86.0, "degF", 30.0, "NIST SP 811 (2008) B.8"),
    (AIR, 185.0, "degF", 85.0, "NIST SP 811 (2008) B.8"),
    (RH, 0.846, "/", 84.6, "RFC 8428 12.1: / is a ratio, %RH is a percentage"),
    (RH, 1.0, "/", 100.0, "RFC 8428 12.1"),
]


@pytest.mark.parametrize(("quantity", "value", "unit", "expected", "source"), PUBLISHED)
def test_published_points_convert(quantity: Quantity, value: float, unit: str, expected: float, source: str) -> None:
    assert to_canonical(quantity, value, unit) == pytest.approx(expected, abs=1e-9), source


@pytest.mark.parametrize(
    ("quantity", "unit"), [(AIR, "Cel"), (AIR, "degC"), (LID, "Cel"), (RH, "%RH"), (RH, "percent")]
)
@steady
@given(value=st.floats(allow_nan=False))
def test_a_canonical_unit_leaves_the_value_as_the_probe_said(quantity: Quantity, unit: str, value: float) -> None:
    assert to_canonical(quantity, value, unit) == value


@steady
@given(st.floats(-100, 200))
def test_conversions_round_trip(temperature_c: float) -> None:
    assert to_canonical(AIR, temperature_c + 273.15, "K") == pytest.approx(temperature_c, abs=2e-9)
    assert to_canonical(AIR, temperature_c * 1.8 + 32.0, "degF") == pytest.approx(temperature_c, abs=2e-9)
    assert to_canonical(RH, temperature_c / 100.0, "/") == pytest.approx(temperature_c, abs=2e-9)


@pytest.mark.parametrize(
    ("quantity", "unit"),
    [
        (AIR, "C"),
        (AIR, "F"),
        (AIR, "cel"),
        (AIR, "CEL"),
        (AIR, "k"),
        (AIR, "%RH"),
        (AIR, "/"),
        (AIR, ""),
        (RH, "%"),
        (RH, "%rh"),
        (RH, "Cel"),
        (RH, "Percent"),
    ],
)
def test_a_unit_that_does_not_belong_is_refused_with_what_to_state(quantity: Quantity, unit: str) -> None:
    with pytest.raises(UnitError) as caught:
        to_canonical(quantity, 30.0, unit)
    assert ("%RH" if quantity is RH else "Cel") in caught.value.hint
    assert repr(unit) in caught.value.reason


@pytest.mark.parametrize("unit", ["degC", "degF", "percent", "%", "", None])
@pytest.mark.parametrize("quantity", list(Quantity))
def test_senml_takes_only_its_own_names(quantity: Quantity, unit: str | None) -> None:
    # RFC 8428 section 12.1 registers Cel, K, %RH and /; degC, degF and percent are ours, for the site file.
    with pytest.raises(UnitError):
        senml_to_canonical(quantity, 30.0, unit)


def test_senml_names_convert() -> None:
    assert senml_to_canonical(AIR, 303.15, "K") == pytest.approx(30.0)
    assert senml_to_canonical(LID, 27.9, "Cel") == 27.9
    assert senml_to_canonical(RH, 84.6, "%RH") == 84.6
    assert senml_to_canonical(RH, 0.5, "/") == 50.0
