"""The suppression set of an alarm: shelf, suppression by design, out of service, and the way out of each. Pure.

Every entry ends by itself, or reminds people until somebody ends it. Wishes beyond the longest time are refused and not
trimmed. When the set becomes empty, what happened meanwhile comes out (row 19).
"""

from dataclasses import replace

from config.words import Priority
from daemon.alarms.classes import (
    LONGEST_REVIEW_MS,
    LONGEST_REVIEW_WITH_EGGS_MS,
    LONGEST_SETTLE_MS,
    LONGEST_SUPPRESSION_MS,
    MINUTE_MS,
    SHELVES_IN_A_ROW,
    Mode,
)
from daemon.alarms.events import (
    Overrun,
    Pace,
    RemoveFromService,
    ReturnToService,
    Shelve,
    SuppressOff,
    SuppressOn,
    Unshelve,
    Why,
)
from daemon.alarms.state_draft import CLOSED, Changes, Draft
from daemon.alarms.state_values import AlarmMemory, DesignSuppression, OutOfService, Shelf

_SECOND = "a second person, or a note from beside the eggs"


def shelve(draft: Draft, event: Shelve) -> None:
    """Row 18."""
    refusal = _shelf_refusal(draft, event)
    if refusal:
        draft.refuse(refusal, who=event.who, row="18")
        return
    state, was_suppressed = draft.state, draft.state.is_suppressed
    shelf = Shelf(event.who, event.reason, draft.at_ms, event.until_ms, event.one_shot, event.second)
    count = _shelves_before(draft) + 1
    reason = f"shelved by {event.who} for {_minutes(event.until_ms - draft.at_ms)}: {event.reason}"
    draft.change("18", reason, who=event.who, shelf=shelf, shelves_in_a_row=count)
    if state.memory.waits_for_a_person and not was_suppressed:
        draft.stop_ladder()


def _shelf_refusal(draft: Draft, event: Shelve) -> str:
    alarm, memory = draft.alarm, draft.state.memory
    is_critical = alarm.priority is Priority.CRITICAL
    alone = event.second.strip() in ("", event.who.strip())
    longest = f"at priority {alarm.priority.value} the longest is {_minutes(alarm.longest_shelf_ms)}"
    row = f"shelved {SHELVES_IN_A_ROW} times in a row"
    checks = (
        (not (event.who.strip() and event.reason.strip()), "an alarm is shelved only with who and why"),
        (not alarm.shelvable, f"an alarm of the class {alarm.name} is never shelved"),
        (event.until_ms <= draft.at_ms, "that moment has passed; give an end that lies ahead"),
        (event.until_ms - draft.at_ms > alarm.longest_shelf_ms, f"too long: {longest}"),
        (is_critical and memory.waits_for_a_person, "nobody has acknowledged it yet; acknowledge it first"),
        (is_critical and alone, f"a critical alarm takes {_SECOND}"),
        (_shelves_before(draft) >= SHELVES_IN_A_ROW and alone, f"{row}; once more takes {_SECOND}"),
    )
    return next((sentence for applies, sentence in checks if applies), "")


def _shelves_before(draft: Draft) -> int:
    """How many shelves are in a row with one that would begin now: less than one longest time lies between them."""
    state = draft.state
    if state.shelf is not None:
        return state.shelves_in_a_row
    if state.shelf_ended_ms is None or draft.at_ms - state.shelf_ended_ms >= draft.alarm.longest_shelf_ms:
        return 0
    return state.shelves_in_a_row


def unshelve(draft: Draft, event: Unshelve) -> None:
    """Row 19, by hand."""
    if draft.state.shelf is None:
        draft.refuse("it is not shelved", who=event.who)
        return
    end_shelf(draft, "19", f"unshelved by {event.who}", who=event.who)


def end_shelf(draft: Draft, row: str, reason: str, who: str = "") -> None:
    """Rows 19 and 20."""
    draft.change(row, reason, who=who, shelf=None, shelf_ended_ms=draft.at_ms)
    _left_the_set(draft, by_design=False)


def one_shot_ends(draft: Draft) -> None:
    """Row 20: the condition has just returned to normal."""
    shelf = draft.state.shelf
    if shelf is not None and shelf.one_shot:
        end_shelf(draft, "20", "back in range, which ends this shelf")


def suppress_on(draft: Draft, event: SuppressOn) -> None:
    """Rows 17 and 22. A reason that goes on again while it settles keeps its first hard end."""
    key = (event.mode, event.name)
    present = next((each for each in draft.state.design if (each.mode, each.name) == key), None)
    ahead_ms = event.hard_end_ms - draft.at_ms
    if event.mode not in draft.alarm.suppressible_by:
        draft.leave(f"an alarm of the class {draft.alarm.name} is not suppressed by design: {event.mode}")
    elif present is not None and (present.spent or present.hard_end_ms <= draft.at_ms):
        draft.leave("its longest time is used up; it has to end first")
    elif present is not None:
        again = replace(present, settling_until_ms=None)
        draft.state = replace(draft.state, design=_with(draft, present, again))
        draft.leave("suppressed by design already")
    elif not 0 < ahead_ms <= LONGEST_SUPPRESSION_MS[event.mode] or not 0 <= event.settle_ms <= LONGEST_SETTLE_MS:
        longest = _minutes(LONGEST_SUPPRESSION_MS[event.mode])
        draft.leave(f"refused: the hard end has to lie ahead, by at most {longest}")
    else:
        begun = DesignSuppression(event.mode, event.name, draft.at_ms, event.hard_end_ms, event.settle_ms)
        was_suppressed, row = draft.state.is_suppressed, "17" if event.mode is Mode.WORSE else "22"
        reason = f"suppressed by design: {event.mode} ({event.name})"
        draft.change(row, reason, design=(*draft.state.design, begun))
        if draft.state.memory.waits_for_a_person and not was_suppressed:
            draft.stop_ladder()


