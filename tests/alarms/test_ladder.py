"""Who is told when, against the ladder's table of this project. X-31: escalation."""

import json
from dataclasses import replace
from datetime import time
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from config.words import Priority
from daemon.alarms import ladder as ladders
from daemon.alarms.classes import HOUR_MS, MINUTE_MS
from daemon.alarms.ladder import LadderState, cannot, plan, slowed, started, stopped
from daemon.alarms.people import Contact, Person, QuietHours, Rota
from daemon.alarms.rungs import How, chosen
from daemon.alarms.state_json import StateError
from tests.alarms.crew import ANA, BEN, CREW, VET, Climb, alone
from tests.alarms.machine import START_MS
from tests.alarms.steady import steady

# 1 800 000 000 s after the epoch is 15 January 2027, 08:00 UTC
QUIET = QuietHours(time(7), time(9, 30), ZoneInfo("UTC"))
QUIET_END_MIN = 90


def test_a_critical_alarm_climbs_to_everybody_within_half_an_hour() -> None:
    """Rungs of priority 1: 0, 2, 5, 10, 30 minutes, and every five minutes from ten on."""
    climb = Climb(Priority.CRITICAL).until(35)
    every_ana, every_ben = ("ana/push", "ana/mail", "ana/sms"), ("ben/push", "ben/sms")
    assert climb.told == [
        (0, "ana", ("ana/push", "ana/sms")),
        (2, "ana", every_ana),
        (5, "ben", every_ben),
        *[
            (minutes, who, every)
            for minutes in (10, 15, 20, 25)
            for who, every in (("ana", every_ana), ("ben", every_ben))
        ],
        *[
            (minutes, who, every)
            for minutes in (30, 35)
            for who, every in (("ana", every_ana), ("ben", every_ben), ("vet", ("vet/voice",)))
        ],
    ]
    assert climb.sounder == [0, 2, 5, 10, 15, 20, 25, 30, 35]


def test_an_urgent_alarm_climbs_by_one_contact_each() -> None:
    """Rungs of priority 2: 0, 2 (once more), 5, 10, 30 minutes, and every half hour from there."""
    climb = Climb(Priority.HIGH).until(95)
    ana, ben = ("ana", ("ana/push",)), ("ben", ("ben/push",))
    both = [(minutes, *who) for minutes in (30, 60, 90) for who in (ana, ben)]
    assert climb.told == [(0, *ana), (2, *ana), (5, *ana), (10, *ben), *both]
    assert climb.sounder == []


def test_the_lowest_priority_is_told_once_and_without_sound() -> None:
    climb = Climb(Priority.LOW).until(24 * 60)
    assert climb.told == [(0, "ana", ("ana/push",))]
    assert climb.calls[0].silent


def test_nobody_answers_for_a_day_and_priority_1_never_stops() -> None:
    """X-31, with the number of messages that the rungs allow and no more."""
    climb = Climb(Priority.CRITICAL).until(24 * 60)
    assert climb.next_ms is not None
    assert max(minutes for minutes, _ in climb.people) == 24 * 60
    rounds_of_two = len(range(10, 30, 5))
    rounds_of_three = len(range(30, 24 * 60 + 1, 5))
    assert len(climb.told) == 3 + 2 * rounds_of_two + 3 * rounds_of_three


@given(st.lists(st.sampled_from([0.0, 0.5, 1, 2, 3, 5, 7, 30, 300]), max_size=30), st.sampled_from(list(Priority)))
@steady
def test_a_ladder_that_nobody_acknowledged_always_has_a_next_moment(steps: list[float], priority: Priority) -> None:
    """However late somebody looks; and the wait is never longer than the rung allows."""
    state, now_ms = started(priority, START_MS), START_MS
    for minutes in steps:
        now_ms += round(minutes * MINUTE_MS)
        found = plan(state, CREW, now_ms)
        state = found.ladder
        if priority is not Priority.LOW:
            assert found.next_ms is not None
            assert now_ms < found.next_ms <= now_ms + 30 * MINUTE_MS
        again = plan(state, CREW, now_ms)
        assert (again.calls, again.ladder) == ((), state)
        assert ladders.from_json(ladders.to_json(state)) == state


def test_what_became_due_while_nobody_looked_is_told_once_and_together() -> None:
    climb = Climb(Priority.CRITICAL)
    climb.now_ms += 40 * MINUTE_MS
    climb.look()
    assert climb.people == [(40, "ana"), (40, "ben"), (40, "vet")]
    assert climb.next_ms == START_MS + 45 * MINUTE_MS


