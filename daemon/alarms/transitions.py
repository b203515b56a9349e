"""What readings, people and limits do to an alarm. Pure. The rows are those of the table in `states`."""

from dataclasses import replace

from config.words import Priority
from daemon.alarms import suppression
from daemon.alarms.classes import SAME_OCCURRENCE_MS
from daemon.alarms.events import Acknowledge, ConditionOn, FoundAfterwards, LimitChanged, Pace, Reset, Why
from daemon.alarms.state_draft import CLOSED, Changes, Draft
from daemon.alarms.state_values import AlarmMemory

_ON: Changes = {"in_alarm": True, "known": True, "returned_ms": None}


def condition_on(draft: Draft, event: ConditionOn) -> None:
    """Rows 1, 2, 9, 13 and 15."""
    state = draft.state
    if state.in_alarm:
        draft.state = replace(state, known=True)
        draft.leave("already on")
        return
    unseen = AlarmMemory.UNACKNOWLEDGED
    again: Changes = _ON | {"memory": unseen, "repeats": state.repeats + 1, "acknowledged_by": ""}
    begun: Changes = _ON | {"occurrence": event.occurrence, "version": 1, "repeats": 0, "since_ms": event.since_ms}
    if state.memory is AlarmMemory.LATCHED_UNACKNOWLEDGED:
        draft.change("13", "on again before anybody acknowledged", call=Why.CAME_BACK, **again)
    elif state.memory is AlarmMemory.LATCHED_ACKNOWLEDGED:
        draft.change("15", "on again before it was reset", call=Why.CAME_BACK, **again)
    elif state.memory is AlarmMemory.RETURNED and _is_soon(draft):
        draft.change("9", "on again: the same occurrence", call=Why.CAME_BACK, **again)
    elif state.memory is AlarmMemory.RETURNED:
        draft.change("9", "on again after a while: a new occurrence", call=Why.RAISED, **begun, memory=unseen)
    elif state.is_suppressed and state.hidden:
        more: Changes = {"repeats": state.repeats + 1, "version": state.version + 1}
        draft.change("2", "on again while suppressed: recorded, not told", **_ON, **more)
    elif state.is_suppressed:
        draft.change("2", "on while suppressed: recorded, not told", **begun, hidden=True)
    else:
        draft.change("1", "on", call=Why.RAISED, **begun, memory=unseen)


def condition_off(draft: Draft) -> None:
    """Rows 4 to 7, and the end of a one-shot shelf."""
    state = draft.state
    if not state.known:
        draft.leave("no fresh good reading, so nothing returns to normal")
        return
    if not state.in_alarm:
        draft.leave("already off")
        return
    back: Changes = {"in_alarm": False, "returned_ms": draft.at_ms}
    seen = (state.occurrence, state.version)
    if state.memory is AlarmMemory.UNACKNOWLEDGED:
        _off_unacknowledged(draft, back)
    elif state.memory is AlarmMemory.ACKNOWLEDGED and draft.alarm.latching:
        held = AlarmMemory.LATCHED_ACKNOWLEDGED
        draft.change("7", "back in range, held until it is reset", **back, memory=held, realarm_ms=None)
        draft.tell(Why.CLEARED, *seen)
    elif state.memory is AlarmMemory.ACKNOWLEDGED:
        draft.change("6", "back in range", in_alarm=False, **CLOSED)
        draft.tell(Why.CLEARED, *seen)
    else:
        draft.change("2", "back in range while suppressed", **back)
    suppression.one_shot_ends(draft)


def _off_unacknowledged(draft: Draft, back: Changes) -> None:
    seen = (draft.state.occurrence, draft.state.version)
    if draft.alarm.latching:
        held = AlarmMemory.LATCHED_UNACKNOWLEDGED
        draft.change("5", "back in range, held: nobody has acknowledged", **back, memory=held)
    elif draft.alarm.acknowledged_on_return:
        draft.change("4", "back in range, nobody has acknowledged", **back, memory=AlarmMemory.RETURNED)
    else:
        draft.change("4b", "back in range; of this priority nobody has to acknowledge", in_alarm=False, **CLOSED)
        draft.ladder(Pace.STOP)
        return
    draft.tell(Why.RETURNED, *seen)
    draft.ladder(Pace.REMIND)


def acknowledge(draft: Draft, event: Acknowledge) -> None:
    """Rows 3, 8, 12 and 33. An old version, or another occurrence, is refused: the person has not seen this one."""
    state = draft.state
    if not event.who.strip():
        draft.refuse("nobody is named; say who acknowledges", who="")
    elif not state.occurrence:
        draft.refuse("this alarm is over; there is nothing to acknowledge", who=event.who)
    elif (event.occurrence, event.version) != (state.occurrence, state.version):
        draft.refuse(
            f"that was an older call; the alarm is {state.shown} now. Look at it and acknowledge again", who=event.who
        )
    elif state.memory in (AlarmMemory.ACKNOWLEDGED, AlarmMemory.LATCHED_ACKNOWLEDGED):
        _acknowledge_again(draft, event)
    elif state.in_alarm:
        _take(draft, event)
    else:
        _acknowledge_returned(draft, event)


