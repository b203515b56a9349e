"""The words that the site file, the journal and the pages share.

A word is written once, here, so that a file, a stored row and a sentence on a phone cannot drift apart.
"""

from collections.abc import Mapping
from enum import IntEnum, StrEnum
from types import MappingProxyType


class Quantity(StrEnum):
    """What a channel measures. Values are canonical in the unit given beside each."""

    AIR_TEMPERATURE = "air_temperature"
    """degree Celsius, in the air of the place"""
    SURFACE_TEMPERATURE = "surface_temperature"
    """degree Celsius, on the lid or wall where water would settle"""
    RELATIVE_HUMIDITY = "relative_humidity"
    """percent, 0 to 100, over liquid water, in the air of the place"""
    MAINS = "mains"
    """a contact: 1 present, 0 absent"""
    DOOR = "door"
    """a contact: 1 open, 0 closed"""

    @property
    def is_temperature(self) -> bool:
        """True where the canonical unit is degree Celsius."""
        return self in (Quantity.AIR_TEMPERATURE, Quantity.SURFACE_TEMPERATURE)

    @property
    def is_contact(self) -> bool:
        """True where a channel says one of two things, and has neither unit nor accuracy."""
        return self in CONTACT_WORDS


CONTACT_WORDS: Mapping[Quantity, tuple[str, str]] = MappingProxyType(
    {Quantity.MAINS: ("absent", "present"), Quantity.DOOR: ("closed", "open")}
)
"""What 0 and 1 of each contact mean."""


def contact_text(quantity: Quantity, value: float) -> str:
    """Write what a contact says: `mains absent`, `door open`."""
    return f"{quantity.value} {CONTACT_WORDS[quantity][value != 0]}"


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
    NO_DATA_LONG = "no-data-long"
    """a probe has been silent for so long that the eggs may have been lost unseen"""
    LAST_PROBE_SILENT = "last-probe-silent"
    """nothing watches an incubator with eggs any more"""
    SITE_SILENT = "site-silent"
    """all probes of the site fell silent together: mains, network or broker"""
    PROBES_DISAGREE = "probes-disagree"
    TEMPERATURE_FALLING = "temperature-falling"
    TEMPERATURE_RISING = "temperature-rising"
    LIMIT_AHEAD = "limit-ahead"
    """at this trend a limit is reached soon"""
    LETHAL_AHEAD = "lethal-ahead"
    """the same, and the limit is one beyond which eggs die"""
    EXPOSURE = "exposure"
    """too long outside, added up over a day or two"""
    CONDENSATION = "condensation"
    MAINS_LOST = "mains-lost"
    DOOR_OPEN = "door-open"
    CLOCK_STEPPED = "clock-stepped"
    BROKER_LOST = "broker-lost"
    DISK_LOW = "disk-low"
    DELIVERY_FAILING = "delivery-failing"
    JOURNAL_FAILING = "journal-failing"
    NO_COMMON_RANGE = "no-common-range"
    """no temperature suits all clutches of a place"""
    ROUND_NOT_ENDED = "round-not-ended"
    ROUND_OVERDUE = "round-overdue"
    NEAR_PIPPING = "near-pipping"
    HATCH_OVERDUE = "hatch-overdue"
    TEST_UNCONFIRMED = "test-unconfirmed"
    BACKUP_FAILING = "backup-failing"
    RESTORE_TEST_FAILED = "restore-test-failed"
    MIRROR_BEHIND = "mirror-behind"
    BOARD_TROUBLE = "board-trouble"
    """a board beside an incubator has lost readings, or soon will"""
    CERTIFICATE_ENDING = "certificate-ending"
    """the broker's certificate runs out soon, after which no probe can connect"""


class Priority(IntEnum):
    """Alarm priority by ISA-18.2: consequence of doing nothing, and time to act. 1 is the most urgent."""

    CRITICAL = 1
    HIGH = 2
    LOW = 3

    @property
    def word(self) -> str:
        """What people read. HIGH and LOW would be taken for the temperature by somebody who has just woken up."""
        return {Priority.CRITICAL: "CRITICAL", Priority.HIGH: "URGENT", Priority.LOW: "CHECK"}[self]
