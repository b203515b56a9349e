"""What can happen to an alarm, and what is to be done about it. Pure values.

Whether a person may do a thing is decided before an event is made; what the standards call a guard on the alarm's own
state is decided by the state machine. Times are UTC ms.
"""

from dataclasses import dataclass
from enum import StrEnum

from config.words import Priority
from daemon.alarms.classes import Mode
from daemon.alarms.state_values import AlarmMemory, Shown


@dataclass(frozen=True, slots=True)
class ConditionOn:
    """Beyond the limit for the on-delay. `occurrence` names it where a new one begins."""

    occurrence: str
    since_ms: int


@dataclass(frozen=True, slots=True)
class ConditionOff:
    """Inside the limit by the deadband for the off-delay, by fresh good readings."""


@dataclass(frozen=True, slots=True)
class DataLost:
    """No fresh good data any more."""


@dataclass(frozen=True, slots=True)
class DataBack:
    """Fresh good data again."""


@dataclass(frozen=True, slots=True)
class Acknowledge:
    """A person has recognised this occurrence in this version."""

    who: str
    occurrence: str
    version: int
    note: str = ""
    """what was found or done there"""


@dataclass(frozen=True, slots=True)
class Reset:
    """A person releases a latched alarm."""

    who: str


@dataclass(frozen=True, slots=True)
class Shelve:
    """A person wants not to be told until `until_ms`. `second`: the second person, or a note from on site."""

    who: str
    reason: str
    until_ms: int
    one_shot: bool = False
    second: str = ""


@dataclass(frozen=True, slots=True)
class Unshelve:
    """A person ends a shelf."""

    who: str


@dataclass(frozen=True, slots=True)
class SuppressOn:
    """A designed reason begins to hold, with the moment at which it ends at the latest."""

    mode: Mode
    name: str
    hard_end_ms: int
    settle_ms: int = 0


@dataclass(frozen=True, slots=True)
class SuppressOff:
    """A designed reason holds no longer; the settle time begins."""

    mode: Mode
    name: str


@dataclass(frozen=True, slots=True)
class RemoveFromService:
    """A person takes the alarm out of service, or gives it a new review date."""

    who: str
    reason: str
    interim: str
    review_ms: int
    eggs_inside: bool


@dataclass(frozen=True, slots=True)
class ReturnToService:
    """A person puts the alarm back into service; `test` says how it was seen to work."""

    who: str
    test: str


@dataclass(frozen=True, slots=True)
class FoundAfterwards:
    """Readings that came late prove an excursion that is over."""

    occurrence: str
    since_ms: int
    until_ms: int


@dataclass(frozen=True, slots=True)
class LimitChanged:
    """The limit was changed and the last reading is inside the new one; `removed`: nothing is watched any more."""

    who: str
    why: str
    removed: bool = False


@dataclass(frozen=True, slots=True)
class ClockStepped:
    """The wall clock was set by `by_ms`: forward above 0."""

    by_ms: int


@dataclass(frozen=True, slots=True)
class Restarted:
    """The service has started again. `still`: the designed reasons that its inputs show to hold now."""

    still: frozenset[tuple[Mode, str]] = frozenset()


@dataclass(frozen=True, slots=True)
class TimePassed:
    """Nothing happened but the time."""


Event = (
    ConditionOn
    | ConditionOff
    | DataLost
    | DataBack
    | Acknowledge
    | Reset
    | Shelve
    | Unshelve
    | SuppressOn
    | SuppressOff
    | RemoveFromService
    | ReturnToService
    | FoundAfterwards
    | LimitChanged
    | ClockStepped
    | Restarted
    | TimePassed
)


class Why(StrEnum):
    """Why people are told."""

    RAISED = "raised"
    CAME_BACK = "on again"
    STILL_ON = "still on after the acknowledgement"
    SUPPRESSION_ENDED = "no longer suppressed, still on"
    RETURNED = "back in range, nobody has acknowledged"
    CLEARED = "back in range"
    TAKEN = "somebody has acknowledged"
    HIDDEN = "was on while suppressed, back in range"
    FOUND_AFTERWARDS = "found afterwards"
    REVIEW_DUE = "out of service, its review is due"
    REVIEW_LATE = "out of service, its review is late"


class Pace(StrEnum):
    """How the ladder goes on from here."""

    REMIND = "remind"
    STOP = "stop"


@dataclass(frozen=True, slots=True)
class Annunciate:
    """Call people: the ladder starts at its first rung. After the acknowledgement this is the re-alarm."""

    why: Why
    occurrence: str
    version: int
    at_ms: int


@dataclass(frozen=True, slots=True)
class Tell:
    """One message to the people on duty, and no ladder. `who` is the person it is about, and need not be told."""

    why: Why
    occurrence: str
    version: int
    at_ms: int
    who: str = ""


@dataclass(frozen=True, slots=True)
class Ladder:
    """Slow the ladder of this occurrence down to reminders, or stop it."""

    pace: Pace
    at_ms: int


@dataclass(frozen=True, slots=True)
class Overrun:
    """People at work have been longer than the hard end: raise the alarm that says so."""

    mode: Mode
    name: str
    at_ms: int


@dataclass(frozen=True, slots=True)
class ReviewDue:
    """The review date of an alarm out of service has come, or passed long ago."""

    priority: Priority
    at_ms: int


@dataclass(frozen=True, slots=True)
class Record:
    """A line for the journal.

    `row` is the number of the transition in the table of `states`; `accepted` is False for a person's wish that was
    refused or changed nothing.
    """

    row: str
    event: str
    before: AlarmMemory
    after: AlarmMemory
    shown: Shown
    who: str
    reason: str
    annunciated: bool
    accepted: bool
    at_ms: int


Effect = Annunciate | Tell | Ladder | Overrun | ReviewDue | Record
