"""Mains lost and doors open: by fresh readings of contacts above eggs, and never by what is old."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from config.words import AlarmKind, Quantity
from daemon.clutches import register
from daemon.standing.contacts import Contact, contact_alarms, run_since_ms
from daemon.standing.found import Found
from daemon.standing_sources.contacts import Contacts
from sensors.reading import Quality
from tests.standing.powered import DOOR, MAINS, MINUTE_MS, NORTH_MAINS, SECOND_MS, SOUTH_DOOR, START_MS, Powered

LOST, OPEN = AlarmKind.MAINS_LOST, AlarmKind.DOOR_OPEN
HOUR_MS = 60 * MINUTE_MS


def known(found: list[Found]) -> list[Found]:
    return [each for each in found if each.known]


def look(house: Powered, now_ms: int) -> list[Found]:
    return house.look(Contacts(house.site), now_ms)


def test_the_mains_of_the_room_is_that_of_the_site_and_one_in_an_incubator_is_its_own(house: Powered) -> None:
    house.eggs()
    for channel in (MAINS, NORTH_MAINS):
        house.say(channel, 1, START_MS, START_MS + MINUTE_MS, 10 * SECOND_MS)
        house.say(channel, 0, START_MS + MINUTE_MS + 10 * SECOND_MS, START_MS + 2 * MINUTE_MS, 10 * SECOND_MS)
    found = {each.subject: each for each in known(look(house, START_MS + 2 * MINUTE_MS))}
    assert {name: (each.kind, each.place) for name, each in found.items()} == {
        "mains": (LOST, ""),
        "north": (LOST, "north"),
    }
    assert {each.since_ms for each in found.values()} == {START_MS + 70 * SECOND_MS}
    assert found["mains"].reason == "the contact ups/mains says mains absent"


def test_a_door_that_stands_open_is_found_with_the_moment_it_was_opened(house: Powered) -> None:
    house.eggs()
    house.say(DOOR, 0, START_MS, START_MS + 5 * MINUTE_MS, MINUTE_MS)
    house.say(DOOR, 1, START_MS + 6 * MINUTE_MS, START_MS + 9 * MINUTE_MS, MINUTE_MS)
    (found,) = known(look(house, START_MS + 9 * MINUTE_MS))
    assert (found.kind, found.subject, found.place) == (OPEN, "north", "north")
    assert found.since_ms == START_MS + 6 * MINUTE_MS
    assert found.reason == "the contact north-door/door says door open"


def test_since_when_a_door_is_open_stays_known_look_after_look_and_begins_anew_when_it_was_closed(
    house: Powered,
) -> None:
    """Open from minute 6 for 40 minutes, closed for two, open again from minute 48; and a gap is no standing open."""
    house.eggs()
    minutes = [0.0] * 6 + [1.0] * 40 + [0.0] * 2 + [1.0] * 10
    source = Contacts(house.site)
    since = []
    for minute, value in enumerate(minutes):
        at_ms = START_MS + minute * MINUTE_MS
        house.say(DOOR, value, at_ms, at_ms, MINUTE_MS)
        since += [(minute, each.since_ms) for each in known(house.look(source, at_ms))]
    opened_ms, again_ms = START_MS + 6 * MINUTE_MS, START_MS + 48 * MINUTE_MS
    assert since == [(at, opened_ms) for at in range(6, 46)] + [(at, again_ms) for at in range(48, 58)]
    later_ms = START_MS + 70 * MINUTE_MS
    assert known(house.look(source, later_ms)) == []
    house.say(DOOR, 1, later_ms, later_ms, MINUTE_MS)
    assert [each.since_ms for each in known(house.look(source, later_ms))] == [later_ms]


def test_nothing_is_found_while_mains_is_present_and_doors_are_closed(house: Powered) -> None:
    house.eggs()
    house.say(MAINS, 1, START_MS, START_MS + MINUTE_MS, 10 * SECOND_MS)
    house.say(DOOR, 0, START_MS, START_MS + MINUTE_MS, 10 * SECOND_MS)
    assert known(look(house, START_MS + MINUTE_MS)) == []


def test_where_no_eggs_lie_nobody_is_called(house: Powered) -> None:
    house.say(MAINS, 0, START_MS, START_MS + MINUTE_MS, 10 * SECOND_MS)
    house.say(SOUTH_DOOR, 1, START_MS, START_MS + MINUTE_MS, 10 * SECOND_MS)
    assert look(house, START_MS + MINUTE_MS) == []
    clutch, closed_ms = house.eggs(), START_MS + MINUTE_MS
    assert [(each.kind, each.subject) for each in known(look(house, START_MS + MINUTE_MS))] == [(LOST, "mains")]
    house.journal.write(lambda conn: register.close_clutch(conn, clutch, closed_ms, "test", "hatched", closed_ms))
    assert look(house, START_MS + MINUTE_MS) == []


@pytest.mark.parametrize(("age_s", "is_known"), [(29, True), (30, True), (59, True), (60, False), (3600, False)])
def test_the_word_that_the_mains_is_gone_counts_until_the_delay_of_the_alarm_can_have_passed(
    house: Powered, age_s: int, is_known: bool
) -> None:
    """Three intervals of 10 s, and the 30 s of the alarm."""
    house.eggs()
    house.say(MAINS, 0, START_MS, START_MS, SECOND_MS)
    found = {each.subject: each for each in look(house, START_MS + age_s * SECOND_MS)}
    assert found["mains"].known is is_known


@pytest.mark.parametrize(("channel", "value"), [(MAINS, 1), (DOOR, 1), (DOOR, 0)])
def test_an_old_word_of_any_other_kind_says_nothing(house: Powered, channel: str, value: float) -> None:
    """Three intervals: 30 s of the mains contact, 3 min of the door. One ms less is fresh."""
    house.eggs()
    house.say(channel, value, START_MS, START_MS, SECOND_MS)
    window_ms = 30 * SECOND_MS if channel == MAINS else 3 * MINUTE_MS
    subject = "mains" if channel == MAINS else "north"
    kind = LOST if channel == MAINS else OPEN
    for at_ms, silent in ((window_ms - 1, False), (window_ms, True)):
        found = [each for each in look(house, START_MS + at_ms) if (each.kind, each.subject) == (kind, subject)]
        assert [each for each in found if not each.known] == ([found[0]] if silent else [])
        assert known(found) == ([] if silent or value == 0 or channel == MAINS else found)


def test_a_suspect_reading_says_nothing_and_the_good_one_before_it_counts(house: Powered) -> None:
    house.eggs()
    house.say(DOOR, 1, START_MS, START_MS, SECOND_MS)
    house.say(DOOR, 0, START_MS + MINUTE_MS, START_MS + MINUTE_MS, SECOND_MS, Quality.OUT_OF_RANGE)
    assert [each.kind for each in known(look(house, START_MS + MINUTE_MS))] == [OPEN]


def test_a_reading_from_before_a_clock_was_set_back_does_not_hold_the_present_up(house: Powered) -> None:
    house.eggs()
    house.say(DOOR, 1, START_MS + HOUR_MS, START_MS + HOUR_MS, SECOND_MS)
    house.say(DOOR, 0, START_MS, START_MS + MINUTE_MS, MINUTE_MS)
    assert known(look(house, START_MS + MINUTE_MS)) == []


def test_every_contact_is_told_apart_and_one_that_is_silent_is_unknown() -> None:
    contacts = [
        Contact("a/m", Quantity.MAINS, "", 1.0),
        Contact("b/m", Quantity.MAINS, "north", None),
        Contact("c/d", Quantity.DOOR, "north", 0.0),
        Contact("d/d", Quantity.DOOR, "south", 1.0, START_MS),
    ]
    found = list(contact_alarms(contacts))
    assert [(each.kind, each.subject, each.known) for each in found] == [(LOST, "north", False), (OPEN, "south", True)]


@given(st.lists(st.tuples(st.integers(1, 40), st.sampled_from([0.0, 1.0])), max_size=30), st.sampled_from([0.0, 1.0]))
def test_a_run_is_all_of_one_state_without_a_gap_and_cannot_be_made_longer(
    steps: list[tuple[int, float]], state: float
) -> None:
    moments = [sum(step for step, _ in steps[: number + 1]) for number in range(len(steps))]
    readings = [(at_ms, value) for at_ms, (_, value) in zip(moments, steps, strict=True)]
    since_ms = run_since_ms(readings, state, 30)
    if since_ms is None:
        assert not readings or readings[-1][1] != state
        return
    inside = [each for each in readings if each[0] >= since_ms]
    assert all(value == state for _, value in inside)
    assert all(later - earlier <= 30 for (earlier, _), (later, _) in pairwise(inside))
    before = [each for each in readings if each[0] < since_ms]
    assert not before or before[-1][1] != state or since_ms - before[-1][0] > 30
