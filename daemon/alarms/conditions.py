"""Whether one limit is in alarm: a pure step from one state and one reading to the next state.

Deadband, on-delay and off-delay mean what OPC 10000-9 (IEC 62541-9) 5.8.2 and B.1.5 say: a value must stay beyond the
limit for the on-delay before the alarm is raised, and must stay inside the limit by the deadband for the off-delay
before it is cleared. Time is that of the samples and never of their arrival, so a replay gives the same alarms.

What the standards leave open is decided in the direction of the eggs. Exactly at the limit is not beyond it. A gap
between two readings beyond the limit counts as beyond: nothing says it was not. A gap between two readings inside
starts the off-delay again: nothing says it stayed inside. A suspect or late reading decides nothing.
"""

import math
from dataclasses import asdict, dataclass, fields, replace
from enum import StrEnum

from daemon.alarms.state_json import INTEGER_OR_NONE, NUMBER_OR_NONE, TEXT, StateError, read_fields, write_fields

_SAME = 1e-9
"""Two figures this close are the same: unit conversion leaves the last bits of a value open."""


class Phase(StrEnum):
    """Where a condition stands."""

    NORMAL = "normal"
    PENDING_ON = "pending-on"
    """beyond the limit, but not for the on-delay yet"""
    ALARM = "alarm"
    PENDING_OFF = "pending-off"
    """in alarm and inside again, but not for the off-delay yet"""

    @property
    def is_alarm(self) -> bool:
        """True from RAISED to CLEARED."""
        return self in (Phase.ALARM, Phase.PENDING_OFF)


class Side(StrEnum):
    """Which side of the limit is the bad one."""

    HIGH = "high"
    LOW = "low"


class Change(StrEnum):
    """What a step told the world."""

    RAISED = "raised"
    CLEARED = "cleared"


@dataclass(frozen=True, slots=True)
class Rule:
    """A limit and how patient it is. Limit, deadband and `at_once_beyond` in the unit of the channel.

    Raises ValueError for a figure that no condition could be measured by.
    """

    side: Side
    limit: float
    deadband: float
    on_delay_s: float
    off_delay_s: float
    at_once_beyond: float | None
    longest_gap_s: float

    def __post_init__(self) -> None:
        figures = (self.deadband, self.on_delay_s, self.off_delay_s)
        if not (math.isfinite(self.limit) and all(math.isfinite(figure) and figure >= 0 for figure in figures)):
            raise ValueError(f"{self}: the limit must be a number, deadband and delays 0 or more")
        if not self.longest_gap_s > 0 or not (self.at_once_beyond is None or self.at_once_beyond > 0):
            raise ValueError(f"{self}: longest_gap_s and at_once_beyond must be more than 0")

    def excess(self, value: float) -> float:
        """Give how far a value is beyond the limit; negative where it is inside."""
        return value - self.limit if self.side is Side.HIGH else self.limit - value

    def is_beyond(self, value: float) -> bool:
        """Tell whether a value is past the limit; exactly at it is not past it."""
        return self.excess(value) > _SAME

    def is_inside(self, value: float) -> bool:
        """Tell whether a value is inside the limit by the deadband or more."""
        return self.excess(value) <= -self.deadband + _SAME

    def worse(self, one: float, other: float) -> float:
        """Give the one of two values that lies further to the bad side."""
        return max(one, other) if self.side is Side.HIGH else min(one, other)

    def milder(self, one: float, other: float) -> float:
        """Give the one of two values that lies further to the good side."""
        return min(one, other) if self.side is Side.HIGH else max(one, other)


@dataclass(frozen=True, slots=True)
class ConditionState:
    """What a condition remembers between two readings. Times are sample times, UTC ms.

    `run_edge` is the reading of the present run that would be the first to fall out of it if the limit were moved:
    the mildest one of a run beyond, the worst one of a run inside. With it a changed limit needs no history.
    """

    phase: Phase = Phase.NORMAL
    newest_ms: int | None = None
    """time of the newest good reading"""
    run_start_ms: int | None = None
    """first reading of the run that a pending delay is measured from"""
    run_edge: float | None = None
    since_ms: int | None = None
    """first reading beyond the limit of this occurrence"""
    peak: float | None = None
    """worst reading of this occurrence"""

    def to_json(self) -> str:
        """Write one line of JSON."""
        return write_fields(asdict(self))

    @classmethod
    def from_json(cls, text: str) -> "ConditionState":
        """Read the state that `to_json` wrote. Raises StateError where it is not exactly such a text."""
        found = read_fields(text, "an alarm condition", _FIELDS)
        if found["phase"] not in set(Phase):
            raise StateError("an alarm condition", f"phase is {found['phase']!r}")
        state = cls(**{**found, "phase": Phase(found["phase"])})
        present = {each.name for each in fields(cls) if getattr(state, each.name) is not None}
        needed = _NEEDED[state.phase]
        if present - {"newest_ms"} != needed or (needed != {"phase"} and state.newest_ms is None):
            raise StateError("an alarm condition", f"its keys do not fit the phase {state.phase}")
        return state


