"""Shelves, and what may never be suppressed. X-25, and the shelves of X-10.

OPC 10000-9 (IEC 62541-9), 5.8.17: timed and one-shot shelving; a time beyond the maximum is an error.
"""

import pytest

from config.words import Priority
from daemon.alarms.classes import (
    CLASSES,
    HOUR_MS,
    LAST_PROBE_SILENT,
    LETHAL,
    LONGEST_SHELF_MS,
    LOW_WARNING,
    MAINS_LOST,
    MINUTE_MS,
    NO_DATA_LONG,
    SELF_CRITICAL,
    SELF_HIGH,
    AlarmClass,
    Mode,
)
from daemon.alarms.events import (
    Annunciate,
    ClockStepped,
    RemoveFromService,
    Shelve,
    SuppressOn,
    TimePassed,
    Unshelve,
)
from tests.alarms.machine import Machine, calls, known, messages, refused, rows

WARNING = AlarmClass("warning", Priority.HIGH, suppressible_by=frozenset(Mode))


def shelf(machine: Machine, minutes: float, second: str = "", *, once: bool = False) -> Shelve:
    return Shelve("ana", "heater is being changed", machine.now_ms + round(minutes * MINUTE_MS), once, second)


def test_a_shelf_longer_than_the_longest_of_its_priority_is_refused_and_not_trimmed() -> None:
    """X-25; OPC 10000-9, 5.8.17: a time beyond the maximum is an error."""
    for priority in (Priority.HIGH, Priority.LOW):
        machine = known(AlarmClass("x", priority))
        longest_min = LONGEST_SHELF_MS[priority] / MINUTE_MS
        assert refused(machine.do(shelf(machine, longest_min + 0.001)))
        assert machine.state.shelf is None
        machine.do(shelf(machine, longest_min))
        assert machine.shown == "shelved"


@pytest.mark.parametrize("minutes", [0, -1])
def test_a_shelf_has_an_end_that_lies_ahead(minutes: float) -> None:
    machine = known(WARNING)
    assert refused(machine.do(shelf(machine, minutes)))


def test_a_shelf_takes_who_and_why() -> None:
    machine = known(WARNING)
    for who, why in (("", "door"), ("ana", " ")):
        assert refused(machine.do(Shelve(who, why, machine.now_ms + MINUTE_MS)))


def test_a_shelf_that_ends_while_the_alarm_is_on_calls_people() -> None:
    """X-25."""
    machine = known(WARNING)
    machine.do(shelf(machine, 60))
    machine.wait(10).on()
    assert calls(machine.effects) == 0
    ends_ms = machine.now_ms + 50 * MINUTE_MS
    after = machine.wait(600).do(TimePassed())
    assert [each.at_ms for each in after.effects if isinstance(each, Annunciate)] == [ends_ms]
    assert machine.shown == "unacknowledged"


@pytest.mark.parametrize("alarm", [WARNING, AlarmClass("lowest", Priority.LOW)])
def test_a_shelf_that_ends_shows_what_it_hid(alarm: AlarmClass) -> None:
    """X-25: also at the lowest priority, because a person asked not to be told."""
    machine = known(alarm)
    machine.do(shelf(machine, 60))
    machine.wait(5).on()
    machine.wait(5).off()
    after = machine.wait(60).do(TimePassed())
    assert machine.shown == "returned to normal unacknowledged"
    assert messages(after.effects) == ["was on while suppressed, back in range"]


def test_a_shelf_that_hid_nothing_ends_without_a_word() -> None:
    machine = known(WARNING)
    machine.do(shelf(machine, 60))
    after = machine.wait(60).do(TimePassed())
    assert (machine.shown, messages(after.effects)) == ("normal", [])


def test_a_one_shot_shelf_ends_with_the_return_to_normal_or_with_its_time() -> None:
    """Row 20; OPC 10000-9, 5.8.17: one-shot."""
    machine = known(WARNING)
    machine.on()
    machine.ack()
    machine.do(shelf(machine, 60, once=True))
    after = machine.wait(5).off()
    assert (machine.shown, rows(after)) == ("normal", ["6", "20"])
    machine.do(shelf(machine, 60, once=True))
    machine.wait(60).do(TimePassed())
    assert machine.state.shelf is None


def test_a_third_shelf_in_a_row_takes_a_second_person() -> None:
    machine = known(WARNING)
    for _ in range(2):
        machine.do(shelf(machine, 240))
        machine.wait(240).do(TimePassed())
    assert refused(machine.do(shelf(machine, 240)))
    assert refused(machine.do(shelf(machine, 240, second="ana")))
    machine.do(shelf(machine, 240, second="ben"))
    assert machine.shown == "shelved"
    machine.wait(2 * 240).do(TimePassed())
    machine.do(shelf(machine, 240))
    assert machine.shown == "shelved"


