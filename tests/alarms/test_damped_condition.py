"""A warning by the damped temperature: nobody is called for a lid that was lifted, nor later than is promised."""

import itertools
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daemon.alarms import conditions
from daemon.alarms.conditions import Change, ConditionState, Rule, Side
from daemon.alarms.damped_condition import DampedStep, Reading, damped_rule, step
from daemon.alarms.damping import Damped, Lag, after

MINUTE_MS = 60_000
TEN_MIN = Lag(10 * MINUTE_MS)
HIGH = Rule(Side.HIGH, 30.0, 0.2, 300, 600, None, 180)
LOW = Rule(Side.LOW, 24.0, 0.2, 300, 600, None, 180)

values_c = st.sampled_from([28.0, 29.5, 29.79, 29.9, 30.0, 30.05, 30.3, 31.0, 34.0, 22.0, 23.9, 26.0])
traces = st.lists(st.tuples(st.sampled_from([1, 1, 1, 1, 2, 5, 40]), values_c), min_size=10, max_size=150)


@dataclass
class Watch:
    """One warning and what it is made of; fed by minutes."""

    rule: Rule
    lag: Lag = TEN_MIN
    state: ConditionState = ConditionState()  # noqa: RUF009 - it is frozen
    readings: ConditionState = ConditionState()  # noqa: RUF009 - it is frozen
    damped: Damped | None = None

    def take(self, minute: float, value_c: float, *, suspect: bool = False, is_lethal: bool = False) -> DampedStep:
        at_ms = round(minute * MINUTE_MS)
        if not suspect:
            self.damped = after(self.damped, self.lag, at_ms, value_c)
        assert self.damped is not None
        rule = damped_rule(self.rule, self.lag.time_constant_s)
        found = step(
            self.state,
            self.readings,
            rule,
            Reading(value_c, self.damped.damped_c, suspect, at_ms),
            is_lethal=is_lethal,
        )
        self.state, self.readings = found.state, found.readings
        return found

    def changes(self, series: Iterable[tuple[float, float]]) -> list[tuple[float, Change]]:
        return [(minute, found.change) for minute, value in series if (found := self.take(minute, value)).change]


def timed(trace: Sequence[tuple[int, float]]) -> list[tuple[float, float]]:
    return list(zip(itertools.accumulate(minutes for minutes, _ in trace), (value for _, value in trace), strict=True))


def flat(value: float, start: int, end: int) -> list[tuple[float, float]]:
    return [(float(minute), value) for minute in range(start, end)]


def test_a_lid_that_is_lifted_for_three_minutes_calls_nobody_even_without_a_delay() -> None:
    """28 °C of air in a room of 20: after 3 min of 10 the damped one is at 28 - 8 * (1 - exp(-0.3)) = 25.9 °C."""
    watch = Watch(replace(LOW, on_delay_s=0))
    assert watch.changes([*flat(28, 0, 30), *flat(20, 30, 33), *flat(28, 33, 90)]) == []
    plain = [conditions.step(ConditionState(), replace(LOW, on_delay_s=0), 20.0, False, 1)]
    assert [found.change for found in plain] == [Change.RAISED]


def test_a_jump_is_raised_when_the_damped_one_has_been_beyond_for_the_delay() -> None:
    """From 28 to 32 °C it passes 30 after ln 2 * 10 min = 6.9 min, read at the minute 7 after the jump; delay 5 min."""
    watch = Watch(HIGH)
    assert watch.changes([*flat(28, 0, 30), (30, 28), (30.001, 32), *flat(32, 31, 60)]) == [(42, Change.RAISED)]
    assert watch.state.since_ms == round(30.001 * MINUTE_MS)
    assert watch.state.peak == 32


def test_air_only_just_beyond_is_raised_one_time_constant_after_the_delay() -> None:
    """The damped one would take 10 min * ln(2.05 / 0.05) = 37 min to pass the limit; delay 5 min and 10 min more."""
    watch = Watch(HIGH)
    assert watch.changes([*flat(28, 0, 30), *flat(30.05, 30, 60)]) == [(45, Change.RAISED)]
    assert watch.state.since_ms == 30 * MINUTE_MS


def test_heat_that_comes_and_goes_is_raised_by_its_mean() -> None:
    """Three minutes at 33 and two at 29 °C, over and over: 31.4 in the mean, and no run of readings of 5 minutes."""
    series = [*flat(28, 0, 30), *((float(minute), 33.0 if minute % 5 < 3 else 29.0) for minute in range(30, 120))]
    watch, state, plain = Watch(HIGH), ConditionState(), []
    raised = watch.changes(series)
    for minute, value in series:
        found = conditions.step(state, HIGH, value, False, round(minute * MINUTE_MS))
        state = found.state
        plain += [found.change] if found.change else []
    assert [change for _, change in raised] == [Change.RAISED]
    assert watch.state.peak == 33.0
    assert plain == []


def test_a_suspect_or_late_reading_decides_nothing_and_no_limit_ends_it() -> None:
    watch = Watch(HIGH)
    watch.changes([*flat(28, 0, 30), *flat(31, 30, 36)])
    before = (watch.state, watch.readings)
    assert watch.take(36, 99, suspect=True).change is None
    assert (watch.state, watch.readings) == before
    assert watch.take(20, 99).change is None
    assert (watch.state, watch.readings) == before
    watch.changes(flat(34, 37, 60))
    assert watch.state.phase.is_alarm
    ended = step(watch.state, watch.readings, None, Reading(34, 34, False, 60 * MINUTE_MS))
    assert ended.change is Change.CLEARED
    assert ended.readings == ConditionState(newest_ms=60 * MINUTE_MS)


