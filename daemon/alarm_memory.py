"""Pure: what is remembered of the alarms of one channel, and its form in the journal."""

import json
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Any, TypeVar

from config.words import AlarmKind, Quantity
from daemon.alarm_transition import Happened
from daemon.alarms import damping
from daemon.alarms.conditions import Change, ConditionState, Phase, withdraw
from daemon.alarms.damping import Damped, Lag
from daemon.alarms.faults import FaultState
from daemon.alarms.lateness import Held
from daemon.alarms.silence import SilenceState
from daemon.alarms.state_json import StateError
from daemon.occupancy import Occupancy
from daemon.storage.samples import StoredReading
from sensors.reading import Quality

State = ConditionState | SilenceState | FaultState
_Run = TypeVar("_Run", bound=ConditionState | FaultState)

LIMIT_KINDS: dict[Quantity, tuple[AlarmKind, ...]] = {
    # The lethal limits come first: what they raise decides whether and when the warnings below them are told.
    Quantity.AIR_TEMPERATURE: (
        AlarmKind.TEMPERATURE_LETHAL_HIGH,
        AlarmKind.TEMPERATURE_LETHAL_LOW,
        AlarmKind.TEMPERATURE_HIGH,
        AlarmKind.TEMPERATURE_LOW,
    ),
    Quantity.RELATIVE_HUMIDITY: (AlarmKind.HUMIDITY_HIGH, AlarmKind.HUMIDITY_LOW),
    Quantity.SURFACE_TEMPERATURE: (),
    Quantity.MAINS: (),
    Quantity.DOOR: (),
}

LETHAL_OF: Mapping[AlarmKind, AlarmKind] = MappingProxyType(
    {
        AlarmKind.TEMPERATURE_HIGH: AlarmKind.TEMPERATURE_LETHAL_HIGH,
        AlarmKind.TEMPERATURE_LOW: AlarmKind.TEMPERATURE_LETHAL_LOW,
    }
)
"""The warnings, which watch the damped temperature, and the lethal limit beyond each, which watches the reading."""

LONGEST_AHEAD_MS = 10 * 60_000
"""A remembered time further ahead of a reading's arrival than this is from before a clock was set back."""

AHEAD_AT_START_MS = 2 * 60_000
"""The same at a start, when nobody can tell any more: so far the clock of a probe may be ahead, as usual."""

_DAMPING = "damping"
"""Stands among the names of alarms in the journal."""


@dataclass(slots=True)
class Memory:
    """One alarm of one channel. `told` is whether its present occurrence was announced to people."""

    state: State
    occurrence: str = ""
    told: bool = False
    tell_from_ms: int | None = None
    """when an alarm that another one explained is told after all, because the other has ended and this one has not"""
    readings: ConditionState = field(default_factory=ConditionState)
    """of a warning that watches the damped temperature: the run of readings themselves beyond its limit"""
    held: Held | None = None
    """where a late reading raised it and nobody was told yet"""

    @property
    def is_alarm(self) -> bool:
        """True between RAISED and CLEARED."""
        return bool(self.occurrence)

    @property
    def since_ms(self) -> int | None:
        """Since when the condition has held; None where it does not."""
        return self.state.silent_since_ms if isinstance(self.state, SilenceState) else self.state.since_ms

    @property
    def goes_on(self) -> bool:
        """True for an alarm that is on and not on its way back."""
        return self.is_alarm and not (isinstance(self.state, ConditionState) and self.state.phase is Phase.PENDING_OFF)


@dataclass(slots=True)
class ChannelMemory:
    """All alarms of one channel, and its damped temperature where there is one."""

    alarms: dict[AlarmKind, Memory] = field(default_factory=dict)
    damped: Damped | None = None

    @property
    def is_calm(self) -> bool:
        """True where every alarm is normal and nothing is on its way to one."""
        return all(_is_calm(memory.state) and _is_calm(memory.readings) for memory in self.alarms.values())

    def to_json(self) -> str:
        """One line of JSON."""
        fields: dict[str, Any] = {kind.value: _fields(memory) for kind, memory in self.alarms.items()}
        if self.damped is not None:
            fields[_DAMPING] = damping.to_fields(self.damped)
        return json.dumps(fields, separators=(",", ":"))

    def read_json(self, text: str) -> list[str]:
        """Take over what `to_json` wrote; gives a sentence for each alarm that could not be read and starts anew."""
        problems = []
        try:
            found = json.loads(text).items()
        except (ValueError, AttributeError) as error:
            return [f"all alarms of this channel: {error}"]
        for name, stored in found:
            try:
                if name == _DAMPING:
                    self.damped = damping.from_fields(stored)
                    continue
                kind = AlarmKind(name)
                present = self.alarms[kind]
                state = type(present.state).from_json(stored["state"])
                own = stored.get("readings")
                readings = ConditionState() if own is None else ConditionState.from_json(own)
                held = Held(*stored["held"]) if "held" in stored else None
                self.alarms[kind] = Memory(
                    state, stored["occurrence"], stored["told"], stored["tell_from_ms"], readings, held
                )
            except (StateError, KeyError, TypeError, ValueError) as error:
                problems.append(f"{name}: {error}")
        return problems

    @property
    def latest_ms(self) -> int:
        """The newest moment that is remembered of readings."""
        newest = [0 if self.damped is None else self.damped.at_ms]
        for memory in self.alarms.values():
            state = memory.state
            newest.append((state.newest_good_ms if isinstance(state, SilenceState) else state.newest_ms) or 0)
            newest.append(memory.readings.newest_ms or 0)
        return max(newest)

    def adopt(self, kind: AlarmKind, occurrence: str, since_ms: int, at_ms: int, peak: float | None) -> None:
        """Take over an alarm that people know to be on: it ends by readings, as any other one does."""
        alarm = self.alarms[kind]
        before = alarm.state
        if isinstance(before, SilenceState):
            alarm.state = replace(before, silent_since_ms=since_ms, back=0)
        elif isinstance(before, ConditionState):
            newest_ms = at_ms if before.newest_ms is None else before.newest_ms
            alarm.state = ConditionState(Phase.ALARM, newest_ms, since_ms=since_ms, peak=peak)
        else:
            # Without a suspect reading there would be nothing that good ones could end.
            alarm.state = FaultState((int(Quality.FAULT_VALUE),), None, before.newest_ms, since_ms)
        alarm.occurrence, alarm.told, alarm.tell_from_ms, alarm.held = occurrence, True, None, None

    def forget_the_future(self, now_ms: int) -> None:
        """After a clock was set back: what is remembered of later times would make every reading of now a late one."""
        self.damped = damping.at_latest(self.damped, now_ms)
        for memory in self.alarms.values():
            memory.state = _at_latest(memory.state, now_ms)
            memory.readings = _run_at_latest(memory.readings, now_ms)
            memory.held = None if memory.held is None else memory.held.at_latest(now_ms)


