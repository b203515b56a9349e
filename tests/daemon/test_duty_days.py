"""Who is called on each of the next days: nothing left out, over changes of the clock as well."""

from datetime import date, datetime
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daemon.alarms.people import Absence, Contact, Duty, Person, Rota, on_duty
from daemon.duty_days import DAYS_AHEAD, days_ahead

BERLIN = ZoneInfo("Europe/Berlin")
HOUR_MS = 3_600_000
PEOPLE = tuple(Person(each, each.capitalize(), (Contact(f"{each}/0"),)) for each in ("ana", "ben", "cleo"))


def ms(local: str) -> int:
    return round(datetime.fromisoformat(local).replace(tzinfo=BERLIN).timestamp() * 1000)


NOW_MS = ms("2026-03-27T15:30")


def rota(duties: tuple[Duty, ...] = (), absences: tuple[Absence, ...] = ()) -> Rota:
    return Rota(PEOPLE, ("ana", "ben"), duties, absences)


def test_a_calm_day_has_one_line_and_today_begins_now() -> None:
    days = days_ahead(rota(), NOW_MS, BERLIN)
    assert len(days) == DAYS_AHEAD
    assert days[0].day == date(2026, 3, 27)
    assert [len(each.stretches) for each in days] == [1] * DAYS_AHEAD
    [today] = days[0].stretches
    assert (today.start_ms, today.first, today.second) == (NOW_MS, "Ana", "Ben")


def test_the_day_on_which_the_clocks_go_forward_has_23_hours_and_the_other_25() -> None:
    spring = days_ahead(rota(), NOW_MS, BERLIN)[2].stretches[0]
    assert spring.end_ms - spring.start_ms == 23 * HOUR_MS
    autumn = days_ahead(rota(), ms("2026-10-24T12:00"), BERLIN)[1].stretches[0]
    assert autumn.end_ms - autumn.start_ms == 25 * HOUR_MS


def test_a_duty_counts_when_it_is_accepted_and_is_told_as_planned_before() -> None:
    start, end = ms("2026-03-28T09:00"), ms("2026-03-29T12:00")
    planned = days_ahead(rota((Duty("ben", start, end),)), NOW_MS, BERLIN)[1].stretches
    assert [(each.first, each.planned) for each in planned] == [("Ana", ""), ("Ana", "Ben")]
    accepted = days_ahead(rota((Duty("ben", start, end, "cleo", NOW_MS - 1),)), NOW_MS, BERLIN)[1].stretches
    assert [(each.first, each.second) for each in accepted] == [("Ana", "Ben"), ("Ben", "Cleo")]
    assert accepted[1].start_ms == start


def test_an_absence_is_told_from_its_begin_to_its_end() -> None:
    away = Absence("ana", ms("2026-03-28T06:00"), ms("2026-03-28T18:00"))
    day = days_ahead(rota(absences=(away,)), NOW_MS, BERLIN)[1].stretches
    assert [(each.first, each.away) for each in day] == [("Ana", ()), ("Ben", ("Ana",)), ("Ana", ())]


moments = st.integers(NOW_MS - 20 * 24 * HOUR_MS, NOW_MS + 20 * 24 * HOUR_MS)
names = st.sampled_from(["ana", "ben", "cleo"])


@st.composite
def duties(draw: st.DrawFn) -> Duty:
    start = draw(moments)
    end = draw(st.none() | st.integers(start + 1, start + 10 * 24 * HOUR_MS))
    return Duty(draw(names), start, end, draw(st.just("") | names), draw(st.none() | moments))


@st.composite
def absences(draw: st.DrawFn) -> Absence:
    start = draw(moments)
    return Absence(draw(names), start, draw(st.integers(start + 1, start + 10 * 24 * HOUR_MS)))


@given(st.lists(duties(), max_size=4), st.lists(absences(), max_size=4), moments)
def test_the_stretches_leave_no_gap_and_agree_with_who_is_called_at_any_moment_that_is_planned(
    planned: list[Duty], away: list[Absence], asked_ms: int
) -> None:
    whole = rota(tuple(planned), tuple(away))
    stretches = [each for day in days_ahead(whole, NOW_MS, BERLIN) for each in day.stretches]
    assert stretches[0].start_ms == NOW_MS
    assert all(one.end_ms == other.start_ms for one, other in pairwise(stretches))
    for each in stretches:
        if each.start_ms <= asked_ms < each.end_ms and all(
            duty.accepted_ms is None or duty.accepted_ms <= NOW_MS for duty in planned
        ):
            order = [person.name for person in on_duty(whole, asked_ms).order]
            assert [each.first, each.second] == [*order, "", ""][:2]


def test_nobody_is_told_as_nobody() -> None:
    [first, *_] = days_ahead(Rota((), ()), NOW_MS, BERLIN)[0].stretches
    assert (first.first, first.second, first.away) == ("", "", ())


@pytest.mark.parametrize("count", [1, 14])
def test_as_many_days_as_were_asked_for(count: int) -> None:
    assert len(days_ahead(rota(), NOW_MS, BERLIN, count)) == count
