"""One alarm over days, with people, probes, rounds and restarts in any order and at any time. X-23, X-24."""

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from config.words import Priority
from daemon.alarms.classes import MINUTE_MS, AlarmClass, Mode
from daemon.alarms.events import (
    Annunciate,
    DataBack,
    DataLost,
    Restarted,
    Shelve,
    SuppressOff,
    SuppressOn,
    TimePassed,
    Unshelve,
)
from daemon.alarms.state_values import AlarmMemory, Condition
from daemon.alarms.states import next_due_ms, shelf_ends_ms
from tests.alarms.machine import Machine, known

MINUTES = st.sampled_from([0.5, 1, 5, 10, 15, 29.9, 30, 31, 59, 60, 61, 121, 241])


class AlarmOverDays(RuleBasedStateMachine):
    machine: Machine

    @initialize(
        priority=st.sampled_from(list(Priority)),
        latching=st.booleans(),
        may=st.sampled_from([frozenset(), frozenset(Mode)]),
    )
    def begin(self, priority: Priority, latching: bool, may: frozenset[Mode]) -> None:
        allowed = may if priority is not Priority.CRITICAL else frozenset[Mode]()
        self.machine = known(AlarmClass("any", priority, latching, suppressible_by=allowed))

    @rule(minutes=MINUTES)
    def time_goes_on(self, minutes: float) -> None:
        self.machine.wait(minutes).do(TimePassed())

    @rule()
    def goes_on(self) -> None:
        self.machine.on()

    @rule()
    def goes_off(self) -> None:
        before = self.machine.state
        self.machine.off()
        if before.condition is Condition.UNKNOWN:
            assert self.machine.state == before

    @rule()
    def falls_silent(self) -> None:
        before = self.machine.memory
        self.machine.do(DataLost())
        assert self.machine.memory is before

    @rule()
    def speaks_again(self) -> None:
        before = self.machine.memory
        self.machine.do(DataBack())
        assert self.machine.memory is before

    @precondition(lambda self: self.machine.state.occurrence)
    @rule(note=st.sampled_from(["", "heater was off"]))
    def is_acknowledged(self, note: str) -> None:
        self.machine.ack(note=note)

    @rule(minutes=MINUTES, once=st.booleans(), second=st.sampled_from(["", "ben"]))
    def is_shelved(self, minutes: float, once: bool, second: str) -> None:
        until_ms = self.machine.now_ms + round(minutes * MINUTE_MS)
        self.machine.do(Shelve("ana", "known", until_ms, once, second))

    @rule()
    def is_unshelved(self) -> None:
        self.machine.do(Unshelve("ana"))

    @rule(minutes=MINUTES, settle_min=st.sampled_from([0, 15]))
    def round_begins(self, minutes: float, settle_min: int) -> None:
        hard_end_ms = self.machine.now_ms + round(minutes * MINUTE_MS)
        self.machine.do(SuppressOn(Mode.ROUND, "round", hard_end_ms, settle_min * MINUTE_MS))

    @rule()
    def round_ends(self) -> None:
        self.machine.do(SuppressOff(Mode.ROUND, "round"))

    @rule()
    def service_is_killed(self) -> None:
        before = self.machine.state
        self.machine.restart()
        assert self.machine.state == before

    @rule()
    def service_starts_again(self) -> None:
        self.machine.restart().do(Restarted(frozenset({(Mode.ROUND, "round")})))
        assert self.machine.state.condition is Condition.UNKNOWN

    @invariant()
    def what_is_on_and_not_suppressed_has_been_called(self) -> None:
        state = self.machine.state
        if state.in_alarm and not state.is_suppressed:
            called = [each for each in self.machine.effects if isinstance(each, Annunciate)]
            assert called
            assert (called[-1].occurrence, called[-1].version) == (state.occurrence, state.version)

    @invariant()
    def an_acknowledged_alarm_is_called_again_in_time(self) -> None:
        state = self.machine.state
        if state.memory is AlarmMemory.ACKNOWLEDGED and not state.is_suppressed:
            assert state.realarm_ms is not None
            assert self.machine.now_ms < state.realarm_ms <= self.machine.now_ms + self.machine.alarm.realarm_ms

    @invariant()
    def every_suppression_has_an_end_ahead(self) -> None:
        state = self.machine.state
        if state.shelf is not None:
            ends_ms = shelf_ends_ms(state.shelf, self.machine.alarm)
            assert self.machine.now_ms < ends_ms <= self.machine.now_ms + self.machine.alarm.longest_shelf_ms
        if state.is_suppressed:
            assert (next_due_ms(state, self.machine.alarm) or 0) > self.machine.now_ms


AlarmOverDays.TestCase.settings = settings(deadline=None, derandomize=True, max_examples=150, stateful_step_count=40)
TestAlarmOverDays = AlarmOverDays.TestCase
