"""Is a column what it is said to be? Judged by its middle reading, so that a few faults do not decide. Pure."""

from collections.abc import Sequence
from statistics import median

from config.celsius import looks_like_fahrenheit
from daemon.tabular.cells import Column
from daemon.tabular.errors import TableError
from sensors.plausibility import judge
from sensors.reading import Quality

_HIGHEST_FRACTION = 1.0
_HIGHEST_PCT = 102.0
"""As `sensors.plausibility` allows: a wetted capacitive element may read a little above 100 %."""
_FREEZING_C = 0.0
_HOTTEST_IN_FAHRENHEIT = 122.0
_RIGHT_COLUMN = "Is it the right column, and its unit °C, °F (--unit F), % or a fraction (--humidity-unit fraction)?"


def require_likely(name: str, column: Column, values: Sequence[float]) -> None:
    """Raise TableError where the middle reading can only be one in another unit, or of another column.

    Parameters
    ----------
    name
        The column for people.
    column
        What the keeper stated of it.
    values
        Its readings, in degree Celsius or percent relative humidity by that statement; at least one.
    """
    middle = median(values)
    quality, _, reason = judge(None, column.quantity, middle, 0)
    other = _as_temperature(column, middle) if column.quantity.is_temperature else _as_humidity(column, middle)
    if other is not None:
        raise TableError(None, f"column {name}: {other[0]}", other[1])
    if quality & Quality.OUT_OF_RANGE:
        raise TableError(None, f"column {name}: half of its readings are like this: {reason}", _RIGHT_COLUMN)


def _as_temperature(column: Column, middle_c: float) -> tuple[str, str] | None:
    if column.unit == "C" and middle_c <= _HOTTEST_IN_FAHRENHEIT:
        fahrenheit = looks_like_fahrenheit(middle_c)
        return None if fahrenheit is None else (f"half of its readings are like this: {fahrenheit}", "Give --unit F.")
    if column.unit == "F" and middle_c < _FREEZING_C:
        written = middle_c * 1.8 + 32.0
        reason = f"half of its readings would be below freezing: {written:.1f} °F is {middle_c:.1f} °C"
        return reason, "Where they are in °C, give --unit C."
    return None


def _as_humidity(column: Column, middle_pct: float) -> tuple[str, str] | None:
    if column.unit == "percent" and 0 <= middle_pct <= _HIGHEST_FRACTION:
        reason = f"half of its readings are {middle_pct:g} or less, which no air has in percent"
        return (
            reason,
            "Where it is a fraction of 1, give --humidity-unit fraction; where it is 0, the probe was broken.",
        )
    if column.unit == "fraction" and middle_pct > _HIGHEST_PCT:
        return (
            f"half of its readings are {middle_pct / 100:g} or more, no fraction of 1",
            "Give --humidity-unit percent.",
        )
    return None
