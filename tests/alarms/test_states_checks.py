"""Shelves, old acknowledgements, clock steps, noise and ramps: what one alarm promises a person.

Covered here, by the checks of the published standards: X-1 out-of-range recording, X-4 noise, X-10 clock step, X-25
shelf, X-27 stale acknowledgement, X-38 (no return to normal on bad readings).
"""

import math
from collections.abc import Iterable
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from config.words import Priority
from daemon.alarms import conditions
from daemon.alarms.classes import (
    CUMULATIVE,
    HOUR_MS,
    LETHAL,
    MINUTE_MS,
    NO_DATA,
    AlarmClass,
    Mode,
)
from daemon.alarms.conditions import Change, ConditionState, Rule, Side
from daemon.alarms.events import (
    Acknowledge,
    ConditionOff,
    ConditionOn,
    DataBack,
    DataLost,
    Event,
    LimitChanged,
    Reset,
    Shelve,
    SuppressOff,
    SuppressOn,
    TimePassed,
)
from tests.alarms.machine import Machine, calls, known, messages, refused

WARNING = AlarmClass("warning", Priority.HIGH, suppressible_by=frozenset(Mode))
HIGH = Rule(Side.HIGH, 32.0, 0.2, on_delay_s=300, off_delay_s=600, at_once_beyond=None, longest_gap_s=180)
LETHAL_HIGH = Rule(Side.HIGH, 34.0, 0.3, on_delay_s=60, off_delay_s=300, at_once_beyond=1.0, longest_gap_s=180)


def shelf(machine: Machine, minutes: float, second: str = "", *, once: bool = False) -> Shelve:
    return Shelve("ana", "heater is being changed", machine.now_ms + round(minutes * MINUTE_MS), once, second)


def feed(machine: Machine, rule: Rule, values: Iterable[float], *, suspect: bool = False) -> list[ConditionState]:
    """One reading a minute through the condition and into the alarm; gives the condition before each clearing."""
    state, over = ConditionState(), []
    for value in values:
        after = conditions.step(state, rule, value, suspect, machine.now_ms)
        if after.change is Change.RAISED:
            machine.do(ConditionOn(f"o@{after.state.since_ms}", after.state.since_ms or 0))
        if after.change is Change.CLEARED:
            over.append(state)
            machine.off()
        state = after.state
        machine.wait(1)
    return over


def test_a_ramp_through_warning_and_lethal_limit_is_recorded_to_the_sample() -> None:
    """X-1. A ramp of 0.1 K a minute, 31 to 36 °C and back; the moments are worked out by hand."""
    ramp = [31 + 0.1 * number for number in range(51)] + [36 - 0.1 * number for number in range(1, 51)] + [31.0] * 20
    start_ms = known(LETHAL).now_ms
    for rule, alarm in ((HIGH, WARNING), (LETHAL_HIGH, LETHAL)):
        machine = known(alarm)
        (over,) = feed(machine, rule, ramp)
        assert over.peak == pytest.approx(36.0)
        assert over.since_ms is not None
        # the first reading beyond the limit is the one after (limit - 31) / 0.1 minutes
        expected_min = round((rule.limit - 31) / 0.1) + 1
        assert over.since_ms - start_ms == expected_min * MINUTE_MS
        ended = next(each for each in machine.effects if getattr(each, "row", "") in ("4", "5"))
        inside_min = 50 + round((36 - (rule.limit - rule.deadband)) / 0.1)
        assert ended.at_ms - start_ms == round(inside_min * MINUTE_MS + rule.off_delay_s * 1000)


def test_six_hours_of_noise_around_a_limit_are_one_occurrence_at_most() -> None:
    """X-4, OPC 10000-9 (IEC 62541-9) B.1.5: deadband and delays keep noise from toggling an alarm."""
    machine = known(WARNING)
    feed(machine, HIGH, [32 + 0.15 * math.sin(number * 2 * math.pi / 7) for number in range(360)])
    assert calls(machine.effects) <= 1


def test_suspect_readings_never_return_an_alarm_to_normal() -> None:
    """X-38."""
    machine = known(WARNING)
    machine.on()
    feed(machine, HIGH, [20.0, math.nan, math.inf, -127.0, 85.0] * 20, suspect=True)
    machine.do(DataLost(), ConditionOff())
    assert machine.shown == "unacknowledged"


