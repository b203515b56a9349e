"""The rungs of the notification ladder, by priority. Pure values; the standards leave the ladder to the site.

The figures are this project's choice: nobody waits longer than five minutes for the second person at priority 1, and
priority 1 never ends before somebody acknowledges.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType

from config.words import Priority
from daemon.alarms.classes import HOUR_MS, MINUTE_MS
from daemon.alarms.people import Contact, Person


class Who(StrEnum):
    """Whom a rung tells."""

    FIRST = "the first person on duty"
    SECOND = "the second person"
    BOTH = "everybody on duty"
    ALL = "everybody, and the emergency contacts"


class How(StrEnum):
    """By which of a person's contacts."""

    ONE = "the first contact"
    TWO = "the first contact and one that shares no path with it"
    EVERY = "every contact"
    SILENT = "the first contact, without sound"


@dataclass(frozen=True, slots=True)
class Rung:
    """What happens when nobody has acknowledged `after_ms` after the annunciation.

    `once_more`: the one who was told is told again, because nothing says that the first message has arrived.
    `again_ms`: this rung repeats.
    """

    after_ms: int
    who: Who
    how: How
    once_more: bool = False
    again_ms: int | None = None
    sounder: bool = False


RUNGS: Mapping[Priority, tuple[Rung, ...]] = MappingProxyType(
    {
        Priority.CRITICAL: (
            Rung(0, Who.FIRST, How.TWO, sounder=True),
            Rung(2 * MINUTE_MS, Who.FIRST, How.EVERY, once_more=True, sounder=True),
            Rung(5 * MINUTE_MS, Who.SECOND, How.EVERY, sounder=True),
            Rung(10 * MINUTE_MS, Who.BOTH, How.EVERY, again_ms=5 * MINUTE_MS, sounder=True),
            Rung(30 * MINUTE_MS, Who.ALL, How.EVERY, again_ms=5 * MINUTE_MS, sounder=True),
        ),
        Priority.HIGH: (
            Rung(0, Who.FIRST, How.ONE),
            Rung(2 * MINUTE_MS, Who.FIRST, How.ONE, once_more=True),
            Rung(5 * MINUTE_MS, Who.FIRST, How.ONE),
            Rung(10 * MINUTE_MS, Who.SECOND, How.ONE),
            Rung(30 * MINUTE_MS, Who.BOTH, How.ONE, again_ms=30 * MINUTE_MS),
        ),
        Priority.LOW: (Rung(0, Who.FIRST, How.SILENT),),
    }
)

REMIND_MS: Mapping[Priority, int | None] = MappingProxyType(
    {Priority.CRITICAL: 30 * MINUTE_MS, Priority.HIGH: 2 * HOUR_MS, Priority.LOW: None}
)
"""The pace of reminders once the condition has returned to normal and nobody has acknowledged."""


def chosen(person: Person, how: How) -> tuple[Contact, ...]:
    """Give the contacts that a rung uses; empty where the person has none that works."""
    usable = person.usable
    if how is How.EVERY or not usable:
        return usable
    if how is not How.TWO:
        return usable[:1]
    others = [each for each in usable[1:] if each.path != usable[0].path] or usable[1:]
    return (usable[0], *others[:1])
