"""One alarm that is led through events, with all that it asked for."""

from collections import Counter
from dataclasses import dataclass, field

from daemon.alarms import state_store
from daemon.alarms.classes import MINUTE_MS, AlarmClass
from daemon.alarms.events import (
    Acknowledge,
    Annunciate,
    ConditionOff,
    ConditionOn,
    DataBack,
    Effect,
    Event,
    Ladder,
    Record,
    Tell,
)
from daemon.alarms.state_values import AlarmMemory, AlarmState, Shown
from daemon.alarms.states import Step, step

START_MS = 1_800_000_000_000


@dataclass
class Machine:
    alarm: AlarmClass
    state: AlarmState = field(default_factory=AlarmState)
    now_ms: int = START_MS
    effects: list[Effect] = field(default_factory=list)
    occurrences: int = 0

    @property
    def memory(self) -> AlarmMemory:
        return self.state.memory

    @property
    def shown(self) -> Shown:
        return self.state.shown

    def wait(self, minutes: float) -> "Machine":
        """Let time go on without looking at it."""
        self.now_ms += round(minutes * MINUTE_MS)
        return self

    def do(self, *events: Event) -> Step:
        for event in events:
            after = step(self.state, event, self.now_ms, self.alarm)
            assert after.reason
            self.state = after.state
            self.effects += after.effects
        return after

    def on(self) -> Step:
        self.occurrences += 1
        return self.do(ConditionOn(f"o{self.occurrences}", self.now_ms))

    def off(self) -> Step:
        return self.do(ConditionOff())

    def ack(self, who: str = "ana", note: str = "checked on site") -> Step:
        return self.do(Acknowledge(who, self.state.occurrence, self.state.version, note))

    def restart(self) -> "Machine":
        """Through the journal and back."""
        self.state = state_store.from_json(state_store.to_json(self.state))
        return self


def known(alarm: AlarmClass) -> Machine:
    """Give an alarm whose first good reading has come."""
    machine = Machine(alarm)
    machine.do(DataBack())
    machine.effects.clear()
    return machine


def rows(after: Step) -> list[str]:
    """Give the transitions that were taken."""
    return [each.row for each in after.effects if isinstance(each, Record) and each.accepted]


def refused(after: Step) -> bool:
    return any(isinstance(each, Record) and not each.accepted for each in after.effects)


def messages(effects: list[Effect] | tuple[Effect, ...]) -> list[str]:
    """Give why people were told, in that order."""
    return [each.why.value for each in effects if isinstance(each, Annunciate | Tell)]


def calls(effects: list[Effect] | tuple[Effect, ...]) -> int:
    return sum(isinstance(each, Annunciate) for each in effects)


def paces(effects: list[Effect] | tuple[Effect, ...]) -> list[str]:
    return [each.pace.value for each in effects if isinstance(each, Ladder)]


def bag(effects: list[Effect]) -> Counter[Effect]:
    return Counter(effects)