def test_one_acknowledgement_stops_the_ladder_for_everybody() -> None:
    climb = Climb(Priority.CRITICAL).until(12)
    before = len(climb.told)
    climb.becomes(stopped(climb.ladder)).until(24 * 60)
    assert (len(climb.told), climb.next_ms) == (before, None)


def test_cannot_tells_the_next_person_at_once() -> None:
    for priority in (Priority.CRITICAL, Priority.HIGH):
        climb = Climb(priority).until(1)
        climb.becomes(cannot(climb.ladder, "ana", CREW, climb.now_ms))
        assert climb.people[-1:] == [(1, "ben")]
        assert "ana" not in [person for minutes, person in climb.until(25).people if minutes > 1]


def test_cannot_at_the_lowest_priority_tells_the_next_person_too() -> None:
    climb = Climb(Priority.LOW).until(1)
    climb.becomes(cannot(climb.ladder, "ana", CREW, climb.now_ms))
    assert climb.people == [(0, "ana"), (1, "ben")]


def test_cannot_calls_again_whoever_was_told_already_and_leaves_the_emergency_contact_for_later() -> None:
    climb = Climb(Priority.CRITICAL).until(6)
    climb.becomes(cannot(climb.ladder, "ana", CREW, climb.now_ms))
    assert climb.people[-2:] == [(5, "ben"), (6, "ben")]


def test_when_nobody_can_the_emergency_contact_is_told_at_once_and_nobody_is_let_off() -> None:
    climb = Climb(Priority.CRITICAL).until(6)
    climb.becomes(cannot(climb.ladder, "ana", CREW, climb.now_ms))
    climb.until(7).becomes(cannot(climb.ladder, "ben", CREW, climb.now_ms))
    assert climb.people[-3:] == [(7, "ana"), (7, "ben"), (7, "vet")]
    later = [person for minutes, person in climb.until(60).people if minutes > 30]
    assert set(later) == {"ana", "ben", "vet"}


def test_the_emergency_contact_is_for_priority_1_only() -> None:
    climb = Climb(Priority.HIGH).until(1)
    for who in ("ana", "ben"):
        climb.becomes(cannot(climb.ladder, who, CREW, climb.now_ms))
    assert "vet" not in [person for _, person in climb.until(300).people]


def test_the_only_person_who_cannot_is_told_again_all_the_same() -> None:
    climb = Climb(Priority.CRITICAL, alone()).until(1)
    climb.becomes(cannot(climb.ladder, "ana", climb.rota, climb.now_ms)).until(60)
    assert len([minutes for minutes, _ in climb.people if minutes > 30]) >= 5


def test_saying_cannot_twice_changes_nothing() -> None:
    climb = Climb(Priority.CRITICAL).until(1)
    once = cannot(climb.ladder, "ana", CREW, climb.now_ms)
    assert cannot(once, "ana", CREW, climb.now_ms) == once


def test_a_second_person_who_cannot_leaves_the_first_on_the_ladder() -> None:
    three = replace(CREW, standing=("ana", "ben", "vet"), emergency=())
    climb = Climb(Priority.CRITICAL, three).until(1)
    climb.becomes(cannot(climb.ladder, "ben", three, climb.now_ms)).until(9)
    assert climb.people[-3:] == [(1, "vet"), (6, "ana"), (6, "vet")]
    assert "ben" not in [person for _, person in climb.people]


@pytest.mark.parametrize("delivered", [True, False])
def test_a_ladder_that_an_earlier_version_stored_goes_on(delivered: bool) -> None:
    climb = Climb(Priority.CRITICAL).until(6)
    stored = json.loads(ladders.to_json(climb.ladder)) | {"delivered": delivered}
    assert ladders.from_json(json.dumps(stored)) == climb.ladder


def test_reminders_follow_the_pace_of_the_priority() -> None:
    """Priority 1 every 30 minutes, priority 2 every 2 hours, priority 3 never."""
    for priority, every_min in ((Priority.CRITICAL, 30), (Priority.HIGH, 120)):
        climb = Climb(priority).until(1)
        before = len(climb.told)
        climb.becomes(slowed(climb.ladder, climb.now_ms)).until(1 + 3 * every_min)
        assert climb.people[before:] == [(1 + number * every_min, "ana") for number in (1, 2, 3)]
    climb = Climb(Priority.LOW).until(1)
    climb.becomes(slowed(climb.ladder, climb.now_ms))
    assert climb.next_ms is None