_FIELDS = {
    "phase": TEXT,
    "newest_ms": INTEGER_OR_NONE,
    "run_start_ms": INTEGER_OR_NONE,
    "run_edge": NUMBER_OR_NONE,
    "since_ms": INTEGER_OR_NONE,
    "peak": NUMBER_OR_NONE,
}
_OCCURRENCE = {"phase", "since_ms", "peak"}
_NEEDED = {
    Phase.NORMAL: {"phase"},
    Phase.PENDING_ON: _OCCURRENCE | {"run_start_ms", "run_edge"},
    Phase.ALARM: _OCCURRENCE,
    Phase.PENDING_OFF: _OCCURRENCE | {"run_start_ms", "run_edge"},
}


@dataclass(frozen=True, slots=True)
class Step:
    """The next state, what is to be told (if anything), and why."""

    state: ConditionState
    change: Change | None
    reason: str


def step(state: ConditionState, rule: Rule | None, value: float, suspect: bool, measured_at_ms: int) -> Step:
    """Take one reading. `rule` is the limit in force at the time of the reading; None where nothing is watched.

    `value` is in the unit of the rule. A change, where there is one, happened at `measured_at_ms`.
    """
    if state.newest_ms is not None and measured_at_ms <= state.newest_ms:
        return Step(state, None, "late: not newer than the newest reading, so it decides nothing")
    usable = not suspect and math.isfinite(value)
    if rule is None:
        return withdraw(replace(state, newest_ms=measured_at_ms) if usable else state)
    if not usable:
        return Step(state, None, "suspect: it is kept and shown, and decides nothing")
    if state.phase.is_alarm:
        return _in_alarm(state, rule, value, measured_at_ms)
    return _out_of_alarm(state, rule, value, measured_at_ms)


def withdraw(state: ConditionState) -> Step:
    """Take the limit away: no clutch needs it any more. An alarm ends, and the reason says how."""
    calm = ConditionState(newest_ms=state.newest_ms)
    if state.phase.is_alarm:
        return Step(calm, Change.CLEARED, "limit removed: nothing that needs it lies here any more")
    return Step(calm, None, "no limit here")


def _out_of_alarm(state: ConditionState, rule: Rule, value: float, measured_at_ms: int) -> Step:
    if not rule.is_beyond(value):
        return Step(ConditionState(newest_ms=measured_at_ms), None, f"{value:g} is not beyond {rule.limit:g}")
    start_ms, edge, peak = measured_at_ms, value, value
    if state.run_start_ms is not None and state.run_edge is not None and rule.is_beyond(state.run_edge):
        start_ms, edge = state.run_start_ms, rule.milder(state.run_edge, value)
        peak = value if state.peak is None else rule.worse(state.peak, value)
    so_far_s = (measured_at_ms - start_ms) / 1000
    past = f"{value:g} is {'above' if rule.side is Side.HIGH else 'below'} {rule.limit:g}"
    far = rule.at_once_beyond is not None and rule.excess(value) >= rule.at_once_beyond - _SAME
    # a run of one reading has lasted 0 s, so a delay above 0 takes two readings
    if far or so_far_s >= rule.on_delay_s:
        raised = ConditionState(Phase.ALARM, newest_ms=measured_at_ms, since_ms=start_ms, peak=peak)
        why = "so far past it that it is told at once" if far else f"for {so_far_s:g} s (delay {rule.on_delay_s:g} s)"
        return Step(raised, Change.RAISED, f"{past}, {why}")
    pending = ConditionState(Phase.PENDING_ON, measured_at_ms, start_ms, edge, since_ms=start_ms, peak=peak)
    return Step(pending, None, f"{past} for {so_far_s:g} s of {rule.on_delay_s:g} s")


def _in_alarm(state: ConditionState, rule: Rule, value: float, measured_at_ms: int) -> Step:
    peak = value if state.peak is None else rule.worse(state.peak, value)
    if not rule.is_inside(value):
        still = ConditionState(Phase.ALARM, newest_ms=measured_at_ms, since_ms=state.since_ms, peak=peak)
        return Step(still, None, f"{value:g} is not inside {rule.limit:g} by {rule.deadband:g} yet")
    start_ms, edge, note = measured_at_ms, value, ""
    if state.run_start_ms is not None and state.run_edge is not None and state.newest_ms is not None:
        if measured_at_ms - state.newest_ms > rule.longest_gap_s * 1000:
            note = "; counted anew after a gap"
        elif rule.is_inside(state.run_edge):
            start_ms, edge = state.run_start_ms, rule.worse(state.run_edge, value)
    so_far_s = (measured_at_ms - start_ms) / 1000
    back = f"{value:g} is inside {rule.limit:g} by {rule.deadband:g}"
    if so_far_s >= rule.off_delay_s:
        calm = ConditionState(newest_ms=measured_at_ms)
        return Step(calm, Change.CLEARED, f"{back}, for {so_far_s:g} s (delay {rule.off_delay_s:g} s)")
    pending = ConditionState(Phase.PENDING_OFF, measured_at_ms, start_ms, edge, since_ms=state.since_ms, peak=peak)
    return Step(pending, None, f"{back} for {so_far_s:g} s of {rule.off_delay_s:g} s{note}")
