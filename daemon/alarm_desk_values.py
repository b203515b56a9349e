"""What the alarm desk remembers and what follows from it. Pure values."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

from config.model import ROOM
from config.words import AlarmKind
from daemon.alarm_transition import Transition
from daemon.alarms import classes
from daemon.alarms.classes import AlarmClass
from daemon.alarms.events import Record, Why
from daemon.alarms.folding import Role
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
}
"""How each kind of alarm is managed, and what it is within an incident."""


def key_of(transition: Transition) -> str:
    """The name of an alarm: its kind and its channel."""
    return f"{transition.kind}:{transition.channel.channel}"


@dataclass(frozen=True, slots=True)
class Entry:
    """One alarm: its state, and the transition that last raised it, for the text."""

    state: AlarmState
    raised: Transition

    @property
    def alarm(self) -> AlarmClass:
        """How it is managed. Of the room around the incubators nothing is urgent."""
        alarm = MANAGED[self.raised.kind][0]
        return classes.PROBE_FAULT if self.raised.place == ROOM and alarm is classes.NO_DATA else alarm

    @property
    def is_over(self) -> bool:
        """True where nothing of it needs to be remembered."""
        state = self.state
        return state.memory is AlarmMemory.NORMAL and not (state.in_alarm or state.hidden or state.is_suppressed)


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
