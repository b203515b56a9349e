"""What the alarm desk remembers and what follows from it. Pure values."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

from config.words import AlarmKind
from daemon.alarm_memory import LETHAL_OF
from daemon.alarm_transition import Transition
from daemon.alarms import classes
from daemon.alarms.classes import AlarmClass
from daemon.alarms.events import Record, Why
from daemon.alarms.folding import Role
from daemon.alarms.probe_kinds import is_minor
from daemon.alarms.state_values import AlarmMemory, AlarmState

MANAGED: Mapping[AlarmKind, tuple[AlarmClass, Role]] = {
    AlarmKind.TEMPERATURE_LETHAL_HIGH: (classes.LETHAL, Role.LETHAL_HIGH),
    AlarmKind.TEMPERATURE_LETHAL_LOW: (classes.LETHAL, Role.LETHAL_LOW),
    AlarmKind.TEMPERATURE_HIGH: (classes.HIGH_WARNING, Role.HIGH),
    AlarmKind.TEMPERATURE_LOW: (classes.LOW_WARNING, Role.LOW),
    AlarmKind.HUMIDITY_HIGH: (classes.HUMIDITY, Role.HUMIDITY),
    AlarmKind.HUMIDITY_LOW: (classes.HUMIDITY, Role.HUMIDITY),
    AlarmKind.NO_DATA: (classes.NO_DATA, Role.NO_DATA),
    AlarmKind.PROBE_FAULT: (classes.PROBE_FAULT, Role.PROBE_FAULT),
    AlarmKind.NO_DATA_LONG: (classes.NO_DATA_LONG, Role.NO_DATA_LONG),
    AlarmKind.LAST_PROBE_SILENT: (classes.LAST_PROBE_SILENT, Role.LAST_PROBE),
    AlarmKind.SITE_SILENT: (classes.SITE_SILENT, Role.SITE_SILENT),
    AlarmKind.PROBES_DISAGREE: (classes.PROBE_FAULT, Role.PROBES_DISAGREE),
    AlarmKind.TEMPERATURE_FALLING: (classes.COOLING_WARNING, Role.FALLING),
    AlarmKind.TEMPERATURE_RISING: (classes.HIGH_WARNING, Role.RISING),
    AlarmKind.LIMIT_AHEAD: (classes.HIGH_WARNING, Role.AHEAD_HIGH),
    AlarmKind.LETHAL_AHEAD: (classes.HIGH_WARNING, Role.AHEAD_LETHAL),
    AlarmKind.EXPOSURE: (classes.CUMULATIVE, Role.OTHER),
    AlarmKind.CONDENSATION: (classes.HUMIDITY, Role.CONDENSATION),
    AlarmKind.MAINS_LOST: (classes.MAINS_LOST, Role.MAINS_LOST),
    AlarmKind.DOOR_OPEN: (classes.DOOR_OPEN, Role.DOOR_OPEN),
    AlarmKind.CLOCK_STEPPED: (classes.SELF_HIGH, Role.OTHER),
    AlarmKind.BROKER_LOST: (classes.SELF_HIGH, Role.BROKER_LOST),
    AlarmKind.DISK_LOW: (classes.SELF_HIGH, Role.OTHER),
    AlarmKind.DELIVERY_FAILING: (classes.SELF_HIGH, Role.OTHER),
    AlarmKind.JOURNAL_FAILING: (classes.SELF_CRITICAL, Role.OTHER),
    AlarmKind.NO_COMMON_RANGE: (classes.CARE, Role.OTHER),
    AlarmKind.ROUND_NOT_ENDED: (classes.WORK_FORGOTTEN, Role.OTHER),
    AlarmKind.ROUND_OVERDUE: (classes.CARE, Role.OTHER),
    AlarmKind.NEAR_PIPPING: (classes.CARE, Role.OTHER),
    AlarmKind.HATCH_OVERDUE: (classes.CARE, Role.OTHER),
    AlarmKind.TEST_UNCONFIRMED: (classes.TEST_UNCONFIRMED, Role.OTHER),
    AlarmKind.BACKUP_FAILING: (classes.SELF_LOW, Role.OTHER),
    AlarmKind.RESTORE_TEST_FAILED: (classes.SELF_LOW, Role.OTHER),
    AlarmKind.MIRROR_BEHIND: (classes.SELF_LOW, Role.OTHER),
    AlarmKind.BOARD_TROUBLE: (classes.SELF_LOW, Role.OTHER),
    AlarmKind.CERTIFICATE_ENDING: (classes.SELF_LOW, Role.OTHER),
}
"""How each kind of alarm is managed, and what it is within an incident."""

SILENCES = frozenset({AlarmKind.NO_DATA, AlarmKind.NO_DATA_LONG, AlarmKind.LAST_PROBE_SILENT})
"""They are about the silence of a probe itself: that nothing comes makes them certain and not unknown."""


def key_of(transition: Transition) -> str:
    """The name of an alarm: its kind and what it is about."""
    return f"{transition.kind}:{transition.subject}"


@dataclass(frozen=True, slots=True)
class Entry:
    """One alarm: its state, and the transition that last raised it, for the text."""

    state: AlarmState
    raised: Transition

    @property
    def alarm(self) -> AlarmClass:
        """How it is managed. Of a contact, and of the room around the incubators, nothing is urgent."""
        alarm = self._managed[0]
        quantity = None if self.raised.channel is None else self.raised.channel.quantity
        return classes.PROBE_FAULT if alarm is classes.NO_DATA and is_minor(self.raised.place, quantity) else alarm

    @property
    def role(self) -> Role:
        """What it is within an incident."""
        return self._managed[1]

    @property
    def _managed(self) -> tuple[AlarmClass, Role]:
        raised = self.raised
        goes_down = raised.value is not None and raised.limit is not None and raised.limit < raised.value
        if raised.kind is AlarmKind.LIMIT_AHEAD and goes_down:
            return classes.COOLING_WARNING, Role.AHEAD_LOW
        return MANAGED[raised.kind]

    @property
    def is_over(self) -> bool:
        """True where nothing of it needs to be remembered."""
        state = self.state
        return state.memory is AlarmMemory.NORMAL and not (state.in_alarm or state.hidden or state.is_suppressed)


def is_to_be_told(raised: Transition, entries: Mapping[str, Entry]) -> bool:
    """Whether an alarm goes to people by itself: also one that a lethal alarm explains, if that is out of service."""
    cause = LETHAL_OF.get(raised.kind)
    explained = entries.get(f"{cause}:{raised.subject}")
    if raised.late:
        return False
    return raised.told or (explained is not None and explained.state.out is not None)


class Seen(NamedTuple):
    """An alarm as a person was told of it: another occurrence or version is another call."""

    key: str
    occurrence: str
    version: int


@dataclass(frozen=True, slots=True)
class CallOut:
    """One message that calls one person: about the lead, and the others of the same moment. `rung` 0 is a reminder."""

    person: str
    contacts: tuple[str, ...]
    incident: str
    lead: str
    others: tuple[str, ...]
    rung: int
    version: int
    at_ms: int
    told: tuple[str, ...]
    """people who were told before, by id"""
    cannot: tuple[str, ...] = ()
    """those of them who have said that they cannot go"""


@dataclass(frozen=True, slots=True)
class Told:
    """One message to a person that calls nobody: it is over, or somebody has acknowledged (`who`)."""

    person: str
    contacts: tuple[str, ...]
    key: str
    why: Why
    occurrence: str
    version: int
    at_ms: int
    who: str = ""


@dataclass(slots=True)
class Outcome:
    """What follows: messages, lines for the journal, and incidents whose waiting calls are pointless now.

    `closed` are the alarms that are over and forgotten from here on.
    """

    calls: list[CallOut] = field(default_factory=list)
    told: list[Told] = field(default_factory=list)
    records: list[tuple[str, Record]] = field(default_factory=list)
    pointless: list[str] = field(default_factory=list)
    closed: dict[str, Entry] = field(default_factory=dict)