def _acknowledge_again(draft: Draft, event: Acknowledge) -> None:
    by = draft.state.acknowledged_by
    if draft.state.memory is AlarmMemory.ACKNOWLEDGED and event.note.strip():
        due_ms = draft.at_ms + draft.alarm.realarm_ms
        draft.change("3", f"note: {event.note}", who=event.who, realarm_ms=due_ms)
    else:
        draft.refuse(f"{by} has acknowledged it already", who=event.who)


def _take(draft: Draft, event: Acknowledge) -> None:
    suppressed = draft.state.is_suppressed
    draft.change(
        "33" if suppressed else "3",
        _noted(f"acknowledged by {event.who}", event),
        who=event.who,
        memory=AlarmMemory.ACKNOWLEDGED,
        hidden=False,
        acknowledged_by=event.who,
        realarm_ms=draft.at_ms + draft.alarm.realarm_ms,
    )
    draft.ladder(Pace.STOP)
    draft.tell(Why.TAKEN, event.occurrence, event.version, event.who)


def _acknowledge_returned(draft: Draft, event: Acknowledge) -> None:
    """Acknowledge what is back in range: held until the reset where it latches, else over."""
    state, suppressed = draft.state, draft.state.is_suppressed
    if state.memory is AlarmMemory.LATCHED_UNACKNOWLEDGED:
        held = AlarmMemory.LATCHED_ACKNOWLEDGED
        reason = _noted("acknowledged; held until it is reset", event)
        row = "33" if suppressed else "12"
        draft.change(row, reason, who=event.who, memory=held, acknowledged_by=event.who)
    elif draft.alarm.priority is Priority.CRITICAL and not event.note.strip():
        draft.refuse("say in a note what you found there; a critical alarm is not closed without", who=event.who)
        return
    else:
        draft.change("33" if suppressed else "8", _noted("acknowledged and over", event), who=event.who, **CLOSED)
    draft.ladder(Pace.STOP)


def _noted(reason: str, event: Acknowledge) -> str:
    return f"{reason}; note: {event.note}" if event.note.strip() else reason


def reset(draft: Draft, event: Reset) -> None:
    """Rows 14 and 16: a latch is released only where the condition is known to be normal, after the acknowledgement."""
    state = draft.state
    if state.memory is AlarmMemory.LATCHED_UNACKNOWLEDGED:
        draft.refuse("acknowledge it first; then it can be reset", who=event.who, row="16")
    elif state.memory is not AlarmMemory.LATCHED_ACKNOWLEDGED:
        draft.refuse("nothing is held here that could be reset", who=event.who)
    elif not state.known:
        draft.refuse("no fresh good reading shows that it is back in range; reset it when there is one", who=event.who)
    elif not event.who.strip():
        draft.refuse("nobody is named; say who resets it", who="")
    else:
        draft.change("14", f"reset by {event.who}", who=event.who, **CLOSED)


def found_afterwards(draft: Draft, event: FoundAfterwards) -> None:
    """Row 30: readings that came late prove an excursion that nobody was told of."""
    if draft.state.memory is not AlarmMemory.NORMAL or draft.state.hidden:
        draft.leave("this alarm has an occurrence already")
        return
    begun: Changes = {"occurrence": event.occurrence, "version": 1, "repeats": 0, "since_ms": event.since_ms}
    begun["returned_ms"] = event.until_ms
    reason = "late readings prove an excursion that is over"
    if draft.state.is_suppressed:
        draft.change("30", reason, hidden=True, **begun)
        return
    draft.change("30", reason, memory=AlarmMemory.RETURNED, **begun)
    draft.tell(Why.FOUND_AFTERWARDS, event.occurrence, 1)


def limit_changed(draft: Draft, event: LimitChanged) -> None:
    """Row 31. Without a fresh reading a new limit proves nothing; a limit that is gone needs none."""
    state = draft.state
    back: Changes = {"in_alarm": False, "returned_ms": draft.at_ms}
    if not (event.who.strip() and event.why.strip()):
        draft.refuse("a limit is changed only with who and why", who=event.who)
    elif not (state.in_alarm and (state.known or event.removed)):
        draft.leave("not in alarm" if not state.in_alarm else "no fresh good reading to hold against the new limit")
    elif state.memory is AlarmMemory.UNACKNOWLEDGED:
        reason = f"cleared by change of limit: {event.why}"
        draft.change("31", reason, who=event.who, **back, memory=AlarmMemory.RETURNED)
        draft.ladder(Pace.REMIND)
    elif state.memory is AlarmMemory.ACKNOWLEDGED:
        draft.change("31", f"cleared by change of limit: {event.why}", who=event.who, in_alarm=False, **CLOSED)
    else:
        draft.change("31", f"cleared by change of limit while suppressed: {event.why}", who=event.who, **back)


def _is_soon(draft: Draft) -> bool:
    returned_ms = draft.state.returned_ms
    return returned_ms is not None and draft.at_ms - returned_ms <= SAME_OCCURRENCE_MS
