"""Breadth first through every state that one alarm can reach, by every event, asserting what must never happen.

X-23: the invariants stand beside the transition table; the model itself is checked here and not a copy of it.
So that the space is finite, all deadlines of a state are put equally far ahead, and then each of them in turn is let
run out before the others, and all of them together: every order is covered, and more than can happen.
Shelf, several designed reasons and out of service overlap in every way.
"""

from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass, replace

import pytest

from config.words import Priority
from daemon.alarms.classes import (
    HOUR_MS,
    LONGEST_SHELF_MS,
    LONGEST_SUPPRESSION_MS,
    MINUTE_MS,
    AlarmClass,
    Mode,
)
from daemon.alarms.events import (
    Acknowledge,
    Annunciate,
    ConditionOff,
    ConditionOn,
    DataBack,
    DataLost,
    Event,
    FoundAfterwards,
    LimitChanged,
    Record,
    RemoveFromService,
    Reset,
    Restarted,
    ReturnToService,
    Shelve,
    SuppressOff,
    SuppressOn,
    Tell,
    TimePassed,
    Unshelve,
)
from daemon.alarms.state_store import from_json, to_json
from daemon.alarms.state_values import AlarmMemory, AlarmState, Condition, Shown
from daemon.alarms.states import Step, next_due_ms, step

NOW_MS = 10**9
HALF_MS = 30 * MINUTE_MS
SOON_MS, LATER_MS = NOW_MS + MINUTE_MS, NOW_MS + 10 * MINUTE_MS
ON = {AlarmMemory.UNACKNOWLEDGED, AlarmMemory.ACKNOWLEDGED}
UNSEEN = {AlarmMemory.UNACKNOWLEDGED, AlarmMemory.RETURNED, AlarmMemory.LATCHED_UNACKNOWLEDGED}
TOLD = {Shown.UNACKNOWLEDGED, Shown.RETURNED, Shown.LATCHED_UNACKNOWLEDGED}
SUPPRESSIBLE = frozenset(Mode)


def the_class(priority: Priority, *, latching: bool, protected: bool) -> AlarmClass:
    may = SUPPRESSIBLE if priority is not Priority.CRITICAL and not protected else frozenset[Mode]()
    return AlarmClass(
        "model",
        priority,
        latching=latching,
        shelvable=not protected,
        suppressible_by=may,
        may_leave_service=not protected,
    )


def events(state: AlarmState) -> Iterator[tuple[str, Event]]:
    now = NOW_MS
    yield "on", ConditionOn("o", now)
    yield "off", ConditionOff()
    yield "lost", DataLost()
    yield "back", DataBack()
    yield "ack", Acknowledge("ana", state.occurrence, state.version, "seen")
    yield "ack without note", Acknowledge("ana", state.occurrence, state.version)
    yield "stale ack", Acknowledge("ana", state.occurrence, state.version - 1, "seen")
    yield "reset", Reset("ana")
    yield "shelve", Shelve("ana", "known", now + HALF_MS, second="ben")
    yield "shelve once", Shelve("ana", "known", now + HOUR_MS, one_shot=True, second="ben")
    yield "shelve for too long", Shelve("ana", "known", now + 25 * HOUR_MS, second="ben")
    yield "unshelve", Unshelve("ana")
    yield "round", SuppressOn(Mode.ROUND, "r", now + HALF_MS, HALF_MS)
    yield "round ends", SuppressOff(Mode.ROUND, "r")
    yield "cause", SuppressOn(Mode.CAUSE, "mains", now + HOUR_MS)
    yield "cause ends", SuppressOff(Mode.CAUSE, "mains")
    yield "out", RemoveFromService("ana", "broken", "hand", now + HOUR_MS, eggs_inside=True)
    yield "in", ReturnToService("ana", "ice water")
    yield "late", FoundAfterwards("o", now - HOUR_MS, now - 1)
    yield "limit", LimitChanged("ana", "new clutch")
    yield "limit gone", LimitChanged("ana", "no clutch", removed=True)
    yield "restart", Restarted()
    yield "restart, mains still lost", Restarted(frozenset({(Mode.CAUSE, "mains")}))


def reduced(state: AlarmState) -> AlarmState:
    """Forget what has no influence any more (names, counts), and put all deadlines equally far ahead."""
    opened = state.memory is not AlarmMemory.NORMAL or state.hidden
    shelf, out = state.shelf, state.out
    return replace(
        state,
        occurrence="o" if opened else "",
        version=1 if opened else 0,
        repeats=0,
        since_ms=None,
        returned_ms=None,
        shelf_ended_ms=None,
        shelves_in_a_row=0,
        realarm_ms=None if state.realarm_ms is None else LATER_MS,
        shelf=shelf and replace(shelf, started_ms=NOW_MS - 1, until_ms=LATER_MS),
        out=out and replace(out, since_ms=NOW_MS - 1, review_ms=LATER_MS, remind_ms=LATER_MS),
        design=tuple(
            replace(
                each,
                since_ms=NOW_MS - 1,
                hard_end_ms=NOW_MS if each.spent else LATER_MS,
                settling_until_ms=None if each.settling_until_ms is None else LATER_MS,
            )
            for each in sorted(state.design, key=lambda each: each.mode)
        ),
    )


