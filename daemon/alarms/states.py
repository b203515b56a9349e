"""The alarm state machine: `step(state, event, now_ms, alarm) -> (state, effects, reason)`. Pure.

States and actions are those of ISA-18.2 / IEC 62682; shelving, latching and re-alarm as OPC 10000-9 (IEC 62541-9)
5.8 describes them. A step lets the time pass first: what became due before `now_ms` happens at its own moment and in
order, so it does not matter how often the time is looked at, and an outage loses no deadline.

The table of transitions; `row` of a journal record names one of them. "Set" is the suppression set.

====  ==============  =======================================  ===============================================
row   from            event                                    to
====  ==============  =======================================  ===============================================
1     normal          on, set empty                            unacknowledged; annunciated
2     normal          on or off, set not empty                 normal; a hidden occurrence is recorded
3     unacknowledged  acknowledge                              acknowledged; ladder stops, re-alarm timer starts
4     unacknowledged  off                                      returned to normal unacknowledged; reminders
4b    unacknowledged  off, priority 3                          normal
5     unacknowledged  off, latching                            latched unacknowledged; reminders
6     acknowledged    off                                      normal; people are told
7     acknowledged    off, latching                            latched acknowledged; people are told
8     returned        acknowledge (priority 1: with a note)    normal
9     returned        on                                       unacknowledged; the same occurrence within 30 min
10    acknowledged    re-alarm timer                           unacknowledged; annunciated
11    unacknowledged  the ladder is at its end                 unchanged; the ladder loops (see `ladder`)
12    latched unack.  acknowledge                              latched acknowledged
13    latched unack.  on                                       unacknowledged; annunciated
14    latched ack.    reset, condition known to be normal      normal
15    latched ack.    on                                       unacknowledged; annunciated
16    latched unack.  reset                                    refused
17    any             a more severe alarm of the place is on   suppressed by design
18    any             shelve                                   shelved
19    set empties     condition on                             unacknowledged; annunciated
..    set empties     hidden, by design                        normal
..    set empties     hidden, or returned unacknowledged       returned to normal unacknowledged
..    set empties     latched                                  unchanged
20    shelved         off, one-shot                            as 19
21    shelved         another alarm, more severe               not covered by this shelf
22    any             a designed reason begins                 suppressed by design
23    suppressed      it has ended and settled                 as 19
24    suppressed      its hard end                             as 19; work that overran is an alarm of its own
25    any             out of service, with a review date       out of service
26    out of service  return, with a fresh good reading        as 19
27    out of service  review date, and each day after          unchanged; people are reminded
28    any             no data                                  unchanged; the condition is unknown
29    any             data again                               unchanged; the condition is known
30    normal          late readings prove a past excursion     returned to normal unacknowledged; one message
31    unack., ack.    change of limit, now inside              returned unacknowledged, normal
32    any             restart                                  unchanged; condition unknown, designed reasons
                                                               that do not hold any more end as 19
33    suppressed      acknowledge                              the set is unchanged; acknowledged quietly
====  ==============  =======================================  ===============================================

What is not in the table changes nothing, and is recorded where a person wanted it.
"""

from dataclasses import dataclass, replace
from typing import assert_never

from config.words import Priority
from daemon.alarms import suppression, transitions
from daemon.alarms.classes import REVIEW_AGAIN_MS, AlarmClass
from daemon.alarms.events import (
    Acknowledge,
    ClockStepped,
    ConditionOff,
    ConditionOn,
    DataBack,
    DataLost,
    Effect,
    Event,
    FoundAfterwards,
    LimitChanged,
    RemoveFromService,
    Reset,
    Restarted,
    ReturnToService,
    ReviewDue,
    Shelve,
    SuppressOff,
    SuppressOn,
    TimePassed,
    Unshelve,
    Why,
)
from daemon.alarms.state_draft import Changes, Draft
from daemon.alarms.state_values import AlarmMemory, AlarmState, Shelf, shifted

_WORDS: dict[type[Event], str] = {
    ConditionOn: "on",
    ConditionOff: "off",
    DataLost: "no data",
    DataBack: "data again",
    Acknowledge: "acknowledge",
    Reset: "reset",
    Shelve: "shelve",
    Unshelve: "unshelve",
    SuppressOn: "suppress by design",
    SuppressOff: "end suppression by design",
    RemoveFromService: "out of service",
    ReturnToService: "return to service",
    FoundAfterwards: "found afterwards",
    LimitChanged: "change of limit",
    ClockStepped: "clock stepped",
    Restarted: "restart",
    TimePassed: "time",
}


@dataclass(frozen=True, slots=True)
class Step:
    """The next state, what is to be done in this order, and why."""

    state: AlarmState
    effects: tuple[Effect, ...]
    reason: str


def step(state: AlarmState, event: Event, now_ms: int, alarm: AlarmClass) -> Step:
    """Take one event at `now_ms` (UTC ms). `alarm` is the class in force now."""
    if isinstance(event, ClockStepped):
        state = shifted(state, event.by_ms)
    draft = Draft(alarm, state, _WORDS[TimePassed], now_ms, reason="nothing is due")
    _pass_time(draft, now_ms)
    draft.event, draft.at_ms = _WORDS[type(event)], now_ms
    _take(draft, event)
    return Step(draft.state, tuple(draft.effects), draft.reason)


