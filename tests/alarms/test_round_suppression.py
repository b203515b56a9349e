"""A round in progress holds back what an open door explains, and nothing else. X-26."""

import pytest

from config.errors import StatedError
from daemon.alarms.classes import HUMIDITY, LETHAL, LOW_WARNING, MINUTE_MS, AlarmClass, Mode
from daemon.alarms.events import Overrun, SuppressOff, SuppressOn, TimePassed
from daemon.alarms.folding import Role
from daemon.alarms.round_suppression import LONGEST_ROUND_MS, Round, applies, is_overdue, suppression
from tests.alarms.machine import START_MS, Machine, calls, known, messages

WEEKLY = Round("weekly", "north", "ana", START_MS, 30 * MINUTE_MS, 15 * MINUTE_MS)


def ended(after_min: float) -> Round:
    return Round(
        "weekly", "north", "ana", START_MS, 30 * MINUTE_MS, 15 * MINUTE_MS, START_MS + round(after_min * 60_000)
    )


def begin(alarm: AlarmClass, role: Role) -> Machine:
    machine = known(alarm)
    event = suppression(WEEKLY, role, "north")
    assert isinstance(event, SuppressOn)
    machine.do(event)
    return machine


def end(machine: Machine, role: Role, after_min: float) -> None:
    event = suppression(ended(after_min), role, "north")
    assert isinstance(event, SuppressOff)
    machine.do(event)


@pytest.mark.parametrize(("alarm", "role"), [(LOW_WARNING, Role.LOW), (HUMIDITY, Role.HUMIDITY)])
def test_a_round_of_12_minutes_calls_nobody(alarm: AlarmClass, role: Role) -> None:
    """X-26: also not while it settles, and no acknowledgement is asked for afterwards."""
    machine = begin(alarm, role)
    machine.wait(8).on()
    machine.wait(4)
    end(machine, role, 12)
    machine.wait(14).off()
    machine.wait(10).do(TimePassed())
    assert messages(machine.effects) == []
    assert machine.shown == "normal"


def test_a_round_of_31_minutes_is_ended_by_force_and_told() -> None:
    """X-26: still too cool, and the round that overran is an alarm of its own."""
    machine = begin(LOW_WARNING, Role.LOW)
    machine.wait(8).on()
    after = machine.wait(23).do(TimePassed())
    assert messages(after.effects) == ["no longer suppressed, still on"]
    assert [each for each in after.effects if isinstance(each, Overrun)] == [
        Overrun(Mode.ROUND, "weekly", START_MS + 30 * MINUTE_MS)
    ]
    assert is_overdue(WEEKLY, machine.now_ms)
    assert not is_overdue(WEEKLY, START_MS + 30 * MINUTE_MS - 1)
    assert not is_overdue(ended(31), machine.now_ms)


def test_a_lethal_limit_in_the_third_minute_calls_people() -> None:
    """X-26."""
    for role in (Role.LETHAL_HIGH, Role.LETHAL_LOW):
        assert suppression(WEEKLY, role, "north") is None
        machine = known(LETHAL)
        machine.do(SuppressOn(Mode.ROUND, WEEKLY.id, WEEKLY.hard_end_ms))
        machine.wait(3).on()
        assert calls(machine.effects) == 1


COLD_OR_DAMP = [Role.LOW, Role.FALLING, Role.AHEAD_LOW, Role.HUMIDITY, Role.CONDENSATION, Role.DOOR_OPEN]


@pytest.mark.parametrize("role", sorted(set(Role) - set(COLD_OR_DAMP)))
def test_nothing_else_is_held_back(role: Role) -> None:
    assert not applies(WEEKLY, role, "north")


@pytest.mark.parametrize("role", COLD_OR_DAMP)
def test_another_incubator_is_told_of_as_always(role: Role) -> None:
    assert applies(WEEKLY, role, "north")
    assert suppression(WEEKLY, role, "south") is None


def test_what_is_still_on_after_the_settle_time_is_told() -> None:
    machine = begin(LOW_WARNING, Role.LOW)
    machine.wait(8).on()
    machine.wait(4)
    end(machine, Role.LOW, 12)
    machine.wait(14.9).do(TimePassed())
    assert calls(machine.effects) == 0
    machine.wait(0.1).do(TimePassed())
    assert calls(machine.effects) == 1


def test_a_round_that_was_forced_to_its_end_cannot_be_renewed_before_it_is_ended() -> None:
    machine = begin(LOW_WARNING, Role.LOW)
    machine.wait(30)
    again = SuppressOn(Mode.ROUND, "weekly", machine.now_ms + 30 * MINUTE_MS)
    machine.do(again)
    assert not machine.state.is_suppressed
    machine.do(SuppressOff(Mode.ROUND, "weekly"), again)
    assert machine.state.is_suppressed


def test_opening_the_door_again_while_it_settles_does_not_move_the_hard_end() -> None:
    machine = begin(LOW_WARNING, Role.LOW)
    machine.wait(20)
    end(machine, Role.LOW, 20)
    machine.wait(5).do(SuppressOn(Mode.ROUND, "weekly", machine.now_ms + 30 * MINUTE_MS))
    machine.wait(5).on()
    assert machine.shown == "unacknowledged"


def test_told_again_says_when() -> None:
    assert WEEKLY.told_again_ms == START_MS + 30 * MINUTE_MS
    assert ended(12).told_again_ms == START_MS + 27 * MINUTE_MS
    assert ended(29.9).told_again_ms == START_MS + round(44.9 * MINUTE_MS)
    assert ended(31).told_again_ms == START_MS + 30 * MINUTE_MS


@pytest.mark.parametrize("stated_ms", [0, -1, LONGEST_ROUND_MS + 1])
def test_a_round_of_an_impossible_length_is_refused(stated_ms: int) -> None:
    with pytest.raises(StatedError, match="round of"):
        Round("r", "north", "ana", START_MS, stated_ms)


def test_a_settle_time_of_hours_is_refused() -> None:
    with pytest.raises(StatedError, match="settle time"):
        Round("r", "north", "ana", START_MS, settle_ms=2 * 60 * MINUTE_MS)
