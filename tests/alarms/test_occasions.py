"""When something regular is due. Expected moments are the IANA rules of the zones, worked out by hand."""

import itertools
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daemon.alarms.occasions import DAYS, Occasion, is_to_be_sent, newest_daily, newest_weekly

HOUR_MS = 3_600_000
DAY_MS = 24 * HOUR_MS
VIENNA = ZoneInfo("Europe/Vienna")
ZONES = ("UTC", "Europe/Vienna", "America/New_York", "Australia/Lord_Howe", "Asia/Kathmandu", "America/St_Johns")


def utc_ms(text: str) -> int:
    return round(datetime.fromisoformat(text).replace(tzinfo=UTC).timestamp() * 1000)


@pytest.mark.parametrize(
    ("now", "name", "due"),
    [
        # Sunday 29 November 2026 is in ISO week 48; 18:00 CET is 17:00 UTC.
        ("2026-11-29T17:00:00", "2026-W48", "2026-11-29T17:00:00"),
        ("2026-11-29T16:59:59", "2026-W47", "2026-11-22T17:00:00"),
        ("2026-12-06T16:59:59", "2026-W48", "2026-11-29T17:00:00"),
        # 3 January 2027 is a Sunday of the 53rd week of 2026; in summer 18:00 CEST is 16:00 UTC.
        ("2027-01-03T20:00:00", "2026-W53", "2027-01-03T17:00:00"),
        ("2026-07-05T16:00:00", "2026-W27", "2026-07-05T16:00:00"),
    ],
)
def test_the_weekly_moment_is_local_and_named_by_its_week(now: str, name: str, due: str) -> None:
    assert newest_weekly(utc_ms(now), "sunday", time(18, 0), VIENNA) == Occasion(name, utc_ms(due))


@pytest.mark.parametrize(
    ("at", "zone", "day", "due"),
    [
        # 29 March 2026: from 02:00 CET on it is 03:00 CEST, so 02:30 is left out: 01:30 UTC, as CET goes on.
        (time(2, 30), "Europe/Vienna", "2026-03-29", "2026-03-29T01:30:00"),
        # 25 October 2026: 02:30 comes twice, at 00:30 and at 01:30 UTC: the first counts.
        (time(2, 30), "Europe/Vienna", "2026-10-25", "2026-10-25T00:30:00"),
        # 8 March 2026 in New York: 02:30 is left out, EST is UTC-5.
        (time(2, 30), "America/New_York", "2026-03-08", "2026-03-08T07:30:00"),
    ],
)
def test_a_time_that_is_left_out_or_comes_twice_is_one_moment(at: time, zone: str, day: str, due: str) -> None:
    found = newest_daily(utc_ms(due) + 2 * HOUR_MS, at, ZoneInfo(zone))
    assert found == Occasion(day, utc_ms(due))


@pytest.mark.parametrize("zone", ZONES)
@pytest.mark.parametrize("at", [time(0, 0), time(2, 30), time(18, 0)])
def test_of_a_year_looked_at_every_two_hours_each_week_has_one_and_each_day_has_one(zone: str, at: time) -> None:
    start_ms, end_ms = utc_ms("2026-01-01T00:00:00"), utc_ms("2027-01-01T00:00:00")
    weeks: dict[str, int] = {}
    days: dict[str, int] = {}
    for now_ms in range(start_ms, end_ms, 2 * HOUR_MS):
        for found, seen in (
            (newest_weekly(now_ms, "sunday", at, ZoneInfo(zone)), weeks),
            (newest_daily(now_ms, at, ZoneInfo(zone)), days),
        ):
            assert found.due_ms <= now_ms
            assert seen.setdefault(found.name, found.due_ms) == found.due_ms
    assert len(weeks) in (52, 53)
    assert len(days) in (365, 366)
    moments = sorted(weeks.values())
    assert all(abs(after - before - 7 * DAY_MS) <= HOUR_MS for before, after in itertools.pairwise(moments))
    by_day = sorted(days.values())
    assert all(abs(after - before - DAY_MS) <= HOUR_MS for before, after in itertools.pairwise(by_day))


@settings(max_examples=300, deadline=None)
@given(
    st.integers(utc_ms("1990-01-01T00:00:00"), utc_ms("2035-01-01T00:00:00")),
    st.sampled_from(DAYS),
    st.times().map(lambda each: each.replace(second=0, microsecond=0, fold=0)),
    st.sampled_from(ZONES),
)
def test_the_newest_is_never_ahead_never_older_than_a_week_and_on_the_day(
    now_ms: int, day: str, at: time, zone: str
) -> None:
    found = newest_weekly(now_ms, day, at, ZoneInfo(zone))
    assert 0 <= now_ms - found.due_ms < 7 * DAY_MS + 2 * HOUR_MS
    year, week = found.name.split("-W")
    local = datetime.fromtimestamp(found.due_ms / 1000, UTC).astimezone(ZoneInfo(zone))
    stated = date.fromisocalendar(int(year), int(week), DAYS.index(day) + 1)
    # A time of day that is left out shortly before midnight would fall on the next day.
    assert stated <= local.date() <= stated + timedelta(days=1)


def test_moving_the_day_within_a_week_gives_no_second_one() -> None:
    friday_ms = utc_ms("2026-11-27T12:00:00")
    monday = newest_weekly(friday_ms, "monday", time(9), VIENNA)
    assert newest_weekly(friday_ms, "friday", time(9), VIENNA).name == monday.name == "2026-W48"


@pytest.mark.parametrize(
    ("now_ms", "from_ms", "sent"),
    [(1_000, 0, True), (1_000, 1_001, False), (999, 0, False), (1_499, 0, True), (1_500, 0, False)],
)
def test_it_is_sent_from_its_moment_on_unless_it_is_too_late_or_fell_before_what_counts(
    now_ms: int, from_ms: int, sent: bool
) -> None:
    assert is_to_be_sent(Occasion("x", 1_000), now_ms, from_ms, 500) is sent
