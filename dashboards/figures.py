"""Numbers, units, ages and times as people read them. Pure; every moment is an argument."""

from datetime import datetime
from typing import NamedTuple
from zoneinfo import ZoneInfo

from config.words import Quantity, contact_text
from daemon.clock import as_datetime

NBSP = "\N{NO-BREAK SPACE}"
_THIN = "\N{NARROW NO-BREAK SPACE}"
_MINUTE_S, _HOUR_S, _DAY_S = 60, 3_600, 86_400
_STEP_S = 10
COVERAGE_FACTOR = 2.0


class Figure(NamedTuple):
    """A number and its unit, apart, so that a page may set them in two sizes."""

    number: str
    unit: str

    def __str__(self) -> str:
        return f"{self.number}{NBSP}{self.unit}" if self.unit else self.number


def number(value: float, decimals: int = 1) -> str:
    """Write a number with a true minus sign, groups of three, and never a minus before zero."""
    text = f"{abs(value):,.{decimals}f}"
    sign = "\N{MINUS SIGN}" if value < 0 and text.strip("0.,") else ""
    return sign + text.replace(",", _THIN)


def temperature(value_c: float, fahrenheit: bool) -> Figure:
    """Write a temperature in degree Celsius or, with 32 added, degree Fahrenheit; one decimal."""
    return Figure(number(value_c * 9 / 5 + 32), "°F") if fahrenheit else Figure(number(value_c), "°C")


def temperature_difference(value_k: float, fahrenheit: bool) -> Figure:
    """Write a difference between two temperatures: scaled for Fahrenheit, never shifted by 32."""
    return Figure(number(value_k * 9 / 5), "°F") if fahrenheit else Figure(number(value_k), "°C")


def quantity_value(quantity: Quantity, value: float, fahrenheit: bool) -> Figure:
    """Write a canonical value of a quantity in the unit that the site shows; that of a contact is words."""
    if quantity.is_contact:
        return Figure(contact_text(quantity, value), "")
    return temperature(value, fahrenheit) if quantity.is_temperature else Figure(number(value), "%")


def value_beside(quantity: Quantity, value: float, other: float | None, fahrenheit: bool) -> Figure:
    """Write a value next to another; where both would look the same and are not, with one more digit."""
    figure = quantity_value(quantity, value, fahrenheit)
    if other is None or other == value or quantity_value(quantity, other, fahrenheit) != figure:
        return figure
    shown = value * 9 / 5 + 32 if fahrenheit and quantity.is_temperature else value
    return Figure(number(shown, 2), figure.unit)


def heat(degree_hours_ch: float) -> Figure:
    """Heat, always in °C·h: species profiles and papers state it so, whatever unit the site shows."""
    return Figure(number(degree_hours_ch, 0), "°C·h")


def percent(share: float) -> str:
    """Write a share (1 = all) as whole per cent, rounded down: 99.9 % is not yet 100 %."""
    return f"{int(share * 100 + 1e-9)}{NBSP}%"


def age(now_ms: int, then_ms: int) -> str:
    """How long ago, in the coarsest unit that still helps."""
    seconds = (now_ms - then_ms) // 1000
    return "just now" if seconds < _STEP_S else f"{duration(seconds)} ago"


def duration(seconds: int) -> str:
    """Write a length of time in one unit or two."""
    if seconds < _MINUTE_S:
        return f"{seconds // _STEP_S * _STEP_S}{NBSP}s"
    if seconds < _HOUR_S:
        return f"{seconds // _MINUTE_S}{NBSP}min"
    if seconds < _DAY_S:
        hours, minutes = seconds // _HOUR_S, seconds % _HOUR_S // _MINUTE_S
        return f"{hours}{NBSP}h" + (f"{NBSP}{minutes}{NBSP}min" if minutes else "")
    days = seconds // _DAY_S
    return f"{days}{NBSP}day" + ("s" if days > 1 else "")


def local(moment_ms: int, zone: ZoneInfo) -> datetime:
    """Read a moment on the clock of the site."""
    return as_datetime(moment_ms).astimezone(zone)


def date_text(moment: datetime) -> str:
    """Such as `3 Jun`."""
    return f"{moment.day}{NBSP}{moment:%b}"


def full_date_text(moment: datetime) -> str:
    """Such as `3 Jun 2026`."""
    return f"{date_text(moment)}{NBSP}{moment:%Y}"


def sure_within(quantity: Quantity, standard_uncertainty: float | None, fahrenheit: bool) -> str:
    """Write how far a value may be off in about 95 of 100 cases (k = 2, GUM 6.3.3), such as `± 0.6 °C`."""
    if standard_uncertainty is None:
        return ""
    within = COVERAGE_FACTOR * standard_uncertainty
    if quantity.is_temperature:
        return f"±{NBSP}{temperature_difference(within, fahrenheit)}"
    return f"±{NBSP}{Figure(number(within), '%')}"


def date_range(first: datetime, last: datetime) -> str:
    """One date, or two where they differ."""
    if first.date() == last.date():
        return date_text(first)
    return f"{date_text(first)} to {date_text(last)}"


def moment_text(moment: datetime) -> str:
    """Such as `Tue 3 Jun 2025, 14:02`."""
    return f"{moment:%a} {moment.day} {moment:%b %Y, %H:%M}"


def clock_text(moment: datetime, today: datetime) -> str:
    """Write the time of day; with the date where that is not today's."""
    return f"{moment:%H:%M}" if moment.date() == today.date() else f"{date_text(moment)}, {moment:%H:%M}"
