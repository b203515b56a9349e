"""Numbers in the files of hwmon and IIO. Pure.

Kernel documentation: hwmon has whole numbers, thousandths of a degree Celsius or of a percent. IIO has either a
processed number in the same unit, or `raw`, `offset` and `scale`: value = (raw + offset) * scale, the offset first, and
a missing offset is 0.
"""

import math
import re

from sensors.linux.values import CELSIUS, PERCENT_RH, Answer, Fault, FaultKind, Value

_DECIMAL = re.compile(r"[+-]?[0-9]{1,15}(\.[0-9]{1,15})?([eE][+-]?[0-9]{1,2})?")


def unit_of(reading: str) -> str:
    """Give the unit of an input by its name: `temp1`, `humidity1`, `humidityrelative`."""
    return PERCENT_RH if reading.startswith("humidity") else CELSIUS


def decimal(text: str) -> float | None:
    """Read a decimal number; None where the text is none."""
    found = _DECIMAL.fullmatch(text.strip())
    return None if found is None else float(found[0])


def from_milli(text: str, unit: str) -> Answer:
    """Read a number in thousandths of the unit."""
    number = decimal(text)
    if number is None:
        return _no_number(text)
    return Value(number / 1000, unit)


def from_raw(raw: str, offset: str, scale: str, unit: str) -> Answer:
    """Work out the value of an IIO input from its three files; `offset` is empty where there is no such file."""
    numbers = [decimal(raw), decimal(offset) if offset.strip() else 0.0, decimal(scale)]
    for number, text in zip(numbers, (raw, offset, scale), strict=True):
        if number is None:
            return _no_number(text)
    raw_number, offset_number, scale_number = (number or 0.0 for number in numbers)
    value = (raw_number + offset_number) * scale_number / 1000
    return Value(value, unit) if math.isfinite(value) else _no_number(raw)


def _no_number(text: str) -> Fault:
    if not text.strip():
        return Fault(FaultKind.EMPTY, "the chip's file is empty")
    return Fault(FaultKind.UNREADABLE, "the chip's file holds no number")
