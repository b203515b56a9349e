"""Who is called by the alarm desk where alarms join, come back, end early or follow from each other.

When a rung is due is the ladder's table of this project: priority 1 after 0, 2, 5, 10 and 30 minutes, priority 2 after
0, 2, 5, 10 and 30; reminders after half an hour and after two hours. Ana is the first person, Ben the second, and the
vet the emergency contact.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from config.words import AlarmKind, Priority
from daemon.alarms.conditions import Change
from daemon.alarms.events import Why
from daemon.alarms.ladder import LadderPace
from tests.alarms.steady import steady
from tests.daemon.called import House, change

AIR = "p1/air"
FAULT, SILENT, LONG = AlarmKind.PROBE_FAULT, AlarmKind.NO_DATA, AlarmKind.NO_DATA_LONG
LETHAL, MAINS = AlarmKind.TEMPERATURE_LETHAL_HIGH, AlarmKind.MAINS_LOST
BROKER, ALL_SILENT, LAST = AlarmKind.BROKER_LOST, AlarmKind.SITE_SILENT, AlarmKind.LAST_PROBE_SILENT


@pytest.fixture
def house() -> House:
    return House()


def test_a_critical_alarm_that_joins_a_check_is_called_at_once_and_climbs(house: House) -> None:
    house.on(FAULT).until(30).on(LONG).until(61)
    assert house.people(f"{FAULT}:{AIR}") == [(0.0, "ana")]
    called = [each for each in house.people(f"{LONG}:{AIR}") if each[0] < 41]
    assert called == [(30.0, "ana"), (32.0, "ana"), (35.0, "ben"), (40.0, "ana"), (40.0, "ben")]
    assert (60.0, "vet") in house.people()
    assert house.ladder().priority is Priority.CRITICAL


def test_an_urgent_alarm_that_joins_a_check_waits_for_the_minute_of_gathering_only(house: House) -> None:
    low, falling = AlarmKind.TEMPERATURE_LOW, AlarmKind.TEMPERATURE_FALLING
    house.on(low).until(0.5).on(falling).until(12)
    assert house.people(f"{falling}:{AIR}") == [(1.0, "ana"), (3.0, "ana"), (6.0, "ana"), (11.0, "ben")]


def test_a_site_that_falls_silent_after_the_broker_calls_at_the_pace_of_the_critical_one(house: House) -> None:
    house.on(BROKER, subject="broker").until(2).on(ALL_SILENT, subject="site").until(33)
    assert (2.0, "ana") in house.people(f"{ALL_SILENT}:site")
    assert (7.0, "ben") in house.people(f"{ALL_SILENT}:site")
    assert (32.0, "vet") in house.people()


def test_what_joins_and_is_less_urgent_leaves_the_ladder_as_it_is(house: House) -> None:
    house.on(ALL_SILENT, subject="site").until(7)
    before = house.ladder()
    house.on(SILENT)
    assert house.ladder() == before


def test_a_critical_alarm_that_comes_and_goes_reaches_everybody(house: House) -> None:
    """A minute on, 40 s off, for three hours: the rungs are those of an alarm that stays, at most one step late."""
    for number in range(108):
        at = number * 100 / 60
        house.until(at).on(LAST, subject="north").until(at + 1).off(LAST, subject="north")
    called = house.people()
    first = {who: min(at for at, each in called if each == who) for who in ("ana", "ben", "vet")}
    assert first["ana"] == 0
    assert 5 <= first["ben"] <= 7
    assert 30 <= first["vet"] <= 32
    assert len([each for each in called if each[1] == "ana"]) <= 3 + 180 // 5
    last = max(at for at, _ in called)
    assert last > 170
    # every message that it is over answers a call
    over = [at for at, each in house.told if each.person == "ana"]
    assert len(over) <= len({at for at, _ in called})


def test_an_urgent_alarm_that_comes_back_after_a_while_is_called_at_once(house: House) -> None:
    """The last rung comes every half hour; whoever has heard that it is over does not wait for that."""
    house.on(SILENT).until(61).off(SILENT).until(75).on(SILENT).until(76)
    assert {(75.0, "ana"), (75.0, "ben")} <= set(house.people())


def test_a_call_that_comes_back_after_the_acknowledgement_begins_at_the_first_rung(house: House) -> None:
    house.on(LETHAL).until(6).acknowledge(f"{LETHAL}:{AIR}").until(10).off(LETHAL).until(20)
    before = len(house.calls)
    house.on(LETHAL).until(26)
    assert house.people()[before:] == [(20.0, "ana"), (22.0, "ana"), (25.0, "ben")]


def test_a_suppressed_member_that_gets_another_cause_calls_nobody_anew(house: House) -> None:
    house.on(MAINS, subject="mains").until(1).on(LAST, subject="north").on(SILENT).until(9)
    started_ms = house.ladder().started_ms
    house.off(MAINS, subject="mains").until(9.5)
    assert house.ladder().started_ms == started_ms
    assert max(at for at, _ in house.people()) < 9


def test_what_is_over_does_not_give_the_headline_while_something_is_on(house: House) -> None:
    house.on(MAINS, subject="mains").until(1).on(LAST, subject="north").until(8).off(MAINS, subject="mains").until(11)
    assert [each.lead for at, each in house.calls if at > 8] == [f"{LAST}:north"] * 2


def test_an_excursion_that_was_over_when_it_was_found_is_reminded_of(house: House) -> None:
    """It began and ended between two looks: one message that it is over, then a reminder every half hour."""
    house.until(1).take([change(LETHAL, 0.2, Change.RAISED), change(LETHAL, 0.8, Change.CLEARED)])
    assert [(at, each.why, each.person) for at, each in house.told] == [(1.0, Why.RETURNED, "ana")]
    assert house.ladder().pace is LadderPace.REMIND
    house.until(92)
    assert [(at, each.rung) for at, each in house.calls] == [(31.0, 0), (61.0, 0), (91.0, 0)]
    house.acknowledge(f"{LETHAL}:{AIR}").until(200)
    assert len(house.calls) == 3


def test_one_that_had_been_acknowledged_is_reminded_of_after_another_short_excursion(house: House) -> None:
    house.on(LETHAL).until(1).acknowledge(f"{LETHAL}:{AIR}").until(2).off(LETHAL).until(60)
    house.take([change(LETHAL, 59.2, Change.RAISED), change(LETHAL, 59.8, Change.CLEARED)]).until(95)
    assert [(at, each.rung) for at, each in house.calls if at > 2] == [(90.0, 0)]


def test_one_acknowledgement_leaves_the_reminders_of_what_else_waits(house: House) -> None:
    house.on(MAINS, subject="mains").until(1).on(LAST, subject="north").until(8).off(MAINS, subject="mains")
    house.until(9).acknowledge(f"{LAST}:north").until(10).off(LAST, subject="north").until(40)
    assert [(at, each.rung, each.lead) for at, each in house.calls if at > 9] == [
        (39.0, 0, f"{MAINS}:mains"),
        (39.0, 0, f"{MAINS}:mains"),
    ]
    house.acknowledge(f"{MAINS}:mains").until(120)
    assert max(at for at, _ in house.people()) < 40


def test_an_alarm_that_is_over_while_it_is_gathered_is_told_as_over_alone(house: House) -> None:
    house.on(LETHAL).until(0.2).on(SILENT, subject="p2/air").until(0.6).off(SILENT, subject="p2/air")
    about = f"{SILENT}:p2/air"
    assert [each.why for _, each in house.told if each.key == about] == [Why.RETURNED]
    assert house.desk.book.waiting == ()
    house.until(110)
    assert house.people(about) == []
    assert all(about not in each.others or each.rung == 0 for _, each in house.calls)
    # nobody has acknowledged it: the reminder of its priority
    assert [each.pace for name, each in house.desk.ladders.items() if name.startswith(about)] == [LadderPace.REMIND]


def test_an_alarm_that_is_acknowledged_while_it_is_gathered_calls_nobody(house: House) -> None:
    house.on(LETHAL).until(0.2).on(SILENT, subject="p2/air").acknowledge(f"{SILENT}:p2/air").until(40)
    assert house.people(f"{SILENT}:p2/air") == []
    assert house.desk.book.holding(f"{SILENT}:p2/air") is not None


def test_a_cause_that_is_found_later_goes_on_with_the_ladder_and_the_name_of_the_incident(house: House) -> None:
    house.on(ALL_SILENT, subject="site")
    (name,) = house.desk.ladders
    house.until(1).on(BROKER, subject="broker").until(6)
    assert house.people() == [(0.0, "ana"), (2.0, "ana"), (5.0, "ben")]
    assert list(house.desk.ladders) == [name]
    (incident,) = house.desk.book.incidents
    assert (incident.id, incident.leader) == (name, f"{BROKER}:broker")


def test_a_more_urgent_cause_that_is_found_later_is_called_and_keeps_who_was_told(house: House) -> None:
    house.on(SILENT).until(10).on(MAINS, subject="mains")
    assert house.people(f"{MAINS}:mains") == [(10.0, "ana")]
    assert set(house.ladder().told) == {"ana", "ben"}


def test_a_cause_of_the_same_priority_goes_on_where_its_consequence_had_got_to(house: House) -> None:
    """The silence is held back once the broker is known to be lost; that nobody has acknowledged goes on counting."""
    house.on(SILENT).until(9).on(BROKER, subject="broker").until(31)
    assert house.people(f"{BROKER}:broker") == [(9.0, "ana"), (10.0, "ben"), (30.0, "ana"), (30.0, "ben")]
    assert house.ladder().told == ("ana", "ben")


def test_a_cause_of_what_somebody_had_acknowledged_begins_at_the_first_rung(house: House) -> None:
    house.on(SILENT).until(6).acknowledge(f"{SILENT}:{AIR}").until(9).on(BROKER, subject="broker").until(20)
    assert house.people(f"{BROKER}:broker") == [(9.0, "ana"), (11.0, "ana"), (14.0, "ana"), (19.0, "ben")]


def test_alarms_of_a_flood_are_called_though_the_first_of_them_was(house: House) -> None:
    house.on(SILENT, subject="p0/air").until(0.3)
    for number in range(1, 5):
        house.on(SILENT, subject=f"p{number}/air")
    house.until(1.1)
    at, call = house.calls[-1]
    assert 1 <= at < 1.2
    assert len({call.lead, *call.others}) == 5


def test_a_probe_that_is_silent_for_long_is_one_incident_with_its_silence(house: House) -> None:
    house.until(3).take([change(SILENT, 3, Change.RAISED, since=0)])
    house.until(30).take([change(LONG, 30, Change.RAISED, since=0)]).until(31)
    (incident,) = house.desk.book.incidents
    assert set(incident.members) == {f"{SILENT}:{AIR}", f"{LONG}:{AIR}"}
    assert house.people(f"{LONG}:{AIR}") == [(30.0, "ana")]
    assert house.desk.entries[f"{SILENT}:{AIR}"].state.shown == "unacknowledged"


def test_the_silence_of_another_probe_is_an_incident_of_its_own(house: House) -> None:
    house.on(SILENT).until(11).on(LONG, subject="p2/air").until(12)
    assert len(house.desk.book.incidents) == 2


def test_an_emergency_contact_who_was_called_hears_of_the_acknowledgement_and_of_the_end(house: House) -> None:
    house.on(LETHAL).until(31).acknowledge(f"{LETHAL}:{AIR}", "ana")
    assert {each.person for _, each in house.told if each.why is Why.TAKEN} == {"ben", "vet"}
    house.until(35).off(LETHAL)
    assert {each.person for _, each in house.told if each.why is Why.CLEARED} == {"ana", "ben", "vet"}


@given(st.lists(st.tuples(st.sampled_from([0.5, 1, 3, 6, 20]), st.sampled_from([0.5, 1, 4, 6, 40])), max_size=8))
@steady
def test_however_a_critical_alarm_comes_and_goes_somebody_is_called_within_five_minutes(
    spells: list[tuple[float, float]],
) -> None:
    """The widest gap between two rungs of priority 1 is five minutes; a look every ten seconds adds one of these."""
    house = House()
    for on_for, off_for in spells:
        began = house.minutes
        house.on(LAST, subject="north").until(began + on_for).off(LAST, subject="north")
        heard = [at for at, _ in house.people() if at <= round(began + on_for, 1)]
        assert house.minutes - max(heard) <= 5.3
        assert house.told[-1][0] >= max(heard)
        house.until(house.minutes + off_for)


@given(st.permutations([SILENT, LONG, FAULT, LAST, MAINS, BROKER, ALL_SILENT]), st.sampled_from([0, 0.2, 2, 9]))
@steady
def test_in_whatever_order_alarms_join_the_most_urgent_is_called(kinds: list[AlarmKind], apart: float) -> None:
    """One who does not answer is called for a critical alarm within two minutes, and the second after six at most."""
    subjects = {MAINS: "mains", BROKER: "broker", ALL_SILENT: "site", LAST: "north"}
    house = House()
    critical: float | None = None
    for kind in kinds:
        house.on(kind, subject=subjects.get(kind, AIR))
        if critical is None and kind in (LONG, LAST, MAINS, ALL_SILENT):
            critical = house.minutes
        house.until(house.minutes + apart)
    assert critical is not None
    house.until(max(house.minutes, critical + 8))
    urgent = [(at, each.person) for at, each in house.calls if house.desk.entries[each.lead].alarm.priority == 1]
    assert min(at for at, _ in urgent) <= critical + 1.3
    assert min(at for at, who in urgent if who == "ben") <= critical + 6.4
    assert all(name in {each.id for each in house.desk.book.incidents} for name in house.desk.ladders)