def test_an_acknowledgement_of_an_older_call_is_refused_with_the_present_state() -> None:
    """X-27."""
    machine = known(WARNING)
    machine.on()
    old = Acknowledge("ana", machine.state.occurrence, machine.state.version)
    machine.off()
    machine.wait(5).on()
    after = machine.do(old)
    assert refused(after)
    assert "unacknowledged now" in after.reason
    assert machine.shown == "unacknowledged"


def test_an_acknowledgement_after_the_return_to_normal_is_good() -> None:
    """Nothing has happened that the person has not seen, except for the better."""
    machine = known(WARNING)
    machine.on()
    old = Acknowledge("ana", machine.state.occurrence, machine.state.version)
    machine.off()
    machine.do(old)
    assert machine.shown == "normal"


def test_acknowledging_twice_says_who_has_it_and_changes_nothing() -> None:
    machine = known(WARNING)
    machine.on()
    again = Acknowledge("ben", machine.state.occurrence, machine.state.version)
    machine.ack("ana")
    after = machine.do(again)
    assert (refused(after), after.reason) == (True, "ana has acknowledged it already")
    assert machine.state.acknowledged_by == "ana"


def test_acknowledging_what_is_over_is_refused() -> None:
    machine = known(WARNING)
    machine.on()
    old = Acknowledge("ana", machine.state.occurrence, machine.state.version)
    machine.do(old)
    machine.off()
    assert refused(machine.do(old))
    machine.wait(60).on()
    assert refused(machine.do(old))


@pytest.mark.parametrize("place", [0, 1, 2])
def test_an_acknowledgement_never_swallows_what_happens_at_the_same_time(place: int) -> None:
    """Off and on again at one moment, and at any place among them an answer to what was on before."""
    machine = known(WARNING)
    machine.on()
    events: list[Event] = [ConditionOff(), ConditionOn("next", machine.now_ms)]
    events.insert(place, Acknowledge("ana", machine.state.occurrence, machine.state.version))
    machine.do(*events)
    assert machine.state.in_alarm
    assert machine.shown == "unacknowledged"


def test_a_note_starts_the_time_to_the_next_call_anew() -> None:
    machine = known(CUMULATIVE)
    machine.on()
    machine.ack(note="")
    machine.wait(100)
    machine.do(Acknowledge("ana", machine.state.occurrence, machine.state.version, "lid is open, cooling"))
    machine.wait(119).do(TimePassed())
    assert machine.shown == "acknowledged"
    machine.wait(1).do(TimePassed())
    assert machine.shown == "unacknowledged"


def test_a_latch_is_not_released_without_a_fresh_reading() -> None:
    machine = known(LETHAL)
    machine.on()
    machine.ack()
    machine.off()
    machine.do(DataLost())
    assert refused(machine.do(Reset("ana")))
    assert machine.shown == "latched acknowledged"
    machine.do(DataBack(), Reset("ana"))
    assert machine.shown == "normal"


def test_a_changed_limit_clears_nothing_without_a_fresh_reading() -> None:
    machine = known(WARNING)
    machine.on()
    machine.do(DataLost(), LimitChanged("ana", "another species"))
    assert machine.shown == "unacknowledged"
    machine.do(LimitChanged("ana", "the last clutch has hatched", removed=True))
    assert machine.shown == "returned to normal unacknowledged"


def test_daylight_saving_changes_no_deadline() -> None:
    """X-10: times are UTC; the night in which Europe's clocks go back lasts an hour longer, a shelf does not."""
    before = datetime(2026, 10, 25, 0, 30, tzinfo=UTC)
    assert (
        before.astimezone(ZoneInfo("Europe/Berlin")).utcoffset()
        != datetime(2026, 10, 25, 1, 30, tzinfo=UTC).astimezone(ZoneInfo("Europe/Berlin")).utcoffset()
    )
    machine = known(WARNING)
    machine.now_ms = round(before.timestamp() * 1000)
    machine.do(shelf(machine, 60))
    machine.wait(59).do(TimePassed())
    assert machine.shown == "shelved"
    machine.wait(1).do(TimePassed())
    assert machine.shown == "normal"


def test_a_consequence_that_outlives_its_cause_is_told_after_the_settle_time() -> None:
    machine = known(NO_DATA)
    machine.do(SuppressOn(Mode.CAUSE, "mains", machine.now_ms + HOUR_MS, 5 * MINUTE_MS))
    machine.on()
    assert calls(machine.effects) == 0
    machine.wait(10).do(SuppressOff(Mode.CAUSE, "mains"))
    machine.wait(4.9).do(TimePassed())
    assert calls(machine.effects) == 0
    machine.wait(0.1).do(TimePassed())
    assert messages(machine.effects) == ["no longer suppressed, still on"]