def suppress_off(draft: Draft, event: SuppressOff) -> None:
    """Row 23: the settle time begins; without one it is over at once."""
    key = (event.mode, event.name)
    present = next((each for each in draft.state.design if (each.mode, each.name) == key), None)
    if present is None or present.settling_until_ms is not None:
        draft.leave("not suppressed by it")
    elif present.spent:
        draft.state = replace(draft.state, design=_with(draft, present, None))
        draft.leave("it has ended; it may suppress again")
    elif present.settle_ms == 0:
        end_design(draft, present)
    else:
        settling = replace(present, settling_until_ms=draft.at_ms + present.settle_ms)
        reason = f"{event.mode} ended, settling for {_minutes(present.settle_ms)}"
        draft.change("23", reason, design=_with(draft, present, settling))


def end_design(draft: Draft, entry: DesignSuppression, reason: str = "") -> None:
    """Row 23: over, and settled."""
    draft.change("23", reason or f"{entry.mode} ended and settled", design=_with(draft, entry, None))
    _left_the_set(draft, by_design=True)


def drop_design(draft: Draft, entry: DesignSuppression) -> None:
    """Row 32: after a restart nothing shows that the reason still holds."""
    if entry.spent:
        draft.state = replace(draft.state, design=_with(draft, entry, None))
    else:
        end_design(draft, entry, f"{entry.mode} ({entry.name}) is not shown to hold after the restart")


def force_design(draft: Draft, entry: DesignSuppression) -> None:
    """Row 24: the hard end. People at work who forgot it are told by an alarm of its own."""
    reason = f"{entry.mode} ({entry.name}) has lasted its longest time"
    draft.change("24", reason, design=_with(draft, entry, replace(entry, spent=True)))
    if entry.mode.is_work:
        draft.effects.append(Overrun(entry.mode, entry.name, draft.at_ms))
    _left_the_set(draft, by_design=True)


def remove_from_service(draft: Draft, event: RemoveFromService) -> None:
    """Row 25, and a new review date."""
    ahead_ms = event.review_ms - draft.at_ms
    longest_ms = LONGEST_REVIEW_WITH_EGGS_MS if event.eggs_inside else LONGEST_REVIEW_MS
    if not (event.who.strip() and event.reason.strip() and event.interim.strip()):
        draft.refuse("out of service only with who, why, and what watches the eggs meanwhile", who=event.who, row="25")
    elif not draft.alarm.may_leave_service:
        draft.refuse(f"an alarm of the class {draft.alarm.name} stays in service", who=event.who, row="25")
    elif not 0 < ahead_ms <= longest_ms:
        reason = f"the review has to lie ahead, by at most {_minutes(longest_ms)}"
        draft.refuse(reason, who=event.who, row="25")
    elif draft.alarm.priority is Priority.CRITICAL and draft.state.memory.waits_for_a_person:
        draft.refuse("nobody has acknowledged it yet; acknowledge it first", who=event.who, row="25")
    else:
        was_suppressed = draft.state.is_suppressed
        since_ms = draft.state.out.since_ms if draft.state.out else draft.at_ms
        out = OutOfService(event.who, event.reason, event.interim, since_ms, event.review_ms, event.review_ms)
        draft.change("25", f"out of service: {event.reason}", who=event.who, out=out)
        if draft.state.memory.waits_for_a_person and not was_suppressed:
            draft.stop_ladder()


def return_to_service(draft: Draft, event: ReturnToService) -> None:
    """Row 26."""
    if draft.state.out is None:
        draft.refuse("it is in service already", who=event.who, row="26")
    elif not draft.state.known:
        draft.refuse("no fresh good reading yet; it returns to service when there is one", who=event.who, row="26")
    elif not (event.who.strip() and event.test.strip()):
        draft.refuse("say who, and how it was seen to work", who=event.who, row="26")
    else:
        draft.change("26", f"back in service, tested: {event.test}", who=event.who, out=None)
        _left_the_set(draft, by_design=False)


def _left_the_set(draft: Draft, *, by_design: bool) -> None:
    """Row 19: where the set is empty now, what happened meanwhile comes out."""
    state = draft.state
    if state.is_suppressed:
        return
    seen = (state.occurrence, state.version)
    if state.in_alarm:
        unseen = AlarmMemory.UNACKNOWLEDGED
        plain: Changes = {"memory": unseen, "hidden": False, "acknowledged_by": "", "realarm_ms": None}
        draft.change("19", "no longer suppressed, and still on", call=Why.SUPPRESSION_ENDED, **plain)
    elif state.memory is AlarmMemory.LATCHED_UNACKNOWLEDGED:
        draft.ladder(Pace.REMIND)
    elif state.hidden and by_design:
        # Its cause, or the people at work, were known: it came and went with them, and is in the journal.
        draft.change("19", "it was on and over while suppressed by design", **CLOSED)
    elif state.hidden or state.memory is AlarmMemory.RETURNED:
        draft.change("19", "it was on while suppressed", memory=AlarmMemory.RETURNED, hidden=False)
        draft.tell(Why.HIDDEN, *seen)
        draft.ladder(Pace.REMIND)


def _with(draft: Draft, old: DesignSuppression, new: DesignSuppression | None) -> tuple[DesignSuppression, ...]:
    changed = (new if each is old else each for each in draft.state.design)
    return tuple(each for each in changed if each is not None)


def _minutes(duration_ms: int) -> str:
    return f"{duration_ms // MINUTE_MS} min"