def test_slowing_down_does_not_wake_a_ladder_that_has_stopped() -> None:
    assert slowed(stopped(started(Priority.HIGH, START_MS)), START_MS).pace == "stopped"


def test_quiet_hours_hold_the_lowest_priority_until_their_end() -> None:
    climb = Climb(Priority.LOW, replace(CREW, quiet=QUIET)).until(24 * 60)
    assert climb.people == [(QUIET_END_MIN, "ana")]


def test_quiet_hours_do_not_exist_for_priority_1() -> None:
    quiet = replace(CREW, quiet=QUIET)
    assert Climb(Priority.CRITICAL, quiet).until(35).told == Climb(Priority.CRITICAL).until(35).told


@pytest.mark.parametrize(("harm_min", "told_min"), [(None, 0), (QUIET_END_MIN - 1, 0), (QUIET_END_MIN, QUIET_END_MIN)])
def test_quiet_hours_hold_priority_2_only_where_harm_is_known_to_come_later(
    harm_min: int | None, told_min: int
) -> None:
    harm_ms = None if harm_min is None else START_MS + harm_min * MINUTE_MS
    climb = Climb(Priority.HIGH, replace(CREW, quiet=QUIET), harm_ms).until(QUIET_END_MIN)
    assert climb.people[0] == (told_min, "ana")


def test_reminders_of_priority_2_wait_for_the_end_of_the_quiet_hours() -> None:
    climb = Climb(Priority.HIGH, replace(CREW, quiet=QuietHours(time(9), time(12), ZoneInfo("UTC")))).until(1)
    climb.becomes(slowed(climb.ladder, climb.now_ms)).until(10 * 60)
    assert [minutes for minutes, _ in climb.people if minutes > 1] == [240, 360, 480, 600]


def test_two_contacts_do_not_share_a_path_where_there_is_a_choice() -> None:
    """EN 50136-1: an alternative path is one that does not fail together with the first."""
    assert [each.id for each in chosen(ANA, How.TWO)] == ["ana/push", "ana/sms"]
    same = Person("x", "X", (Contact("x/1", "internet"), Contact("x/2", "internet")))
    assert [each.id for each in chosen(same, How.TWO)] == ["x/1", "x/2"]
    assert [each.id for each in chosen(VET, How.TWO)] == ["vet/voice"]


def test_a_dead_address_is_left_out() -> None:
    dead = replace(BEN, contacts=(replace(BEN.contacts[0], usable=False), BEN.contacts[1]))
    for how in How:
        assert [each.id for each in chosen(dead, how)] == ["ben/sms"]
    assert chosen(replace(BEN, contacts=()), How.ONE) == ()


def test_the_ladder_follows_the_rota_on_every_rung() -> None:
    """Whoever is on duty when a rung comes is told, not who was at its beginning."""
    rota: Rota = CREW
    climb = Climb(Priority.CRITICAL, rota).until(4)
    climb.rota = replace(rota, standing=("ben", "ana"))
    climb.until(5)
    assert climb.people[-1] == (5, "ana")


@pytest.mark.parametrize(
    "changes",
    [
        {"pace": "run"},
        {"priority": 9},
        {"rungs": 6},
        {"rungs": -1},
        {"cannot": [1]},
        {"more": 1},
        {"harm_ms": "soon"},
    ],
)
def test_a_ladder_that_is_not_as_written_is_refused(changes: dict[str, object]) -> None:
    good = json.loads(ladders.to_json(LadderState(Priority.HIGH, START_MS)))
    with pytest.raises(StateError, match="stored state of a ladder"):
        ladders.from_json(json.dumps(good | changes))


def test_hours_are_hours() -> None:
    assert QUIET.end_of_quiet_ms(START_MS) == START_MS + QUIET_END_MIN * MINUTE_MS
    assert QUIET.end_of_quiet_ms(START_MS + QUIET_END_MIN * MINUTE_MS) is None
    assert QUIET.end_of_quiet_ms(START_MS - 2 * HOUR_MS) is None


def test_a_ladder_of_an_earlier_version_goes_on_from_what_was_told_last() -> None:
    state = replace(started(Priority.HIGH, START_MS), rungs=5, last_told_ms=START_MS + 7, called_ms=START_MS + 7)
    stored = json.loads(ladders.to_json(state))
    del stored["called_ms"]
    assert ladders.from_json(json.dumps(stored)) == state
