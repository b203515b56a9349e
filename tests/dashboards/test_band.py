"""Where the mark stands on the bar."""

from dataclasses import replace

import pytest

from dashboards.band import HIGH, LEFT, LOW, OFF_LEFT, OFF_RIGHT, RIGHT, band
from dashboards.standing import Standing, Tone
from tests.dashboards.samples import humidity, temperature


@pytest.mark.parametrize(
    ("value", "position"),
    [
        (10.0, LEFT),
        (26.0, LOW),
        (28.0, (LOW + HIGH) / 2),
        (30.0, HIGH),
        (32.0, (HIGH + RIGHT) / 2),
        (34.0, RIGHT),
        (9.9, OFF_LEFT),
        (55.0, OFF_RIGHT),
    ],
)
def test_the_mark_stands_between_the_ends_that_enclose_the_value(value: float, position: float) -> None:
    bar = band(temperature(value), Standing.IN_RANGE, fahrenheit=False)
    assert bar is not None
    assert bar.mark_x == pytest.approx(position)


def test_the_band_lies_in_the_same_place_whatever_the_limits_are() -> None:
    first = band(temperature(), Standing.IN_RANGE, fahrenheit=False)
    second = band(humidity(), Standing.IN_RANGE, fahrenheit=False)
    assert first is not None
    assert second is not None
    assert (first.safe_x, first.safe_width) == (second.safe_x, second.safe_width) == (LOW, HIGH - LOW)


def test_without_lethal_ends_the_outer_parts_are_half_as_long_as_the_band() -> None:
    bar = band(humidity(100.0), Standing.HIGH, fahrenheit=False)
    assert bar is not None
    assert bar.mark_x == pytest.approx((HIGH + RIGHT) / 2)
    assert (bar.lethal_low, bar.lethal_high) == ("", "")


@pytest.mark.parametrize("judged", [Standing.SUSPECT, Standing.OLD, Standing.NO_READING])
def test_a_reading_that_cannot_be_trusted_has_no_mark_in_the_band(judged: Standing) -> None:
    bar = band(temperature(), judged, fahrenheit=False)
    assert bar is not None
    assert bar.mark_x is None


def test_one_limit_alone_leaves_the_other_side_open() -> None:
    bar = band(replace(temperature(29.0), low=None, lethal_low=None), Standing.IN_RANGE, fahrenheit=False)
    assert bar is not None
    assert (bar.safe_x, bar.safe_width) == (LEFT, HIGH - LEFT)
    assert bar.low == ""


def test_no_limits_give_no_bar() -> None:
    assert band(replace(temperature(), low=None, high=None), Standing.NO_LIMITS, fahrenheit=False) is None


def test_limits_that_exclude_each_other_give_no_bar() -> None:
    channel = replace(temperature(), low=30.0, high=26.0)
    assert band(channel, Standing.LOW, fahrenheit=False) is None


def test_the_bar_says_in_words_what_it_draws() -> None:
    bar = band(temperature(34.6), Standing.LETHAL_HIGH, fahrenheit=True)
    assert bar is not None
    assert bar.tone is Tone.CRITICAL
    # 34.6, 26, 30, 10 and 34 °C by t/°F = 1.8 t/°C + 32 (NIST SP 811, appendix B.9)
    assert bar.label.replace("\N{NO-BREAK SPACE}", " ") == (
        "94.3 °F, dangerously hot. Limits 78.8 °F to 86.0 °F. Lethal below 50.0 °F. Lethal above 93.2 °F."
    )
