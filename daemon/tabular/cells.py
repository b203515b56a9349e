"""From a line to its cells, and from a cell to a temperature or a humidity."""

import csv
import re
from dataclasses import dataclass
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
    "percent": re.compile(r"%|\bpercent\b", re.IGNORECASE),
}
UNITS = {"C": ("°C", "degC"), "F": ("°F", "degF"), "percent": ("% RH", "percent"), "fraction": ("a fraction", "/")}
"""Each unit that a column can be stated in: its name for people, and its name in `sensors.units`."""
_CANONICAL = frozenset({"C", "percent"})
_FREEZING_C = 0.0
_LARGEST = 1e300
"""Beyond it a number does not survive a conversion of units."""
_EMPTY_IT = "If this is no reading, empty the cell: it then counts as missing."


@dataclass(frozen=True, slots=True)
class Column:
    """A column as the keeper asks for it: its heading or number from 1, what it holds, and the unit it is in.

    `any_value` leaves implausible values to a later judgement; without it they are refused with their line.
    """

    word: str
    quantity: Quantity
    unit: str
    any_value: bool = False

    @property
    def unit_words(self) -> str:
        """The unit for people."""
        return UNITS[self.unit][0]

    @property
    def unit_option(self) -> str:
        """The option that states the unit."""
        return "--unit" if self.quantity.is_temperature else "--humidity-unit"


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
    """Unit that a heading names, `C`, `F` or `percent`; None where it names none, or several."""
    named = [unit for unit, words in _UNIT_WORDS.items() if words.search(heading)]
    return named[0] if len(named) == 1 else None


@lru_cache
def number_pattern(decimal: str) -> re.Pattern[str]:
    """Match a number with this decimal sign, and a unit behind it where there is one."""
    mark = re.escape(decimal)
    return re.compile(
        rf"\s*([+\-\u2212]?)(\d+(?:{mark}\d*)?|{mark}\d+)([eE][+-]?\d+)?\s*(?:[°º]?\s*([CF])|(%)\s*(?:RH|rH|rF)?)?\s*"
    )


def is_number(text: str, decimal: str) -> bool:
    """Whether the cell is a number with this decimal sign."""
    return number_pattern(decimal).fullmatch(text) is not None


def reading(text: str, decimal: str, column: Column, line: int) -> float | None:
    """Give the reading in a cell, degree Celsius or percent relative humidity; None where the cell holds none.

    Parameters
    ----------
    text
        The cell.
    decimal
        Its decimal sign, `.` or `,`.
    column
        What the cell belongs to.
    line
        For the error.

    Raises
    ------
    TableError
        No number, a unit that differs from the stated one, or a value that no room with eggs can have.
    """
    found = number_pattern(decimal).fullmatch(text)
    if found is None:
        if text.strip().lower() in NO_VALUE:
            return None
        raise _no_number(text, decimal, line)
    sign, digits, exponent, degree, percent = found.groups()
    if (degree or percent) and (degree or "percent") != column.unit:
        raise _other_unit(text, degree or "percent", column, line)
    value = float(digits.replace(decimal, ".") + (exponent or ""))
    if value > _LARGEST:
        raise TableError(line, f"{shown(text)} is larger than any probe can say", _EMPTY_IT)
    if sign and sign != "+":
        value = -value
    if column.unit not in _CANONICAL:
        value = to_canonical(column.quantity, value, UNITS[column.unit][1])
    if not (column.any_value or _FREEZING_C < value <= HOTTEST_ROOM_OR_EGG_C):
        _require_plausible(value, column, text, line)
    return value


def _other_unit(text: str, written: str, column: Column, line: int) -> TableError:
    reason = f"{shown(text)} is in {UNITS[written][0]}, the column in {column.unit_words}"
    if (written == "percent") is column.quantity.is_temperature:
        return TableError(line, reason, "Is this the right column?")
    return TableError(line, reason, f"Give {column.unit_option} {written}.")


def _no_number(text: str, decimal: str, line: int) -> TableError:
    other = "," if decimal == "." else "."
    reason = f"{shown(text)} is not a number with the decimal sign {decimal}"
    if is_number(text, other):
        return TableError(line, reason, f"If all of the column is like this, give --decimal '{other}'.")
    return TableError(line, reason, _EMPTY_IT)


def _require_plausible(value: float, column: Column, text: str, line: int) -> None:
    quality, _, reason = judge(None, column.quantity, value, 0)
    if quality & Quality.FAULT_VALUE:
        raise TableError(line, f"{shown(text)}: {reason}", _EMPTY_IT)
    fahrenheit = looks_like_fahrenheit(value) if column.quantity.is_temperature else None
    if fahrenheit and column.unit == "C":
        raise TableError(line, fahrenheit, f"If the column is in °F, give --unit F. {_EMPTY_IT}")
    if quality != Quality.GOOD or fahrenheit:
        reason = reason or f"{value:g} °C is more than any room with eggs has"
        raise TableError(line, f"{shown(text)}: {reason}", _EMPTY_IT)
