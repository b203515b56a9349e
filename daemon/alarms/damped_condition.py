"""Whether a warning is in alarm, judged by a damped temperature and by the reading itself. Pure.

The air is not the egg: a warning watches what the eggs have come to (`damping`), so that a lid that is lifted calls
nobody. Deadband and delays are those of `conditions`, applied to the damped value. The reading itself has a say too:

- Raised when the damped value has been beyond the limit for the on-delay, and the newest reading is beyond it as well:
  nobody is called for air that is right again. Damping follows the air, so where the damped value stays beyond, a
  reading that is beyond does come.
- Raised too when the readings themselves have been beyond for the on-delay and one time constant more, whatever the
  damped value says. A lag of the first order nears a limit slowly where the air is only just past it; so damping
  never delays a warning by more than one time constant.
- While a lethal limit of the same side is in alarm the excursion is beyond doubt, and the readings need no more than
  the on-delay: who is told that the lethal alarm is over must learn that the place is still out of range.
- Cleared when the damped value has been inside by the deadband for the off-delay, and the newest reading is inside by
  the deadband too.

`since_ms` is the first moment of either run, `peak` the worst reading: what was measured, never the damped value.
"""

import math
from dataclasses import dataclass, replace
from functools import reduce

from daemon.alarms import conditions
from daemon.alarms.conditions import Change, ConditionState, Phase, Rule

NEVER_S = 1e12
"""A delay that no alarm lives to see."""


@dataclass(frozen=True, slots=True)
class DampedRule:
    """The limit as the damped value is judged by it, and what follows from it.

    `held` has the same limit and no way to a change; `readings` is for the readings alone, with the longer on-delay.
    """

    limit: Rule
    held: Rule
    readings: Rule
    time_constant_s: float


def damped_rule(rule: Rule, time_constant_s: float) -> DampedRule:
    """Give the rule of a warning that is damped by this time constant; with 0 s it is as patient as without."""
    held = replace(rule, on_delay_s=NEVER_S, off_delay_s=NEVER_S, at_once_beyond=None)
    readings = replace(rule, on_delay_s=rule.on_delay_s + time_constant_s)
    return DampedRule(rule, held, readings, time_constant_s)


@dataclass(frozen=True, slots=True)
class Reading:
    """One reading: its own value and the damped one, °C, whether it is suspect, and its sample time, UTC ms."""

    value_c: float
    damped_c: float
    suspect: bool
    measured_at_ms: int


@dataclass(frozen=True, slots=True)
class DampedStep:
    """The next states, of the warning and of the run of readings beyond, what is to be told (if anything), and why."""

    state: ConditionState
    readings: ConditionState
    change: Change | None
    reason: str


def step(
    state: ConditionState,
    readings: ConditionState,
    rule: DampedRule | None,
    reading: Reading,
    *,
    is_lethal: bool = False,
) -> DampedStep:
    """Take one reading. `readings` is the run of readings beyond the limit; it is in no alarm of its own.

    `is_lethal`: the lethal limit of the same side is in alarm.
    """
    at_ms = reading.measured_at_ms
    late = state.newest_ms is not None and at_ms <= state.newest_ms
    if rule is None or late or reading.suspect or not math.isfinite(reading.value_c):
        limit = None if rule is None else rule.limit
        plain = conditions.step(state, limit, reading.value_c, reading.suspect, at_ms)
        own = conditions.step(readings, limit, reading.value_c, reading.suspect, at_ms).state if rule is None else None
        return DampedStep(plain.state, own or readings, plain.change, plain.reason)
    if state.phase.is_alarm:
        return _in_alarm(state, rule, reading)
    return _out_of_alarm(state, readings, rule, reading, rule.limit if is_lethal else rule.readings)


def _out_of_alarm(
    state: ConditionState, readings: ConditionState, rule: DampedRule, reading: Reading, for_readings: Rule
) -> DampedStep:
    value_c, at_ms = reading.value_c, reading.measured_at_ms
    may_raise = rule.limit.is_beyond(value_c)
    if not may_raise and not rule.limit.is_beyond(reading.damped_c):
        normal = ConditionState(newest_ms=at_ms)
        return DampedStep(normal, normal, None, "neither the reading nor the damped value is beyond the limit")
    by_readings = conditions.step(readings, for_readings, value_c, False, at_ms)
    by_damped = conditions.step(state, rule.limit if may_raise else rule.held, reading.damped_c, False, at_ms)
    peak = _worst_reading(state, by_damped.state, by_readings.state, rule.limit, value_c)
    if by_damped.change is None and by_readings.change is None:
        pending = by_damped.state.phase is Phase.PENDING_ON
        waits = replace(by_damped.state, peak=peak) if pending else by_damped.state
        reason = by_damped.reason if may_raise else f"{value_c:g} is not beyond {rule.limit.limit:g}"
        return DampedStep(waits, by_readings.state, None, reason)
    begun = (each.since_ms for each in (by_damped.state, by_readings.state) if each.since_ms is not None)
    raised = ConditionState(Phase.ALARM, newest_ms=at_ms, since_ms=min(begun), peak=peak)
    reason = _damped_reason(by_damped.reason, rule, value_c) if by_damped.change else by_readings.reason
    return DampedStep(raised, ConditionState(newest_ms=at_ms), Change.RAISED, reason)


def _worst_reading(
    before: ConditionState, after: ConditionState, readings: ConditionState, limit: Rule, value_c: float
) -> float:
    """Give the worst of what was read in this run: the damped value itself was read by nobody."""
    earlier = before.peak if before.since_ms is not None and before.since_ms == after.since_ms else None
    return reduce(limit.worse, (each for each in (earlier, readings.peak) if each is not None), value_c)


def _in_alarm(state: ConditionState, rule: DampedRule, reading: Reading) -> DampedStep:
    value_c, at_ms = reading.value_c, reading.measured_at_ms
    may_clear = rule.limit.is_inside(value_c)
    by_damped = conditions.step(state, rule.limit if may_clear else rule.held, reading.damped_c, False, at_ms)
    own = ConditionState(newest_ms=at_ms)
    if by_damped.change is not None:
        return DampedStep(by_damped.state, own, by_damped.change, _damped_reason(by_damped.reason, rule, value_c))
    peak = value_c if state.peak is None else rule.limit.worse(state.peak, value_c)
    reason = by_damped.reason if may_clear else f"{value_c:g} is not inside {rule.limit.limit:g} yet"
    return DampedStep(replace(by_damped.state, peak=peak), own, None, reason)


def _damped_reason(reason: str, rule: DampedRule, value_c: float) -> str:
    if not rule.time_constant_s:
        return reason
    return f"damped over {rule.time_constant_s / 60:g} min, {reason}; the reading itself is {value_c:g}"
