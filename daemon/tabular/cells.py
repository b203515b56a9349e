"""From a line to its cells, and from a cell to a temperature."""

import csv
import re
from functools import lru_cache

from config.celsius import HOTTEST_ROOM_OR_EGG_C, looks_like_fahrenheit
from config.words import Quantity
from daemon.tabular.errors import TableError, shown
from sensors.plausibility import judge
from sensors.reading import Quality
from sensors.units import to_canonical

COMMENT = "#"
LONGEST_LINE = 65_536
"""Characters. A row of a logger is far shorter; a longer line is another kind of file."""
NO_VALUE = frozenset({"", "-", "--", "---", "nan", "na", "n/a", "null", "none"})
"""What a cell without a reading holds, in lower case. Anything else that is no number is an error."""
_UNIT_WORDS = {
    "C": re.compile(r"[°º]\s*C\b|\bdeg(?:rees?)?[ _.]*C\b|[(\[]\s*C\s*[)\]]|celsius", re.IGNORECASE),
    "F": re.compile(r"[°º]\s*F\b|\bdeg(?:rees?)?[ _.]*F\b|[(\[]\s*F\s*[)\]]|fahrenheit", re.IGNORECASE),
}
_FREEZING_C = 0.0
_EMPTY_IT = "If this is no reading, empty the cell: it then counts as missing."


def split_cells(line: str, delimiter: str, number: int) -> list[str]:
    """Cut a line at its delimiters; a cell in double quotes may hold them (RFC 4180, section 2).

    Raises TableError where a quote is not closed on the line: text over several lines is not a logger's.
    """
    line = line.rstrip("\r\n")
    if '"' not in line:
        return line.split(delimiter)
    try:
        return next(csv.reader([line], delimiter=delimiter, skipinitialspace=True, strict=True))
    except csv.Error as error:
        raise TableError(
            number, f"a double quote is out of place in {shown(line)} ({error})", "Close it, or write it twice."
        ) from error


def unit_in(heading: str) -> str | None:
    """Unit that a heading names, `C` or `F`; None where it names none, or both."""
    named = [unit for unit, words in _UNIT_WORDS.items() if words.search(heading)]
    return named[0] if len(named) == 1 else None


@lru_cache
def number_pattern(decimal: str) -> re.Pattern[str]:
    """Match a number with this decimal sign, and a unit behind it where there is one."""
    mark = re.escape(decimal)
    return re.compile(rf"\s*([+\-\u2212]?)(\d+(?:{mark}\d*)?|{mark}\d+)([eE][+-]?\d+)?\s*(?:[°º]?\s*([CF]))?\s*")


def is_number(text: str, decimal: str) -> bool:
    """Whether the cell is a number with this decimal sign."""
    return number_pattern(decimal).fullmatch(text) is not None


def temperature_c(text: str, decimal: str, unit: str, line: int) -> float | None:
    """Give the temperature in a cell, degree Celsius; None where the cell holds no reading.

    Parameters
    ----------
    text
        The cell.
    decimal
        Its decimal sign, `.` or `,`.
    unit
        `C` or `F`, what the column is in.
    line
        For the error.

    Raises
    ------
    TableError
        No number, a unit that differs from the stated one, or a temperature that no room with eggs can have.
    """
    found = number_pattern(decimal).fullmatch(text)
    if found is None:
        if text.strip().lower() in NO_VALUE:
            return None
        raise _no_number(text, decimal, line)
    sign, digits, exponent, written_unit = found.groups()
    if written_unit and written_unit != unit:
        raise TableError(
            line, f"{shown(text)} is in °{written_unit}, the column in °{unit}", f"Give --unit {written_unit}."
        )
    value = float(digits.replace(decimal, ".") + (exponent or ""))
    if sign and sign != "+":
        value = -value
    celsius = value if unit == "C" else to_canonical(Quantity.AIR_TEMPERATURE, value, "degF")
    if not _FREEZING_C < celsius <= HOTTEST_ROOM_OR_EGG_C:
        _require_plausible(celsius, unit, text, line)
    return celsius


def _no_number(text: str, decimal: str, line: int) -> TableError:
    other = "," if decimal == "." else "."
    reason = f"{shown(text)} is not a number with the decimal sign {decimal}"
    if is_number(text, other):
        return TableError(line, reason, f"If all of the column is like this, give --decimal '{other}'.")
    return TableError(line, reason, _EMPTY_IT)


def _require_plausible(celsius: float, unit: str, text: str, line: int) -> None:
    quality, _, reason = judge(None, Quantity.AIR_TEMPERATURE, celsius, 0)
    if quality & Quality.FAULT_VALUE:
        raise TableError(line, f"{shown(text)}: {reason}", _EMPTY_IT)
    fahrenheit = looks_like_fahrenheit(celsius)
    if fahrenheit and unit == "C":
        raise TableError(line, fahrenheit, f"If the column is in °F, give --unit F. {_EMPTY_IT}")
    if quality != Quality.GOOD or fahrenheit:
        reason = reason or f"{celsius:g} °C is more than any room with eggs has"
        raise TableError(line, f"{shown(text)}: {reason}", _EMPTY_IT)
