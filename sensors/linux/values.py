"""What a look at a sensor gives: a value with its unit, or a fault in words. Pure."""

from enum import StrEnum
from typing import NamedTuple

CELSIUS, PERCENT_RH, SWITCH = "Cel", "%RH", "/"
"""Units by RFC 8428 section 12.1."""


class FaultKind(StrEnum):
    """Why there is no value. A fault is never sent as a number."""

    GONE = "gone"
    """no such device or file"""
    EMPTY = "empty"
    """the file has nothing in it: the checksum failed each time that the kernel read"""
    CHECKSUM = "checksum"
    POWER_ON = "power-on"
    """the value that stands in a thermometer before it has measured"""
    LOW_POWER = "low-power"
    STUCK_LOW = "stuck-low"
    """the data line stands at zero, whose checksum is right"""
    OUT_OF_RANGE = "out-of-range"
    FLAGGED = "flagged"
    """the chip itself says that its sensor has a fault"""
    SWITCHED_OFF = "switched-off"
    STALE = "stale"
    """so old, or so long in coming, that nobody knows when it was measured"""
    UNREADABLE = "unreadable"


class Fault(NamedTuple):
    """No value, and why: a sentence that says what to look at."""

    kind: FaultKind
    sentence: str


class Value(NamedTuple):
    """A value in the unit beside it."""

    value: float
    unit: str


Answer = Value | Fault
