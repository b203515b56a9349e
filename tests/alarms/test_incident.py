"""One incident, one message. X-33: all probes leave their range within a minute, and nobody gets more than 2 messages.

The published figures of an alarm flood are those of ISA-18.2-2016, 16.4.4, and of the UK HSE's Chemicals Sheet 6: no
more than 10 alarms in the first ten minutes of an upset. Those of this project are smaller.
"""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from config.words import Priority
from daemon.alarms import incident_store
from daemon.alarms.classes import MINUTE_MS, Mode
from daemon.alarms.folding import AlarmOn, Role
from daemon.alarms.incident import FLOOD, Incident, IncidentBook, Outcome, arrive, leave, priority_of
from daemon.alarms.state_json import StateError
from tests.alarms.machine import START_MS
from tests.alarms.steady import steady


class Site:
    """The alarms that are on at a site, and the calls that people get."""

    def __init__(self) -> None:
        self.book = IncidentBook()
        self.on: dict[str, AlarmOn] = {}
        self.now_ms = START_MS
        self.calls: list[tuple[int, tuple[str, ...]]] = []
        self.calling: dict[str, Priority] = {}
        self.next_ms: int | None = None

    def raise_(self, *alarms: AlarmOn) -> Outcome:
        self.on |= {each.key: replace(each, since_ms=self.now_ms) for each in alarms}
        return self._arrive([each.key for each in alarms])

    def again(self, key: str) -> Outcome:
        return self._arrive([key])

    def wait(self, seconds: float) -> "Site":
        """Let time go on, with a look at every moment that was asked for."""
        end_ms = self.now_ms + round(seconds * 1000)
        while self.next_ms is not None and self.next_ms <= end_ms:
            self.now_ms = self.next_ms
            self._arrive([])
        self.now_ms = end_ms
        return self

    def over(self, key: str) -> str:
        self.on.pop(key)
        self.book, ended = leave(self.book, key, self.on)
        return ended

    def _arrive(self, keys: list[str]) -> Outcome:
        after = arrive(self.book, keys, self.on, self.now_ms, self.calling)
        assert after.reason
        assert incident_store.from_json(incident_store.to_json(after.book)) == after.book
        self.book, self.next_ms = after.book, after.next_ms
        gone = {ended for ended, _ in after.merged}
        begun = {each.id: priority_of(each, self.on) for each in after.book.incidents if each.id in after.announced}
        self.calling = {name: each for name, each in (self.calling | begun).items() if name not in gone}
        if after.announced:
            self.calls.append((self.now_ms - START_MS, after.announced))
        return after

    @property
    def members(self) -> list[tuple[str, ...]]:
        return [each.members for each in self.book.incidents]


def alarm(key: str, role: Role = Role.HUMIDITY, priority: Priority = Priority.LOW, place: str = "") -> AlarmOn:
    may = frozenset[Mode]() if priority is Priority.CRITICAL else frozenset({Mode.CAUSE, Mode.WORSE})
    return AlarmOn(key, role, priority, 0, "north", place or key, key, may)


def high(number: int) -> AlarmOn:
    return alarm(f"high{number}", Role.HIGH, Priority.HIGH)


def lethal(number: int) -> AlarmOn:
    return alarm(f"lethal{number}", Role.LETHAL_HIGH, Priority.CRITICAL)


MAINS = AlarmOn("mains", Role.MAINS_LOST, Priority.CRITICAL, 0)


def test_the_first_alarm_is_told_at_once() -> None:
    site = Site()
    after = site.raise_(high(1))
    assert after.announced == (f"high1@{START_MS}",)
    assert site.next_ms is None


def test_all_that_comes_in_one_evaluation_is_one_call() -> None:
    site = Site()
    site.raise_(high(1), high(2))
    assert [len(ids) for _, ids in site.calls] == [2]


