"""Pure: one reading against all limits of its channel."""

from collections.abc import Iterator

from config.words import AlarmKind, Quantity
from daemon.alarm_memory import LETHAL_OF, LIMIT_KINDS, ChannelMemory
from daemon.alarm_rules import RuleBook
from daemon.alarm_transition import Happened
from daemon.alarms import conditions, damped_condition, damping
from daemon.alarms.conditions import Change, ConditionState, Step
from daemon.alarms.damped_condition import Reading
from daemon.alarms.limits import Limits
from daemon.storage.samples import StoredReading
from sensors.reading import ChannelKey

SATURATED_PCT = 100.0


def take_reading(
    memory: ChannelMemory, rules: RuleBook, key: ChannelKey, limits: Limits, row: StoredReading
) -> Iterator[tuple[AlarmKind, Happened]]:
    """Step every limit of the channel; gives the alarms that were raised or cleared, lethal limits first.

    Whoever takes one has to note it in the memory before asking for the next: a lethal alarm that is on makes the
    warning below it more eager.
    """
    if key.quantity is Quantity.AIR_TEMPERATURE and not row.quality:
        memory.damped = damping.after(memory.damped, rules.lag(key), row.measured_at_ms, row.value)
    for kind in LIMIT_KINDS[key.quantity]:
        alarm = memory.alarms[kind]
        before = alarm.state
        if not isinstance(before, ConditionState):
            continue
        after = _step(memory, kind, before, rules, key, limits, row)
        alarm.state = after.state
        if after.change:
            told_of = after.state if after.change is Change.RAISED else before
            rule = rules.rule(key, kind, limits)
            yield (
                kind,
                Happened(
                    change=after.change,
                    at_ms=row.measured_at_ms,
                    since_ms=told_of.since_ms or row.measured_at_ms,
                    value=row.value,
                    limit=rule.limit if rule else None,
                    peak=told_of.peak,
                    reason=after.reason,
                    back_ms=before.run_start_ms if before.phase.is_alarm else None,
                ),
            )


def _step(
    memory: ChannelMemory,
    kind: AlarmKind,
    state: ConditionState,
    rules: RuleBook,
    key: ChannelKey,
    limits: Limits,
    row: StoredReading,
) -> Step:
    suspect = row.quality != 0
    if kind not in LETHAL_OF or memory.damped is None:
        # A wet element reads a little over 100 %, which is the same air as 100 %.
        value = min(row.value, SATURATED_PCT) if key.quantity is Quantity.RELATIVE_HUMIDITY else row.value
        return conditions.step(state, rules.rule(key, kind, limits), value, suspect, row.measured_at_ms)
    alarm = memory.alarms[kind]
    after = damped_condition.step(
        state,
        alarm.readings,
        rules.damped_rule(key, kind, limits),
        Reading(row.value, memory.damped.damped_c, suspect, row.measured_at_ms),
        is_lethal=memory.alarms[LETHAL_OF[kind]].is_alarm,
    )
    alarm.readings = after.readings
    return Step(after.state, after.change, after.reason)