def test_below_a_lethal_alarm_the_readings_need_no_more_than_the_delay() -> None:
    watch = Watch(HIGH)
    watch.changes(flat(28, 0, 30))
    found = [watch.take(minute, 30.5, is_lethal=True).change for minute in range(30, 36)]
    assert found == [None] * 5 + [Change.RAISED]


def test_air_that_is_right_again_calls_nobody() -> None:
    watch = Watch(HIGH)
    watch.changes([*flat(28, 0, 30), *flat(38, 30, 34)])
    # Damped: 31 and falling slowly, beyond the limit for longer than the delay; the air has been right since.
    assert watch.changes(flat(29.9, 34, 40)) == []
    assert watch.damped is not None
    assert watch.damped.damped_c > 30


def test_it_is_not_cleared_while_the_reading_is_outside() -> None:
    """From 32 to 28 °C the damped one passes 29.8 after 10 min * ln(4 / 1.8) = 7.98 min, at 38; with the delay, 48."""
    undisturbed, watch = Watch(HIGH), Watch(HIGH)
    fall = [*flat(32, 0, 30), (30, 32), (30.001, 28)]
    assert undisturbed.changes([*fall, *flat(28, 31, 60)]) == [(5, Change.RAISED), (48, Change.CLEARED)]
    assert watch.changes([*fall, *flat(28, 31, 46)]) == [(5, Change.RAISED)]
    assert watch.changes(flat(30.5, 46, 51)) == []
    assert watch.damped is not None
    assert watch.damped.damped_c < 29.8
    assert watch.changes([(51, 29.9), (52, 29.7)]) == [(52, Change.CLEARED)]


@given(trace=traces, rule=st.sampled_from([HIGH, LOW]))
def test_when_raised_the_reading_is_beyond_and_when_cleared_inside(trace: list[tuple[int, float]], rule: Rule) -> None:
    watch, read = Watch(rule), set()
    for minute, value in timed(trace):
        before = watch.state
        found = watch.take(minute, value)
        read.add(value)
        if found.change is Change.RAISED:
            assert rule.is_beyond(value)
            assert found.state.since_ms is not None
            assert found.state.since_ms <= minute * MINUTE_MS
        if found.change is Change.CLEARED:
            assert rule.is_inside(value)
            assert before.peak is not None
            assert rule.is_beyond(before.peak)
        assert found.state.peak is None or found.state.peak in read
        assert found.readings.phase in (conditions.Phase.NORMAL, conditions.Phase.PENDING_ON)


@given(trace=traces, rule=st.sampled_from([HIGH, LOW]))
def test_it_is_never_later_than_the_readings_alone_by_more_than_a_time_constant(
    trace: list[tuple[int, float]], rule: Rule
) -> None:
    """Where the readings have been beyond without a break for the delay and a time constant more, it is in alarm."""
    watch, since = Watch(rule), math.inf
    for minute, value in timed(trace):
        watch.take(minute, value)
        since = min(since, minute) if rule.is_beyond(value) else math.inf
        if minute - since >= rule.on_delay_s / 60 + 10:
            assert watch.state.phase.is_alarm


@given(trace=traces, rule=st.sampled_from([HIGH, LOW]))
def test_without_damping_it_is_the_plain_condition(trace: list[tuple[int, float]], rule: Rule) -> None:
    watch, plain = Watch(rule, Lag(0)), ConditionState()
    for minute, value in timed(trace):
        expected = conditions.step(plain, rule, value, False, round(minute * MINUTE_MS))
        plain = expected.state
        found = watch.take(minute, value)
        assert (found.change, found.state) == (expected.change, expected.state)
        assert found.change is None or found.reason == expected.reason


@given(trace=traces, cut=st.integers(0, 149))
def test_states_that_were_stored_and_read_back_go_on_as_if_nothing_had_been(
    trace: list[tuple[int, float]], cut: int
) -> None:
    whole, broken = Watch(HIGH), Watch(HIGH)
    for index, (minute, value) in enumerate(timed(trace)):
        if index == cut:
            broken.state = ConditionState.from_json(broken.state.to_json())
            broken.readings = ConditionState.from_json(broken.readings.to_json())
        assert whole.take(minute, value) == broken.take(minute, value)


def test_the_reason_says_that_it_is_a_damped_figure_and_names_the_reading() -> None:
    watch = Watch(HIGH)
    raised = [found for minute in range(40) if (found := watch.take(minute, 34 if minute else 28)).change]
    assert len(raised) == 1
    assert raised[0].reason.startswith("damped over 10 min, ")
    assert raised[0].reason.endswith("; the reading itself is 34")


@pytest.mark.parametrize("time_constant_s", [0.0, 600.0])
def test_what_is_told_at_once_is_told_at_once_however_damped(time_constant_s: float) -> None:
    watch = Watch(replace(HIGH, at_once_beyond=2.0), Lag(time_constant_s * 1000))
    watch.changes(flat(28, 0, 5))
    assert watch.take(5, 32.0).change is Change.RAISED
