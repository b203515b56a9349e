"""What a person who was called sees of the alarms, and what they can answer. Pure values."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from config.words import AlarmKind, Priority
from daemon.alarm_desk_values import Seen

AT_THE_PAGE = "page"
"""Who acknowledges on the first page, which knows nobody's name."""


class Wish(StrEnum):
    """What a person answers to a call."""

    ACKNOWLEDGE = "acknowledge"
    CANNOT = "cannot"
    """they cannot go"""


@dataclass(frozen=True, slots=True)
class CalledAlarm:
    """One alarm as it is now. Times are UTC ms.

    `state` is the word of ISA-18.2 / IEC 62682, or `over`. `waits`: nobody has acknowledged. `is_newer`: it is not any
    more as the link says. `headline` is that of a message of this moment. `said` is what became of an answer.
    """

    key: str
    kind: AlarmKind
    priority: Priority
    headline: str
    state: str
    in_alarm: bool
    since_ms: int | None = None
    acknowledged_by: str = ""
    shelved_until_ms: int | None = None
    first_action: str = ""
    caution: str = ""
    seen: Seen | None = None
    waits: bool = False
    is_newer: bool = False
    said: str = ""


@dataclass(frozen=True, slots=True)
class Called:
    """What one person was called for, at one moment.

    `accepted` is None before an answer, and False where one alarm or more refused it. `token` is the one to answer
    with: another one where the answer was to something older.
    """

    person: str
    time_zone: str
    now_ms: int
    alarms: tuple[CalledAlarm, ...]
    token: str = ""
    wish: Wish | None = None
    accepted: bool | None = None

    @property
    def waits(self) -> bool:
        """True where one of the alarms waits for somebody."""
        return any(each.waits for each in self.alarms)

    @property
    def can_say_no(self) -> bool:
        """True where somebody has to go."""
        return any(each.waits and each.in_alarm for each in self.alarms)


def person_name(names: Mapping[str, str], who: str) -> str:
    """Give the name of whoever acknowledged; a login at the command line stands for itself."""
    return names.get(who, "somebody at the page" if who == AT_THE_PAGE else who)
