"""The words that the site file, the journal and the pages share.

A word is written once, here, so that a file, a stored row and a sentence on a phone cannot drift apart.
"""

from enum import IntEnum, StrEnum


class Quantity(StrEnum):
    """What a channel measures. Values are canonical in the unit given beside each."""

    AIR_TEMPERATURE = "air_temperature"
    """degree Celsius, in the air of the place"""
    SURFACE_TEMPERATURE = "surface_temperature"
    """degree Celsius, on the lid or wall where water would settle"""
    RELATIVE_HUMIDITY = "relative_humidity"
    """percent, 0 to 100, over liquid water, in the air of the place"""

    @property
    def is_temperature(self) -> bool:
        """True where the canonical unit is degree Celsius."""
        return self is not Quantity.RELATIVE_HUMIDITY


class AlarmKind(StrEnum):
    """What can be wrong. One definition each in `daemon/alarms/definitions.py`."""

    TEMPERATURE_LETHAL_HIGH = "temperature-lethal-high"
    TEMPERATURE_LETHAL_LOW = "temperature-lethal-low"
    TEMPERATURE_HIGH = "temperature-high"
    TEMPERATURE_LOW = "temperature-low"
    HUMIDITY_HIGH = "humidity-high"
    HUMIDITY_LOW = "humidity-low"
    NO_DATA = "no-data"
    PROBE_FAULT = "probe-fault"


class Priority(IntEnum):
    """Alarm priority by ISA-18.2: consequence of doing nothing, and time to act. 1 is the most urgent."""

    CRITICAL = 1
    HIGH = 2
    LOW = 3

    @property
    def word(self) -> str:
        """What people read. HIGH and LOW would be taken for the temperature by somebody who has just woken up."""
        return {Priority.CRITICAL: "CRITICAL", Priority.HIGH: "URGENT", Priority.LOW: "CHECK"}[self]
