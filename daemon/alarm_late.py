"""Pure: alarms that late readings raised: held, told after all, or over before anybody was told.

The rules are those of `alarms/lateness`. An alarm that was told keeps its ordinary end, also where that came late.
"""

from config.words import AlarmKind
from daemon.alarm_memory import ChannelMemory, Memory
from daemon.alarm_transition import Happened
from daemon.alarms.conditions import Change, ConditionState
from daemon.alarms.faults import FaultState
from daemon.alarms.lateness import LONGEST_HOLD_MS, Held
from daemon.storage.samples import StoredReading

FAR_FUTURE_MS = 2**62
_STILL_ON = "it goes on at the newest reading, which came late"
_UNKNOWN = "it was back inside at the newest reading, not for long, and nothing has come since"
UNSEEN_MS = 10 * 60_000
"""So long without a reading nobody says of an alarm on its way back that it is over. Project choice."""


def hold(alarm: Memory, received_at_ms: int, limit: float | None) -> None:
    """Tell nobody yet: a late reading has raised it."""
    alarm.told, alarm.held = False, Held(received_at_ms, received_at_ms, limit)


def after_reading(memory: ChannelMemory, row: StoredReading, *, late: bool) -> list[tuple[AlarmKind, Happened]]:
    """The held alarms of a channel that are told by this reading, after every alarm was stepped by it."""
    found = []
    for kind, alarm in memory.alarms.items():
        if alarm.held is None or not alarm.is_alarm:
            continue
        if late:
            is_due = row.received_at_ms - alarm.held.began_ms >= LONGEST_HOLD_MS
            alarm.held = alarm.held.heard(row.received_at_ms)
        else:
            is_due = _speaks_of(alarm, row)
        if is_due and alarm.goes_on:
            reason = "it goes on; the readings of its beginning came late"
            at_ms = row.received_at_ms if late else row.measured_at_ms
            found.append((kind, _told_now(alarm, at_ms, row.value, reason)))
    return found


def after_time(memory: ChannelMemory, now_ms: int) -> list[tuple[AlarmKind, Happened]]:
    """The held alarms of a channel that nothing newer has ended in time."""
    due = [(kind, alarm, _due_ms(alarm)) for kind, alarm in memory.alarms.items()]
    return [
        (kind, _told_now(alarm, due_ms, None, _STILL_ON if alarm.goes_on else _UNKNOWN))
        for kind, alarm, due_ms in due
        if now_ms >= due_ms
    ]


def next_ms(memory: ChannelMemory) -> int:
    """The moment at which `after_time` has something to say, if nothing else comes."""
    return min(map(_due_ms, memory.alarms.values()), default=FAR_FUTURE_MS)


def _due_ms(alarm: Memory) -> int:
    """When a held alarm is told if nothing else comes: one that was back inside at the end is given more time."""
    if alarm.held is None or not alarm.is_alarm:
        return FAR_FUTURE_MS
    if alarm.goes_on:
        return alarm.held.until_ms
    newest_ms = alarm.state.newest_ms if isinstance(alarm.state, ConditionState) else None
    return max(alarm.held.last_ms, newest_ms or 0) + UNSEEN_MS


def _told_now(alarm: Memory, at_ms: int, value: float | None, reason: str) -> Happened:
    limit = None if alarm.held is None else alarm.held.limit
    peak = alarm.state.peak if isinstance(alarm.state, ConditionState) else None
    return Happened(Change.RAISED, at_ms, alarm.since_ms or at_ms, value, limit, peak, reason)


def _speaks_of(alarm: Memory, row: StoredReading) -> bool:
    """Whether this reading, which is fresh, shows how things are: a suspect one says so of the probe alone."""
    if isinstance(alarm.state, ConditionState):
        return not row.quality and alarm.state.newest_ms == row.measured_at_ms
    return isinstance(alarm.state, FaultState) and row.quality != 0