def next_due_ms(state: AlarmState, alarm: AlarmClass) -> int | None:
    """Give the moment at which time alone changes something; None where it never does."""
    return min((moment_ms for moment_ms, _ in _deadlines(state, alarm)), default=None)


def shelf_ends_ms(shelf: Shelf, alarm: AlarmClass) -> int:
    """Give the end of a shelf: never later than the longest time that the alarm's class allows by now."""
    return min(shelf.until_ms, shelf.started_ms + alarm.longest_shelf_ms)


def _deadlines(state: AlarmState, alarm: AlarmClass) -> list[tuple[int, int]]:
    """All moments with a number for their kind, which also orders those of the same moment."""
    found: list[tuple[int, int]] = []
    if state.shelf is not None:
        found.append((shelf_ends_ms(state.shelf, alarm), 0))
    found += [(each.ends_ms, 1) for each in state.design if not each.spent]
    if state.out is not None:
        found.append((state.out.remind_ms, 2))
    if state.realarm_ms is not None and not state.is_suppressed:
        found.append((state.realarm_ms, 3))
    return found


def _pass_time(draft: Draft, now_ms: int) -> None:
    _distrust(draft, now_ms)
    while True:
        due = [each for each in _deadlines(draft.state, draft.alarm) if each[0] <= now_ms]
        if not due:
            return
        moment_ms, kind = min(due)
        draft.at_ms = moment_ms
        if kind == 0:
            suppression.end_shelf(draft, "19", "the shelf has ended")
        elif kind == 1:
            _end_design(draft, moment_ms)
        elif kind == 2:  # noqa: PLR2004 - the kind that `_deadlines` gives
            _remind(draft, now_ms)
        else:
            unseen = AlarmMemory.UNACKNOWLEDGED
            plain: Changes = {"memory": unseen, "acknowledged_by": "", "realarm_ms": None}
            draft.change("10", "still on after the acknowledgement", call=Why.STILL_ON, **plain)


def _distrust(draft: Draft, now_ms: int) -> None:
    """A clock that stands before the beginning of a suppression cannot say when it ends: so it ends now."""
    shelf = draft.state.shelf
    if shelf is not None and now_ms < shelf.started_ms:
        suppression.end_shelf(draft, "19", "the clock was set back, so its end cannot be known")
    for entry in draft.state.design:
        if now_ms < entry.since_ms and not entry.spent:
            suppression.end_design(draft, entry, "the clock was set back, so its end cannot be known")


def _end_design(draft: Draft, moment_ms: int) -> None:
    entry = next(each for each in draft.state.design if not each.spent and each.ends_ms == moment_ms)
    if entry.settling_until_ms is None:
        suppression.force_design(draft, entry)
    else:
        suppression.end_design(draft, entry)


def _remind(draft: Draft, now_ms: int) -> None:
    """Row 27. After an outage one reminder stands for those that it swallowed."""
    out = draft.state.out
    if out is None:
        return
    late_ms = now_ms - out.review_ms
    priority = Priority.LOW if late_ms < REVIEW_AGAIN_MS else Priority.HIGH
    following_ms = out.review_ms + (late_ms // REVIEW_AGAIN_MS + 1) * REVIEW_AGAIN_MS
    draft.change("27", "the review of this alarm out of service is due", out=replace(out, remind_ms=following_ms))
    draft.effects.append(ReviewDue(priority, draft.at_ms))


def _take(draft: Draft, event: Event) -> None:  # noqa: C901, PLR0912 - one line for each event
    match event:
        case ConditionOn():
            transitions.condition_on(draft, event)
        case ConditionOff():
            transitions.condition_off(draft)
        case DataLost():
            _lose(draft, "28", "no fresh good data: unknown, and nothing returns to normal")
        case DataBack():
            _regain(draft)
        case Acknowledge():
            transitions.acknowledge(draft, event)
        case Reset():
            transitions.reset(draft, event)
        case Shelve():
            suppression.shelve(draft, event)
        case Unshelve():
            suppression.unshelve(draft, event)
        case SuppressOn():
            suppression.suppress_on(draft, event)
        case SuppressOff():
            suppression.suppress_off(draft, event)
        case RemoveFromService():
            suppression.remove_from_service(draft, event)
        case ReturnToService():
            suppression.return_to_service(draft, event)
        case FoundAfterwards():
            transitions.found_afterwards(draft, event)
        case LimitChanged():
            transitions.limit_changed(draft, event)
        case Restarted():
            _restart(draft, event)
        case ClockStepped():
            draft.change("", f"the clock was set by {event.by_ms / 1000:g} s; what was ahead is as far ahead as before")
        case TimePassed():
            pass
        case _:
            assert_never(event)


def _lose(draft: Draft, row: str, reason: str) -> None:
    if not draft.state.known:
        draft.leave("unknown already")
        return
    draft.change(row, reason, known=False)


def _regain(draft: Draft) -> None:
    if draft.state.known:
        draft.leave("known already")
        return
    draft.change("29", "fresh good data again", known=True)


def _restart(draft: Draft, event: Restarted) -> None:
    """Row 32. What designed reasons say is asked anew; one that cannot be shown to hold does not suppress."""
    _lose(draft, "32", "started again: nothing was heard yet, so the condition is unknown")
    for entry in draft.state.design:
        if (entry.mode, entry.name) not in event.still and entry.settling_until_ms is None:
            suppression.drop_design(draft, entry)
