"""Pure: what is remembered of the alarms of one channel, and its form in the journal."""

import json
from dataclasses import dataclass, field

from config.words import AlarmKind, Quantity
from daemon.alarms.conditions import ConditionState, Phase
from daemon.alarms.faults import FaultState
from daemon.alarms.silence import SilenceState
from daemon.alarms.state_json import StateError
from daemon.occupancy import Occupancy
from daemon.storage.samples import StoredReading

State = ConditionState | SilenceState | FaultState

LIMIT_KINDS: dict[Quantity, tuple[AlarmKind, ...]] = {
    # The lethal limits come first: what they raise decides whether the warnings below them are told.
    Quantity.AIR_TEMPERATURE: (
        AlarmKind.TEMPERATURE_LETHAL_HIGH,
        AlarmKind.TEMPERATURE_LETHAL_LOW,
        AlarmKind.TEMPERATURE_HIGH,
        AlarmKind.TEMPERATURE_LOW,
    ),
    Quantity.RELATIVE_HUMIDITY: (AlarmKind.HUMIDITY_HIGH, AlarmKind.HUMIDITY_LOW),
    Quantity.SURFACE_TEMPERATURE: (),
}

CAUSES: dict[AlarmKind, AlarmKind] = {
    AlarmKind.TEMPERATURE_HIGH: AlarmKind.TEMPERATURE_LETHAL_HIGH,
    AlarmKind.TEMPERATURE_LOW: AlarmKind.TEMPERATURE_LETHAL_LOW,
    AlarmKind.PROBE_FAULT: AlarmKind.NO_DATA,
}
"""An alarm on the left is not told while the one on the right, of the same channel, is in alarm: one incident."""


@dataclass(slots=True)
class Memory:
    """One alarm of one channel. `told` is whether its present occurrence was announced to people."""

    state: State
    occurrence: str = ""
    told: bool = False

    @property
    def is_alarm(self) -> bool:
        """True between RAISED and CLEARED."""
        return bool(self.occurrence)


@dataclass(slots=True)
class ChannelMemory:
    """All alarms of one channel."""

    alarms: dict[AlarmKind, Memory] = field(default_factory=dict)

    @property
    def is_calm(self) -> bool:
        """True where every alarm is normal and nothing is on its way to one."""
        return all(_is_calm(memory.state) for memory in self.alarms.values())

    def to_json(self) -> str:
        """One line of JSON."""
        return json.dumps(
            {
                kind.value: {"state": memory.state.to_json(), "occurrence": memory.occurrence, "told": memory.told}
                for kind, memory in self.alarms.items()
            },
            separators=(",", ":"),
        )

    def read_json(self, text: str) -> list[str]:
        """Take over what `to_json` wrote; gives a sentence for each alarm that could not be read and starts anew."""
        problems = []
        for name, stored in json.loads(text).items():
            try:
                kind = AlarmKind(name)
                present = self.alarms[kind]
                state = type(present.state).from_json(stored["state"])
                self.alarms[kind] = Memory(state, stored["occurrence"], stored["told"])
            except (StateError, KeyError, TypeError, ValueError) as error:
                problems.append(f"{name}: {error}")
        return problems


def _is_calm(state: State) -> bool:
    if isinstance(state, ConditionState):
        return state.phase is Phase.NORMAL
    if isinstance(state, SilenceState):
        return not state.is_silent
    return not state.recent and not state.is_faulty


@dataclass(slots=True)
class Calm:
    """Why the next reading of a channel can change nothing: all alarms are normal and it is well inside all limits.

    Almost every reading is such a one. They are not stepped through one by one; the last of them is, and leaves the
    same states. `applied` is the reading that was stepped through last, `newest` the one that stands for all since.
    """

    applied: StoredReading
    newest: StoredReading
    occupancy: Occupancy
    from_ms: int
    until_ms: int
    low: float
    high: float

    def covers(self, row: StoredReading, occupancy: Occupancy) -> bool:
        """True for a good, newer reading inside the bounds, while nobody moved."""
        return (
            row.quality == 0
            and self.low < row.value < self.high
            and row.measured_at_ms > self.newest.measured_at_ms
            and row.received_at_ms >= self.newest.received_at_ms
            and occupancy is self.occupancy
            and self.from_ms <= row.measured_at_ms < self.until_ms
        )


def fresh_memory(quantity: Quantity, watching_since_ms: int) -> ChannelMemory:
    """Every alarm that a channel of this quantity can have, all of them normal."""
    alarms = {kind: Memory(ConditionState()) for kind in LIMIT_KINDS[quantity]}
    alarms[AlarmKind.NO_DATA] = Memory(SilenceState(watching_since_ms))
    alarms[AlarmKind.PROBE_FAULT] = Memory(FaultState())
    return ChannelMemory(alarms)
