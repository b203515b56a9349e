"""The two units of a temperature: t/°F = 9/5 t/°C + 32 (NIST SP 811, 2008, appendix B.8)."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from config.words import Quantity
from sensors.calibration_scale import Scale

AIR_F = Scale(Quantity.AIR_TEMPERATURE, fahrenheit=True)
AIR_C = Scale(Quantity.AIR_TEMPERATURE)
DAMP = Scale(Quantity.RELATIVE_HUMIDITY, fahrenheit=True)
values = st.floats(-40, 60)


@pytest.mark.parametrize(("celsius", "fahrenheit"), [(0.0, 32.0), (100.0, 212.0), (-40.0, -40.0), (30.0, 86.0)])
def test_values_are_shifted_and_differences_are_not(celsius: float, fahrenheit: float) -> None:
    assert AIR_F.shown(celsius) == pytest.approx(fahrenheit)
    assert AIR_F.canonical(fahrenheit) == pytest.approx(celsius)
    assert AIR_F.shown_difference(1.0) == pytest.approx(1.8)
    assert AIR_F.canonical_difference(0.18) == pytest.approx(0.1)


def test_what_each_is_called() -> None:
    assert [(each.unit, each.difference_unit) for each in (AIR_C, AIR_F, DAMP)] == [
        ("°C", "°C"),
        ("°F", "°F"),
        ("% RH", "% RH"),
    ]


@given(values)
def test_celsius_and_humidity_stay_as_they_are(value: float) -> None:
    for scale in (AIR_C, DAMP):
        assert scale.shown(value) == scale.canonical(value) == value
        assert scale.shown_difference(value) == scale.canonical_difference(value) == value
        assert scale.shown_shift(1.02, value) == value


@given(values, st.floats(0.9, 1.1), st.floats(-5, 5))
def test_a_line_says_the_same_in_both_units(reading_c: float, gain: float, shift: float) -> None:
    in_fahrenheit = gain * AIR_F.shown(reading_c) + AIR_F.shown_shift(gain, shift)
    assert in_fahrenheit == pytest.approx(AIR_F.shown(gain * reading_c + shift), abs=1e-9)
