"""Figures as a person reads them: temperature in °C or °F, humidity, rate, duration, local time of day. Pure.

One degree Celsius of difference is 9/5 of a degree Fahrenheit; 32 belongs to a temperature and not to a difference.
"""

from datetime import UTC, datetime, tzinfo

from config.words import Quantity, contact_text

_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_LARGEST_PLAIN = 10_000
_STEADY_BELOW = 0.05
_MINUTE_MS = 60_000


def shown(value: float, quantity: Quantity, fahrenheit: bool) -> float:
    """Convert a canonical value to the unit of the site."""
    return value * 9 / 5 + 32 if fahrenheit and quantity.is_temperature else value


def unit_of(quantity: Quantity, fahrenheit: bool) -> str:
    """Give the unit to write behind a value."""
    if not quantity.is_temperature:
        return "% RH"
    return "°F" if fahrenheit else "°C"


def value_text(value: float, quantity: Quantity, fahrenheit: bool, beside: float | None = None) -> str:
    """Write a canonical value with its unit: `33.4 °C`, `62 % RH`; that of a contact in words: `door open`.

    Where `beside`, the limit that it stands next to, would look the same, one more digit shows the difference.
    """
    if quantity.is_contact:
        return contact_text(quantity, value)
    figure = shown(value, quantity, fahrenheit)
    if abs(figure) >= _LARGEST_PLAIN:
        return f"{figure:.3g} {unit_of(quantity, fahrenheit)}"
    digits = 1 if quantity.is_temperature else 0
    if beside is not None and beside != value:
        other = shown(beside, quantity, fahrenheit)
        digits += f"{other:z.{digits}f}" == f"{figure:z.{digits}f}"
    return f"{figure:z.{digits}f} {unit_of(quantity, fahrenheit)}"


def rate_text(rate_per_h: float, quantity: Quantity, fahrenheit: bool) -> str:
    """Write a rate given in canonical units per hour: `rising 0.2 °C/min`, `falling 1.2 °C/h`, `steady`."""
    rate = rate_per_h * 9 / 5 if fahrenheit and quantity.is_temperature else rate_per_h
    if abs(rate) < _STEADY_BELOW:
        return "steady"
    direction = "rising" if rate > 0 else "falling"
    per_minute = abs(rate) / 60
    figure = f"{per_minute:.1f}" if per_minute >= 2 * _STEADY_BELOW else f"{abs(rate):.1f}"
    per = "min" if per_minute >= 2 * _STEADY_BELOW else "h"
    return f"{direction} {figure} {unit_of(quantity, fahrenheit)}/{per}"


def duration_text(duration_ms: int) -> str:
    """Write a duration: `45 s`, `6 min`, `3 h 5 min`, `2 d 4 h`. Rounded down."""
    minutes = max(duration_ms, 0) // _MINUTE_MS
    hours, days = minutes // 60, minutes // 1440
    if minutes == 0:
        return f"{max(duration_ms, 0) // 1000} s"
    if hours == 0:
        return f"{minutes} min"
    if days == 0:
        return f"{hours} h {minutes % 60} min" if minutes % 60 else f"{hours} h"
    return f"{days} d {hours % 24} h" if hours % 24 else f"{days} d"


def clock_text(moment_ms: int, now_ms: int, zone: tzinfo) -> str:
    """Write a moment as local time: `02:11`, or `14 May 02:11` where that was another day than now.

    In the hour that the clocks go back over, each time of day comes twice; then the zone's name says which.
    """
    moment, now = (datetime.fromtimestamp(each / 1000, UTC).astimezone(zone) for each in (moment_ms, now_ms))
    text = f"{moment:%H:%M}"
    if moment.date() != now.date():
        text = f"{moment.day} {_MONTHS[moment.month - 1]} {text}"
    if moment.replace(fold=0).utcoffset() != moment.replace(fold=1).utcoffset():
        text = f"{text} {moment.tzname()}"
    return text
