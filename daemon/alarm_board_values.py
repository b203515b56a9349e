"""The alarm desk as a page shows it: every alarm that is not normal, with all that people need to know. Pure values.

Times are UTC ms, values canonical.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

from config.words import AlarmKind, Priority, Quantity
from daemon.alarms.events import Acknowledge, RemoveFromService, Reset, ReturnToService, Shelve, Unshelve
from daemon.alarms.metrics import Metrics
from daemon.alarms.state_values import DesignSuppression, OutOfService, Shelf, Shown
from daemon.storage.alarm_records import NumberedRecord

PersonEvent = Acknowledge | Reset | Shelve | Unshelve | RemoveFromService | ReturnToService
"""what a person may want of an alarm"""


class PersonCalled(NamedTuple):
    """One person who was called for an alarm: when, and whether a message to them has left."""

    name: str
    at_ms: tuple[int, ...]
    has_left: bool


class RoundNow(NamedTuple):
    """A round that goes on in an incubator, or has just ended: until when it holds warnings back at the latest."""

    incubator: str
    who: str
    until_ms: int
    is_ended: bool
    is_overdue: bool


@dataclass(frozen=True, slots=True)
class ListedAlarm:
    """One alarm as it is now.

    `mark` differs wherever people stand to it in another way; a form carries it, so that an older page is noticed.
    `value` is the newest good one, of an alarm that has a limit. `why` says why it was raised, where figures do not.
    """

    key: str
    mark: str
    kind: AlarmKind
    priority: Priority
    place: str
    what: str
    shown: Shown
    in_alarm: bool
    known: bool
    waits: bool
    since_ms: int
    returned_ms: int | None
    occurrence: str
    version: int
    quantity: Quantity | None
    value: float | None
    limit: float | None
    why: str
    called: tuple[PersonCalled, ...]
    acknowledged_by: str
    acknowledged_ms: int | None
    first_action: str
    caution: str
    shelf: Shelf | None
    design: tuple[DesignSuppression, ...]
    out: OutOfService | None
    latched: bool
    class_name: str
    longest_shelf_ms: int
    may_leave_service: bool
    longest_review_ms: int
    eggs_inside: bool


@dataclass(frozen=True, slots=True)
class AlarmList:
    """All of them at one moment, the most urgent first; `people` are pairs of id and name."""

    site_name: str
    time_zone: str
    fahrenheit: bool
    now_ms: int
    clock_rate: float
    people: tuple[tuple[str, str], ...]
    alarms: tuple[ListedAlarm, ...]
    rounds: tuple[RoundNow, ...] = ()
    is_demo: bool = False

    def find(self, key: str) -> ListedAlarm | None:
        """Give one alarm; None where it is over, or never was."""
        return next((each for each in self.alarms if each.key == key), None)


@dataclass(frozen=True, slots=True)
class AlarmSteps:
    """A page of the journal of alarms, newest first. `has_older`: there are steps before these. `newest`: of all."""

    time_zone: str
    now_ms: int
    steps: tuple[NumberedRecord, ...]
    has_older: bool
    newest: int
    names: tuple[tuple[str, str], ...] = ()
    called: Mapping[str, str] = field(default_factory=dict)
    """names of the alarms for people, by their keys"""


@dataclass(frozen=True, slots=True)
class MeasuredAlarms:
    """The measures of so many days up to now. `called`: names of the alarms for people, by their keys."""

    time_zone: str
    now_ms: int
    days: int
    metrics: Metrics
    newest: int
    called: Mapping[str, str] = field(default_factory=dict)


class Wished(NamedTuple):
    """What became of a wish, and why. `is_older`: the page that it came from shows an older state."""

    accepted: bool
    reason: str
    is_older: bool = False