def one_runs_out(state: AlarmState) -> Iterator[tuple[str, AlarmState]]:
    """Yield the state once for each of its deadlines, with that one before all others."""
    if state.realarm_ms is not None:
        yield "re-alarm", replace(state, realarm_ms=SOON_MS)
    if state.shelf is not None:
        yield "shelf ends", replace(state, shelf=replace(state.shelf, until_ms=SOON_MS))
    if state.out is not None:
        yield "review", replace(state, out=replace(state.out, review_ms=SOON_MS, remind_ms=SOON_MS))
    for each in state.design:
        if not each.spent:
            settling = None if each.settling_until_ms is None else SOON_MS
            sooner = replace(each, hard_end_ms=SOON_MS, settling_until_ms=settling)
            design = tuple(sooner if other is each else other for other in state.design)
            yield f"{each.mode} runs out", replace(state, design=design)


@dataclass(frozen=True)
class Edge:
    name: str
    before: AlarmState
    after: Step
    passed_ms: int


def edges(alarm: AlarmClass) -> Iterator[Edge]:
    """Yield every step of every reachable state once."""
    first = AlarmState()
    seen, queue = {first}, deque([first])
    while queue:
        state = queue.popleft()
        assert from_json(to_json(state)) == state
        moves = [(name, state, event, 0) for name, event in events(state)]
        moves += [(name, sooner, TimePassed(), SOON_MS - NOW_MS) for name, sooner in one_runs_out(state)]
        moves.append(("all run out", state, TimePassed(), LATER_MS - NOW_MS))
        for name, before, event, passed_ms in moves:
            after = step(before, event, NOW_MS + passed_ms, alarm)
            yield Edge(name, before, after, passed_ms)
            following = reduced(after.state)
            if following not in seen:
                seen.add(following)
                queue.append(following)
        assert len(seen) < 20_000


def assert_nothing_vanishes(alarm: AlarmClass, edge: Edge) -> None:
    before, after, name = edge.before, edge.after.state, edge.name
    # what is on and not suppressed is unacknowledged or acknowledged, and the other way round
    if not after.is_suppressed:
        assert after.in_alarm == (after.memory in ON)
        assert not after.hidden
    # nothing returns to normal on missing data
    if before.condition is Condition.UNKNOWN and name != "limit gone":
        assert after.in_alarm or not before.in_alarm
        assert name != "reset" or after.memory is before.memory
    if name in ("lost", "restart", "restart, mains still lost"):
        assert after.memory in (before.memory, AlarmMemory.UNACKNOWLEDGED) or before.hidden
        assert after.condition is Condition.UNKNOWN
    # an acknowledgement is the only way from unacknowledged to seen or over, save for what nobody has to acknowledge
    if before.memory in UNSEEN and after.memory not in UNSEEN:
        lowest = alarm.priority is Priority.LOW and name == "off" and not alarm.latching
        assert name in ("ack", "ack without note") or lowest
    # no unacknowledged alarm of priority 1 is taken out of sight by anybody or anything
    if alarm.priority is Priority.CRITICAL and before.shown in TOLD and not name.startswith("ack"):
        assert after.shown in TOLD


def assert_every_suppression_ends(alarm: AlarmClass, edge: Edge) -> None:
    after, now_ms = edge.after.state, NOW_MS + edge.passed_ms
    if after.shelf is not None:
        assert after.shelf.until_ms - after.shelf.started_ms <= LONGEST_SHELF_MS[alarm.priority]
        assert after.shelf.until_ms > now_ms
    for each in after.design:
        assert each.hard_end_ms - each.since_ms <= LONGEST_SUPPRESSION_MS[each.mode]
        assert each.spent or each.ends_ms > now_ms
    if after.is_suppressed:
        assert next_due_ms(after, alarm) is not None


def assert_people_are_told(edge: Edge) -> None:
    before, after, effects = edge.before, edge.after.state, edge.after.effects
    called = any(isinstance(each, Annunciate) for each in effects)
    if before.shown is not Shown.UNACKNOWLEDGED and after.shown is Shown.UNACKNOWLEDGED:
        assert called
    if called:
        assert after.shown in TOLD
    # nobody is told anything while the alarm stays suppressed
    if before.is_suppressed and after.is_suppressed and edge.passed_ms == 0:
        assert not [each for each in effects if isinstance(each, Annunciate | Tell)]
    # each change is in the journal
    if after.memory is not before.memory or after.shown is not before.shown:
        assert any(isinstance(each, Record) and each.accepted for each in effects)


def assert_sound(alarm: AlarmClass, edge: Edge) -> None:
    assert_nothing_vanishes(alarm, edge)
    assert_every_suppression_ends(alarm, edge)
    assert_people_are_told(edge)


@pytest.mark.parametrize("latching", [False, True])
@pytest.mark.parametrize("priority", list(Priority))
def test_no_reachable_state_breaks_a_promise(priority: Priority, latching: bool) -> None:
    alarm = the_class(priority, latching=latching, protected=False)
    shown, count = set(), 0
    for edge in edges(alarm):
        assert_sound(alarm, edge)
        shown.add(edge.after.state.shown)
        count += 1
    # all nine states of ISA-18.2 occur, save the latched ones without a latch and, at priority 1, suppressed by design
    missing = set() if latching else {Shown.LATCHED_UNACKNOWLEDGED, Shown.LATCHED_ACKNOWLEDGED}
    missing |= {Shown.SUPPRESSED_BY_DESIGN} if priority is Priority.CRITICAL else set()
    assert shown == set(Shown) - missing
    assert count > 1000


@pytest.mark.parametrize("latching", [False, True])
@pytest.mark.parametrize("priority", [Priority.CRITICAL, Priority.HIGH])
def test_a_protected_alarm_is_never_out_of_sight(priority: Priority, latching: bool) -> None:
    """Lethal limits, last probe, mains and self-alarms: not shelved, not suppressed by design."""
    alarm = the_class(priority, latching=latching, protected=True)
    for edge in edges(alarm):
        assert_sound(alarm, edge)
        assert not edge.after.state.is_suppressed