def _fields(memory: Memory) -> dict[str, Any]:
    fields: dict[str, Any] = {
        "state": memory.state.to_json(),
        "occurrence": memory.occurrence,
        "told": memory.told,
        "tell_from_ms": memory.tell_from_ms,
    }
    if memory.held is not None:
        fields["held"] = list(memory.held)
    # Without a run there is nothing to go on from.
    return fields if _is_calm(memory.readings) else {**fields, "readings": memory.readings.to_json()}


def _at_latest(state: State, now_ms: int) -> State:
    if isinstance(state, SilenceState):
        newest = state.newest_good_ms
        newest = None if newest is None else min(newest, now_ms)
        return replace(state, newest_good_ms=newest, watching_since_ms=min(state.watching_since_ms, now_ms))
    return _run_at_latest(state, now_ms)


def _run_at_latest(state: _Run, now_ms: int) -> _Run:
    if state.newest_ms is None or state.newest_ms <= now_ms:
        return state
    start = None if state.run_start_ms is None else min(state.run_start_ms, now_ms)
    return replace(state, newest_ms=now_ms, run_start_ms=start)


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

    The damped temperature depends on every one of them, so those of a channel that has one are kept in `run`. It lies
    between readings that it is made of: where it begins inside the bounds and no reading leaves them, nor does it.
    """

    memory: ChannelMemory
    lag: Lag | None
    applied: StoredReading
    newest: StoredReading
    occupancy: Occupancy
    from_ms: int
    until_ms: int
    low: float
    high: float
    run: list[tuple[int, float]] = field(default_factory=list)

    def covers(self, row: StoredReading, occupancy: Occupancy) -> bool:
        """True for a good, newer reading inside the bounds, while nobody moved."""
        return (
            row.quality == 0
            and self.low < row.value < self.high
            and row.measured_at_ms > self.newest.measured_at_ms
            and row.received_at_ms >= self.newest.received_at_ms
            and occupancy is self.occupancy
            and self.from_ms <= row.measured_at_ms < self.until_ms
            # What is remembered of a later time is forgotten step by step; see `forget_the_future`.
            and row.measured_at_ms <= row.received_at_ms + LONGEST_AHEAD_MS
        )

    def take(self, row: StoredReading) -> None:
        """Let a reading that is covered stand for all before it."""
        self.newest = row
        if self.lag is not None:
            self.run.append((row.measured_at_ms, row.value))

    def damp(self) -> None:
        """Let the damped temperature go on to the newest reading."""
        if self.lag is not None and self.memory.damped is not None:
            self.memory.damped = damping.after_all(self.memory.damped, self.lag, self.run)
        self.run.clear()


def fresh_memory(quantity: Quantity, watching_since_ms: int) -> ChannelMemory:
    """Every alarm that a channel of this quantity can have, all of them normal."""
    alarms = {kind: Memory(ConditionState()) for kind in LIMIT_KINDS[quantity]}
    alarms[AlarmKind.NO_DATA] = Memory(SilenceState(watching_since_ms))
    alarms[AlarmKind.PROBE_FAULT] = Memory(FaultState())
    return ChannelMemory(alarms)


def withdrawn(memory: ChannelMemory, now_ms: int) -> list[tuple[AlarmKind, Happened]]:
    """End every alarm that is on, because there is nothing any more that it could warn of.

    Whoever takes them has to note in the memory that they are over. Of what late readings say of a clutch that lay here
    then nobody was told: that keeps its figures.
    """
    ended = []
    for kind, alarm in memory.alarms.items():
        before = alarm.state
        if not alarm.is_alarm:
            continue
        since_ms, reason = alarm.since_ms or now_ms, "no clutch lies here any more"
        over = Happened(Change.CLEARED, now_ms, since_ms, None, None, None, reason)
        if alarm.held is not None and isinstance(before, ConditionState):
            over = replace(over, limit=alarm.held.limit, peak=before.peak, back_ms=before.newest_ms)
        if isinstance(before, SilenceState):
            alarm.state = SilenceState(now_ms, before.newest_good_ms)
        elif isinstance(before, ConditionState):
            alarm.state = withdraw(before).state
        else:
            alarm.state = FaultState(newest_ms=before.newest_ms)
        ended.append((kind, over))
    return ended
