"""The time left until the next limit, in words for an alert: a figure where a forecast gives one, else none. Pure.

The early bound is in the text, because a warning is acted on by it; what the forecast rests on stands further down.
"""

from dataclasses import dataclass

from config.words import Quantity
from daemon.alarms.definitions import AlarmDefinition
from daemon.alarms.figures import duration_text, value_text
from daemon.climate.cooling import Forecast, Outcome, RoomAir

_MS_PER_HOUR = 3_600_000
_MINUTE_MS = 60_000
_ROUNDED = ((3 * _MS_PER_HOUR, 5 * _MINUTE_MS), (12 * _MS_PER_HOUR, 30 * _MINUTE_MS), (2**62, _MS_PER_HOUR))
"""A duration below the first figure is told to the second: a forecast is not known to the minute."""


@dataclass(frozen=True, slots=True)
class Ahead:
    """A limit that lies ahead without heat (degree Celsius), the forecast to it, its room, and how old the forecast is.

    `if_heat_is_off`: nobody sees whether it is, so the forecast is a condition.
    """

    limit_c: float | None
    forecast: Forecast
    room: RoomAir | None = None
    age_ms: int = 0
    if_heat_is_off: bool = False


def time_left(ahead: Ahead, definition: AlarmDefinition, fahrenheit: bool) -> str:
    """Write what stands behind "Time left:"; "unknown" and the usual urgency where no figure has evidence."""
    forecast = ahead.forecast
    if forecast.outcome is Outcome.UNKNOWN or ahead.limit_c is None:
        return definition.time_available if ahead.if_heat_is_off else _unknown(definition)
    limit = value_text(ahead.limit_c, Quantity.AIR_TEMPERATURE, fahrenheit)
    if forecast.outcome is Outcome.NEVER:
        return f"the room alone does not take it to {limit}"
    early = _left(forecast.early_h, ahead.age_ms)
    if ahead.if_heat_is_off:
        return f"if the heat is off, {early} or more to {limit}"
    if forecast.likely_h is None:
        return f"at the earliest {early} to {limit}, perhaps never"
    likely = _left(forecast.likely_h, ahead.age_ms)
    return f"about {likely} to {limit}" + (f", at the earliest {early}" if early != likely else "")


def basis_line(ahead: Ahead, fahrenheit: bool) -> str:
    """Write what the forecast rests on, or why there is none, as a line of its own; empty where nothing is to say."""
    forecast, room = ahead.forecast, ahead.room
    if forecast.outcome is Outcome.UNKNOWN or room is None:
        return "" if ahead.if_heat_is_off else f"No forecast: {forecast.reason}."
    how = "measured" if room.measured else "stated"
    at = value_text(room.temperature_c, Quantity.AIR_TEMPERATURE, fahrenheit)
    if forecast.late_h is None:
        return f"Room {how} at {at}."
    return f"At the latest {_left(forecast.late_h, ahead.age_ms)}; room {how} at {at}."


def _unknown(definition: AlarmDefinition) -> str:
    """`usually hours, look today` becomes `unknown, look today`: the usual is no forecast."""
    _, comma, urgency = definition.time_available.partition(", ")
    return f"unknown{comma}{urgency}"


def _left(hours: float | None, age_ms: int) -> str:
    """Write a duration from now, rounded down; less than a minute is `under 1 min`."""
    left_ms = max(round((hours or 0.0) * _MS_PER_HOUR) - age_ms, 0)
    step_ms = next(step for below, step in _ROUNDED if left_ms < below)
    if left_ms < 6 * step_ms:
        step_ms = _MINUTE_MS
    left_ms -= left_ms % step_ms
    return duration_text(left_ms) if left_ms else "under 1 min"
