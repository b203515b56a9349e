"""Numbers and units as shown. The Celsius and Fahrenheit pairs are those that define the scales."""

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from config.words import Quantity
from daemon.clock import as_ms
from dashboards import figures

NBSP = "\N{NO-BREAK SPACE}"


@pytest.mark.parametrize(("celsius", "shown"), [(0.0, "32.0"), (100.0, "212.0"), (-40.0, "\N{MINUS SIGN}40.0")])
def test_a_temperature_in_fahrenheit_is_scaled_and_shifted(celsius: float, shown: str) -> None:
    # NIST SP 811 (2008), appendix B.9: t/°F = 1.8 t/°C + 32
    assert figures.temperature(celsius, fahrenheit=True) == (shown, "°F")


def test_a_difference_in_fahrenheit_is_scaled_but_not_shifted() -> None:
    # NIST SP 811 (2008), appendix B.9: a difference of 1 K is one of 1.8 °F
    assert figures.temperature_difference(1.0, fahrenheit=True) == ("1.8", "°F")
    assert figures.temperature_difference(1.0, fahrenheit=False) == ("1.0", "°C")


def test_humidity_has_no_other_unit_where_temperatures_have() -> None:
    assert str(figures.quantity_value(Quantity.RELATIVE_HUMIDITY, 84.0, fahrenheit=True)) == f"84.0{NBSP}%"


def test_nothing_is_shown_as_minus_zero() -> None:
    assert figures.number(-0.04) == "0.0"


def test_long_numbers_are_grouped_by_three() -> None:
    assert figures.number(1_234_567, 0) == "1\N{NARROW NO-BREAK SPACE}234\N{NARROW NO-BREAK SPACE}567"


@pytest.mark.parametrize(("share", "shown"), [(0.999, "99"), (1.0, "100"), (0.29, "29"), (1.043, "104"), (0.0, "0")])
def test_a_share_is_rounded_down(share: float, shown: str) -> None:
    assert figures.percent(share) == f"{shown}{NBSP}%"


@pytest.mark.parametrize(
    ("seconds", "shown"),
    [
        (-5, "just now"),
        (9, "just now"),
        (59, "50 s ago"),
        (60, "1 min ago"),
        (3_599, "59 min ago"),
        (3_600, "1 h ago"),
        (9_000, "2 h 30 min ago"),
        (86_400, "1 day ago"),
        (260_000, "3 days ago"),
    ],
)
def test_an_age_is_told_in_the_unit_that_helps(seconds: int, shown: str) -> None:
    assert figures.age(seconds * 1000, 0).replace(NBSP, " ") == shown


def test_a_moment_is_told_on_the_clock_of_the_site() -> None:
    moment = figures.local(as_ms(datetime(2026, 12, 31, 23, 30, tzinfo=UTC)), ZoneInfo("Europe/Berlin"))
    assert figures.moment_text(moment) == "Fri 1 Jan 2027, 00:30"


def test_a_time_of_another_day_has_its_date() -> None:
    zone = ZoneInfo("UTC")
    today = figures.local(as_ms(datetime(2026, 6, 3, 0, 5, tzinfo=UTC)), zone)
    yesterday = figures.local(as_ms(datetime(2026, 6, 2, 23, 55, tzinfo=UTC)), zone)
    assert figures.clock_text(today, today) == "00:05"
    assert figures.clock_text(yesterday, today) == f"2{NBSP}Jun, 23:55"
