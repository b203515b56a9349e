"""Alarm classes: what may be done with the alarms of a class, and how soon people hear of them again. Pure.

"Alarm class" is the word of ISA-18.2 / IEC 62682 for alarms that are managed by the same rules. The classes, and every
time below, are this project's choice for one or two people and living eggs; the standards leave them to the site.

An alarm of priority 1 cannot be suppressed by design at all: where it follows from another alarm it shares that one's
message, and stays unacknowledged in its own right.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType

from config.words import Priority

MINUTE_MS = 60_000
HOUR_MS = 60 * MINUTE_MS
DAY_MS = 24 * HOUR_MS

LONGEST_SHELF_MS: Mapping[Priority, int] = MappingProxyType(
    {Priority.CRITICAL: HOUR_MS, Priority.HIGH: 4 * HOUR_MS, Priority.LOW: 24 * HOUR_MS}
)
SHELVES_IN_A_ROW = 2
"""More than these, one after another, take a second person or a note from somebody who stands beside the eggs."""

REALARM_MS: Mapping[Priority, int] = MappingProxyType(
    {Priority.CRITICAL: 30 * MINUTE_MS, Priority.HIGH: 2 * HOUR_MS, Priority.LOW: 12 * HOUR_MS}
)
"""An acknowledged alarm that is still on is annunciated again after this time."""

SAME_OCCURRENCE_MS = 30 * MINUTE_MS
"""An alarm that comes back sooner than this is the same occurrence again."""

LONGEST_REVIEW_MS = 30 * DAY_MS
LONGEST_REVIEW_WITH_EGGS_MS = DAY_MS
REVIEW_AGAIN_MS = DAY_MS
"""After the review date people are reminded at this pace until the alarm is back in service."""


class Mode(StrEnum):
    """Why an alarm is suppressed by design."""

    ROUND = "round in progress"
    DOOR = "door open"
    CAUSE = "another alarm is its cause"
    WORSE = "a more severe alarm of the same place is on"

    @property
    def is_work(self) -> bool:
        """True where people at work are the cause: to be forgotten there is an alarm of its own."""
        return self in (Mode.ROUND, Mode.DOOR)


LONGEST_SUPPRESSION_MS: Mapping[Mode, int] = MappingProxyType(
    {Mode.ROUND: 30 * MINUTE_MS, Mode.DOOR: 30 * MINUTE_MS, Mode.CAUSE: DAY_MS, Mode.WORSE: DAY_MS}
)
"""The hard end may not lie further ahead than this."""

LONGEST_SETTLE_MS = HOUR_MS


@dataclass(frozen=True, slots=True)
class AlarmClass:
    """How the alarms of one class are managed.

    `latching`: after the return to normal it is held until somebody resets it. `suppressible_by`: the designed reasons
    that may hold its message back. `may_leave_service`: a person may take it out of service, with a review date.

    Raises ValueError for an alarm of priority 1 that could be suppressed by design.
    """

    name: str
    priority: Priority
    latching: bool = False
    shelvable: bool = True
    suppressible_by: frozenset[Mode] = frozenset()
    may_leave_service: bool = True

    def __post_init__(self) -> None:
        if self.priority is Priority.CRITICAL and self.suppressible_by:
            raise ValueError(f"alarm class {self.name}: priority 1 is never suppressed by design")

    @property
    def acknowledged_on_return(self) -> bool:
        """True where somebody has to acknowledge even after the return to normal; not so for the lowest priority."""
        return self.priority is not Priority.LOW

    @property
    def longest_shelf_ms(self) -> int:
        """The longest time on the shelf; 0 where it may not be shelved."""
        return LONGEST_SHELF_MS[self.priority] if self.shelvable else 0

    @property
    def realarm_ms(self) -> int:
        """From the acknowledgement to the next annunciation of an alarm that is still on."""
        return REALARM_MS[self.priority]


_FOLLOWS = frozenset({Mode.CAUSE, Mode.WORSE})
_DIPS = _FOLLOWS | {Mode.ROUND, Mode.DOOR}

LETHAL = AlarmClass("lethal limit", Priority.CRITICAL, latching=True, shelvable=False)
MAINS_LOST = AlarmClass("mains lost", Priority.CRITICAL, latching=True, shelvable=False)
LAST_PROBE_SILENT = AlarmClass("last probe silent", Priority.CRITICAL, shelvable=False)
NO_DATA_LONG = AlarmClass("no data for long", Priority.CRITICAL)
SELF_CRITICAL = AlarmClass(
    "self-alarm, critical", Priority.CRITICAL, latching=True, shelvable=False, may_leave_service=False
)
SELF_HIGH = AlarmClass("self-alarm", Priority.HIGH, latching=True, shelvable=False, may_leave_service=False)
HIGH_WARNING = AlarmClass("warning", Priority.HIGH, suppressible_by=_FOLLOWS)
COOLING_WARNING = AlarmClass("warning of cooling", Priority.HIGH, suppressible_by=_DIPS)
LOW_WARNING = AlarmClass("warning of cold", Priority.LOW, suppressible_by=_DIPS)
HUMIDITY = AlarmClass("humidity", Priority.LOW, suppressible_by=_DIPS)
CUMULATIVE = AlarmClass("cumulative exposure", Priority.HIGH, latching=True)
NO_DATA = AlarmClass("no data", Priority.HIGH, suppressible_by=_FOLLOWS)
SITE_SILENT = AlarmClass("all probes silent", Priority.CRITICAL, shelvable=False)
DOOR_OPEN = AlarmClass("door open", Priority.HIGH, suppressible_by=frozenset({Mode.ROUND}))
WORK_FORGOTTEN = AlarmClass("work not ended", Priority.HIGH)
TEST_UNCONFIRMED = AlarmClass("test not confirmed", Priority.HIGH)
SELF_LOW = AlarmClass("self-alarm, low", Priority.LOW)
PROBE_FAULT = AlarmClass("probe fault", Priority.LOW, suppressible_by=_FOLLOWS)
CARE = AlarmClass("care due", Priority.LOW)
"""round overdue, clutch near pipping, calibration due"""

CLASSES: Mapping[str, AlarmClass] = MappingProxyType(
    {
        each.name: each
        for each in (
            LETHAL,
            MAINS_LOST,
            LAST_PROBE_SILENT,
            NO_DATA_LONG,
            SELF_CRITICAL,
            SELF_HIGH,
            HIGH_WARNING,
            COOLING_WARNING,
            LOW_WARNING,
            HUMIDITY,
            CUMULATIVE,
            NO_DATA,
            SITE_SILENT,
            DOOR_OPEN,
            WORK_FORGOTTEN,
            TEST_UNCONFIRMED,
            SELF_LOW,
            PROBE_FAULT,
            CARE,
        )
    }
)