def test_a_shelf_is_not_made_longer_by_shelving_again_and_again() -> None:
    machine = known(WARNING)
    for _ in range(2):
        machine.do(shelf(machine, 240))
        machine.wait(100)
    assert refused(machine.do(shelf(machine, 240)))


def test_a_critical_alarm_is_shelved_only_when_seen_and_with_a_second_person() -> None:
    machine = known(NO_DATA_LONG)
    machine.on()
    assert refused(machine.do(shelf(machine, 60, "ben")))
    machine.ack()
    assert refused(machine.do(shelf(machine, 60)))
    assert refused(machine.do(shelf(machine, 61, "ben")))
    machine.do(shelf(machine, 60, "ben"))
    assert machine.shown == "shelved"


def test_the_shelf_of_one_alarm_does_not_cover_a_more_severe_one() -> None:
    """Row 21."""
    warning, lethal = known(WARNING), known(LETHAL)
    warning.do(shelf(warning, 240))
    warning.on()
    lethal.on()
    assert (calls(warning.effects), calls(lethal.effects)) == (0, 1)


@pytest.mark.parametrize("alarm", [LETHAL, LAST_PROBE_SILENT, MAINS_LOST, SELF_CRITICAL, SELF_HIGH])
@pytest.mark.parametrize("seen", [False, True])
def test_what_must_be_told_cannot_be_shelved_or_suppressed(alarm: AlarmClass, seen: bool) -> None:
    machine = known(alarm)
    if seen:
        machine.on()
        machine.ack()
    assert refused(machine.do(shelf(machine, 1, "ben")))
    for mode in Mode:
        machine.do(SuppressOn(mode, "x", machine.now_ms + MINUTE_MS))
    assert not machine.state.is_suppressed


def test_no_class_of_priority_1_is_suppressed_by_design() -> None:
    assert not [each for each in CLASSES.values() if each.priority is Priority.CRITICAL and each.suppressible_by]
    with pytest.raises(ValueError, match="never suppressed by design"):
        AlarmClass("x", Priority.CRITICAL, suppressible_by=frozenset({Mode.ROUND}))


def test_a_self_alarm_stays_in_service_and_an_unseen_critical_one_too() -> None:
    for alarm in (SELF_CRITICAL, SELF_HIGH, LETHAL):
        machine = known(alarm)
        machine.on()
        wish = RemoveFromService("ana", "broken", "hand thermometer", machine.now_ms + HOUR_MS, eggs_inside=True)
        assert refused(machine.do(wish))
    machine.ack()
    machine.do(wish)
    assert machine.shown == "out of service"


def test_unshelving_brings_back_an_alarm_that_is_still_on() -> None:
    machine = known(WARNING)
    machine.on()
    machine.do(shelf(machine, 60))
    after = machine.do(Unshelve("ben"))
    assert messages(after.effects) == ["no longer suppressed, still on"]


def test_the_clock_set_back_or_forward_leaves_a_shelf_as_long_as_it_was() -> None:
    """X-10."""
    for step_min in (-60, 60, -1, 30_000_000):
        machine = known(WARNING)
        machine.on()
        machine.do(shelf(machine, 60))
        machine.wait(20)
        machine.wait(step_min).do(ClockStepped(step_min * MINUTE_MS))
        machine.wait(39).do(TimePassed())
        assert machine.shown == "shelved"
        machine.wait(1).do(TimePassed())
        assert machine.shown == "unacknowledged"


def test_a_clock_set_back_without_a_word_never_makes_a_suppression_longer() -> None:
    """X-10: where the end cannot be known, it ends."""
    for alarm in (WARNING, LOW_WARNING):
        machine = known(alarm)
        machine.do(shelf(machine, 60), SuppressOn(Mode.CAUSE, "mains", machine.now_ms + HOUR_MS))
        machine.on()
        after = machine.wait(-1).do(TimePassed())
        assert messages(after.effects) == ["no longer suppressed, still on"]


def test_a_shelf_ends_sooner_where_the_class_allows_less_by_now() -> None:
    """The site file was changed, and the service started again."""
    machine = known(AlarmClass("lowest", Priority.LOW))
    machine.do(shelf(machine, 20 * 60))
    machine.on()
    machine.alarm = WARNING
    machine.wait(239).do(TimePassed())
    assert machine.shown == "shelved"
    machine.wait(1).do(TimePassed())
    assert machine.shown == "unacknowledged"


def test_a_shelf_ends_at_once_where_the_class_is_not_shelved_by_now() -> None:
    machine = known(WARNING)
    machine.do(shelf(machine, 60))
    machine.alarm = SELF_HIGH
    machine.do(TimePassed())
    assert machine.state.shelf is None
