"""Figures as a person reads them.

Conversion: NIST SP 811 (2008), appendix B.8 (from memory): t(°F) = 1.8 t(°C) + 32; an interval of 1 °C is 1.8 °F.
"""

from datetime import UTC, datetime, tzinfo
from zoneinfo import ZoneInfo

import pytest

from config.words import Quantity
from daemon.alarms.figures import clock_text, duration_text, rate_text, value_text
from daemon.clock import as_ms

AIR, HUMIDITY = Quantity.AIR_TEMPERATURE, Quantity.RELATIVE_HUMIDITY


@pytest.mark.parametrize(
    ("value", "fahrenheit", "text"),
    [
        (33.4, False, "33.4 °C"),
        (0.0, True, "32.0 °F"),
        (37.0, True, "98.6 °F"),
        (100.0, True, "212.0 °F"),
        (-40.0, True, "-40.0 °F"),
        (-0.04, False, "0.0 °C"),
        (1e20, False, "1e+20 °C"),
    ],
)
def test_a_temperature_is_written_in_the_unit_of_the_site(value: float, fahrenheit: bool, text: str) -> None:
    assert value_text(value, AIR, fahrenheit) == text
    assert value_text(value, Quantity.SURFACE_TEMPERATURE, fahrenheit) == text


@pytest.mark.parametrize("fahrenheit", [False, True])
def test_humidity_has_one_unit_only(fahrenheit: bool) -> None:
    assert value_text(62.4, HUMIDITY, fahrenheit) == "62 % RH"
    assert rate_text(6.0, HUMIDITY, fahrenheit) == "rising 0.1 % RH/min"


@pytest.mark.parametrize(
    ("value", "limit", "quantity", "text"),
    [
        (34.04, 34.0, AIR, "34.04 °C"),
        (34.0, 34.04, AIR, "34.00 °C"),
        (34.0, 34.0, AIR, "34.0 °C"),
        (34.06, 34.0, AIR, "34.1 °C"),
        (80.4, 80.0, HUMIDITY, "80.4 % RH"),
    ],
)
def test_a_value_never_looks_like_a_limit_that_it_is_beyond(
    value: float, limit: float, quantity: Quantity, text: str
) -> None:
    assert value_text(value, quantity, fahrenheit=False, beside=limit) == text


@pytest.mark.parametrize(
    ("rate_per_h", "fahrenheit", "text"),
    [
        (12.0, False, "rising 0.2 °C/min"),
        (60.0, True, "rising 1.8 °F/min"),
        (-1.0, False, "falling 1.0 °C/h"),
        (-1.0, True, "falling 1.8 °F/h"),
        (0.04, False, "steady"),
        (-0.04, False, "steady"),
        (5.9, False, "rising 5.9 °C/h"),
    ],
)
def test_a_rate_converts_as_a_difference(rate_per_h: float, fahrenheit: bool, text: str) -> None:
    assert rate_text(rate_per_h, AIR, fahrenheit) == text


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (-5, "0 s"),
        (59, "59 s"),
        (60, "1 min"),
        (3599, "59 min"),
        (3600, "1 h"),
        (3660, "1 h 1 min"),
        (86_399, "23 h 59 min"),
        (86_400, "1 d"),
        (187_200, "2 d 4 h"),
    ],
)
def test_a_duration_is_rounded_down(seconds: int, text: str) -> None:
    assert duration_text(seconds * 1000) == text


BERLIN = ZoneInfo("Europe/Berlin")
NEW_YORK = ZoneInfo("America/New_York")


@pytest.mark.parametrize(
    ("moment", "zone", "text"),
    [
        # Directive 2000/84/EC: summer time ends at 01:00 UTC of the last Sunday in October, here 26 October 2025
        (datetime(2025, 10, 26, 0, 30, tzinfo=UTC), BERLIN, "02:30 CEST"),
        (datetime(2025, 10, 26, 1, 30, tzinfo=UTC), BERLIN, "02:30 CET"),
        (datetime(2025, 10, 26, 2, 30, tzinfo=UTC), BERLIN, "03:30"),
        (datetime(2025, 10, 25, 23, 30, tzinfo=UTC), BERLIN, "01:30"),
        # the same directive: it begins at 01:00 UTC of the last Sunday in March, here 30 March 2025
        (datetime(2025, 3, 30, 0, 59, tzinfo=UTC), BERLIN, "01:59"),
        (datetime(2025, 3, 30, 1, 0, tzinfo=UTC), BERLIN, "03:00"),
        # US Energy Policy Act of 2005, section 110: ends on the first Sunday in November, here 2 November 2025
        (datetime(2025, 11, 2, 5, 30, tzinfo=UTC), NEW_YORK, "01:30 EDT"),
        (datetime(2025, 11, 2, 6, 30, tzinfo=UTC), NEW_YORK, "01:30 EST"),
    ],
)
def test_local_time_is_right_through_a_change_of_the_clocks(moment: datetime, zone: tzinfo, text: str) -> None:
    assert clock_text(as_ms(moment), as_ms(moment), zone) == text


def test_a_moment_of_another_local_day_says_which() -> None:
    now = as_ms(datetime(2025, 5, 15, 22, 30, tzinfo=UTC))  # 00:30 on the 16th in Berlin
    assert clock_text(now - 3_600_000, now, BERLIN) == "15 May 23:30"
    assert clock_text(now, now, BERLIN) == "00:30"