@pytest.mark.parametrize("apart_s", [60 / 63, 0.1, 0.0])
def test_all_probes_out_of_range_within_a_minute_are_two_messages_at_most(apart_s: float) -> None:
    """X-33."""
    for make in (high, lethal):
        site = Site()
        for number in range(64):
            site.raise_(make(number))
            site.wait(apart_s)
        site.wait(600)
        assert len(site.calls) <= 2
        assert {key for members in site.members for key in members} == set(site.on)
        assert len([each for each in site.book.incidents if each.is_flood]) == 1
        assert len(site.book.incidents) == 1


def test_a_flood_takes_the_incident_that_it_began_with_along() -> None:
    site = Site()
    site.raise_(high(0))
    for number in range(1, FLOOD + 2):
        site.wait(5).raise_(high(number))
    site.wait(60)
    (flood,) = site.book.incidents
    assert flood.is_flood
    assert len(flood.members) == FLOOD + 2


def test_an_acknowledged_incident_is_left_out_of_a_flood() -> None:
    site = Site()
    site.raise_(high(0))
    site.calling.clear()
    for number in range(1, FLOOD + 2):
        site.wait(5).raise_(high(number))
    site.wait(60)
    assert sorted(len(each) for each in site.members) == [1, FLOOD + 1]


def test_a_few_alarms_stay_incidents_of_their_own() -> None:
    site = Site()
    for number in range(FLOOD):
        site.raise_(high(number))
        site.wait(120)
    assert site.members == [("high0",), ("high1",), ("high2",)]
    assert [at_ms // 1000 for at_ms, _ in site.calls] == [0, 120, 240]


def test_a_lethal_limit_does_not_wait_for_a_warning_that_was_just_told() -> None:
    site = Site()
    site.raise_(high(1))
    after = site.wait(1).raise_(lethal(2))
    assert after.announced == (f"lethal2@{START_MS + 1000}",)


def test_a_lethal_limit_is_never_a_part_of_another_incident() -> None:
    """X-18: mains lost with all that follows, and the lethal limit speaks for itself."""
    site = Site()
    cold = alarm("lethal", Role.LETHAL_LOW, Priority.CRITICAL)
    site.raise_(MAINS)
    site.wait(600).raise_(alarm("low", Role.LOW), cold)
    assert ("lethal",) in site.members
    for number in range(20):
        site.wait(10).raise_(high(number))
    site.wait(600)
    assert all(each.is_lethal == ("lethal" in each.members) for each in site.book.incidents)


def test_mains_lost_tells_one_message_and_folds_what_follows() -> None:
    """X-18, and at most 2 messages in the first ten minutes."""
    site = Site()
    site.raise_(MAINS)
    site.wait(90)
    after = site.raise_(*(alarm(f"silent{number}", Role.NO_DATA, Priority.HIGH) for number in range(64)))
    assert after.announced == ()
    assert after.grown == (f"mains@{START_MS}",)
    assert {each.mode for each in after.folds.values()} == {Mode.CAUSE}
    site.wait(30).raise_(alarm("low", Role.LOW))
    assert len(site.calls) == 1
    assert len(site.book.incidents[0].members) == 66


def test_what_may_not_be_suppressed_calls_again_once_somebody_has_acknowledged() -> None:
    site = Site()
    site.raise_(MAINS)
    last = alarm("last", Role.NO_DATA, Priority.CRITICAL)
    assert site.wait(90).raise_(last).announced == ()
    site.calling.clear()
    other = alarm("other", Role.NO_DATA, Priority.CRITICAL)
    assert site.wait(90).raise_(other).announced == (f"mains@{START_MS}",)


def test_a_cause_that_comes_last_takes_over_what_was_told_before() -> None:
    site = Site()
    site.raise_(alarm("silent1", Role.NO_DATA, Priority.HIGH))
    site.wait(70).raise_(alarm("silent2", Role.NO_DATA, Priority.HIGH))
    after = site.wait(30).raise_(MAINS)
    ids = {f"silent1@{START_MS}", f"silent2@{START_MS + 70_000}"}
    assert {ended for ended, _ in after.merged} == ids
    assert {into for _, into in after.merged} == set(after.announced)
    (incident,) = site.book.incidents
    assert (incident.leader, set(incident.members)) == ("mains", {"mains", "silent1", "silent2"})


def test_an_alarm_that_is_on_again_calls_its_own_incident() -> None:
    site = Site()
    site.raise_(high(1), high(2))
    after = site.wait(1800).again("high2")
    assert after.announced == (f"high2@{START_MS}",)
    assert len(site.book.incidents) == 2


def test_an_alarm_that_ends_while_it_waits_is_not_told() -> None:
    site = Site()
    site.raise_(high(1))
    site.wait(5).raise_(high(2))
    site.over("high2")
    site.wait(120)
    assert len(site.calls) == 1


def test_an_incident_ends_with_its_last_alarm_and_gets_a_new_leader_before() -> None:
    site = Site()
    site.raise_(MAINS, alarm("silent", Role.NO_DATA, Priority.HIGH), alarm("low", Role.LOW))
    assert site.over("mains") == ""
    (incident,) = site.book.incidents
    assert incident.leader == "silent"
    assert priority_of(incident, site.on) is Priority.HIGH
    assert site.over("silent") == ""
    assert site.over("low") == f"mains@{START_MS}"
    assert site.book.incidents == ()
    assert priority_of(incident, site.on) is Priority.LOW


def test_an_alarm_that_is_in_no_incident_leaves_without_a_word() -> None:
    site = Site()
    assert leave(site.book, "x", {}) == (site.book, "")


def test_a_flood_that_is_over_ten_minutes_later_starts_anew() -> None:
    site = Site()
    site.raise_(*(high(number) for number in range(5)))
    site.wait(11 * 60).raise_(high(9))
    assert [each.is_flood for each in site.book.incidents] == [True, False]


NAMES = st.integers(0, 11)


@given(
    st.lists(st.tuples(NAMES, st.sampled_from(["on", "over", "again"]), st.sampled_from([0, 1, 20, 59, 60, 61, 700])))
)
@steady
def test_no_alarm_is_lost_or_held_longer_than_the_longest_gathering(steps: list[tuple[int, str, int]]) -> None:
    """Every alarm that is on is in exactly one incident, or waits for a moment that is known and near."""
    makers = (high, lethal, lambda number: alarm(f"silent{number}", Role.NO_DATA, Priority.HIGH), lambda _: MAINS)
    site = Site()
    for number, what, seconds in steps:
        made = makers[number % 4](number)
        if what == "on" and made.key not in site.on:
            site.raise_(made)
        elif what == "over" and made.key in site.on:
            site.over(made.key)
        elif what == "again" and made.key in site.on:
            site.again(made.key)
        placed = [key for members in site.members for key in members]
        assert len(placed) == len(set(placed))
        assert set(placed) | set(site.book.waiting) == set(site.on)
        assert all(each.leader in each.members for each in site.book.incidents)
        if site.book.waiting:
            assert site.next_ms is not None
            assert site.next_ms <= site.now_ms + 5 * MINUTE_MS
        site.wait(seconds)
    site.wait(600)
    assert site.book.waiting == ()


@pytest.mark.parametrize(
    "text",
    [
        "{}",
        '{"incidents":[],"waiting":[1],"called_ms":null,"called_critical_ms":null,"opened":[]}',
        '{"incidents":[],"waiting":[],"called_ms":null,"called_critical_ms":null,"opened":[true]}',
        '{"incidents":[{}],"waiting":[],"called_ms":null,"called_critical_ms":null,"opened":[]}',
    ],
)
def test_a_book_that_is_not_as_written_is_refused(text: str) -> None:
    with pytest.raises(StateError):
        incident_store.from_json(text)


def test_an_incident_without_its_leader_is_refused() -> None:
    book = IncidentBook((Incident("a@1", 1, "a", ("b",)),))
    with pytest.raises(StateError, match="leader"):
        incident_store.from_json(incident_store.to_json(book))
