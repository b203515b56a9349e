"""Which backups stay: hand-made calendars, and properties over any history."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from hypothesis import given
from hypothesis import strategies as st

from daemon.backups.keeping import Dated, Kept, to_remove

MADRID = ZoneInfo("Europe/Madrid")
DAY_MS = 86_400_000
KEPT = Kept(days=3, weeks=2, months=2)


def at(text: str) -> Dated:
    moment = datetime.fromisoformat(text).replace(tzinfo=MADRID)
    return Dated(text, round(moment.timestamp() * 1000))


def staying(backups: list[Dated], kept: Kept = KEPT, now: str = "2027-01-01T00:00") -> set[str]:
    names = {each.name for each in backups}
    gone = to_remove(backups, kept, MADRID, names, at(now).made_ms)
    assert {each.name for each in gone} <= names
    return names - {each.name for each in gone}


def test_a_month_of_nights_leaves_three_days_two_weeks_and_two_months() -> None:
    """By the calendar of 2026: 30 September is a Wednesday, and the Sunday before it is the 27th."""
    nights = [at(f"{date(2026, 8, 20) + timedelta(days=day)}T03:30") for day in range(42)]
    # Days: 30, 29, 28 September. Weeks: the present one (30th) and that up to Sunday the 27th. Months: September (30th)
    # and August (31st).
    expected = {f"2026-{day}T03:30" for day in ("09-30", "09-29", "09-28", "09-27", "08-31")}
    assert staying(nights) == expected


def test_of_one_day_the_newest_stays_by_the_clock_of_the_site() -> None:
    # 00:30 in Madrid is still the day before in UTC: both lie on 2 October at the site.
    assert staying([at("2026-10-02T00:30"), at("2026-10-02T23:30")], Kept(5, 0, 0)) == {"2026-10-02T23:30"}


def test_days_without_a_backup_take_no_place() -> None:
    few = [at("2026-01-05T03:30"), at("2026-04-01T03:30"), at("2026-09-09T03:30")]
    assert staying(few, Kept(3, 0, 0)) == {each.name for each in few}


def test_where_none_is_known_to_be_whole_nothing_goes() -> None:
    nights = [at(f"2026-09-{day:02}T03:30") for day in range(1, 29)]
    assert to_remove(nights, Kept(1, 0, 0), MADRID, (), at("2027-01-01T00:00").made_ms) == ()


def test_a_damaged_one_takes_nobodys_place_and_is_left_to_a_person() -> None:
    whole, damaged = at("2026-09-27T03:30"), at("2026-09-28T03:30")
    gone = to_remove([whole, damaged], Kept(1, 0, 0), MADRID, {whole.name}, at("2027-01-01T00:00").made_ms)
    assert gone == ()


def test_one_that_is_dated_ahead_is_left_to_a_person_and_takes_nobodys_place() -> None:
    backups = [at("2026-09-27T03:30"), at("2031-01-01T03:30")]
    assert staying(backups, Kept(1, 0, 0), now="2026-09-28T00:00") == {each.name for each in backups}


def test_the_reason_says_what_is_kept() -> None:
    backups = [at("2026-09-27T03:30"), at("2026-09-28T03:30")]
    [gone] = to_remove(backups, Kept(1, 0, 0), MADRID, {each.name for each in backups}, at("2026-10-01T00:00").made_ms)
    assert gone == ("2026-09-27T03:30", "older than what is kept: one of each of 1 day")


moments = st.lists(st.integers(0, 2000 * DAY_MS), max_size=60, unique=True)
counts = st.builds(Kept, st.integers(0, 20), st.integers(0, 12), st.integers(0, 12))


@given(moments, counts, st.data())
def test_the_newest_good_one_always_stays_and_never_more_than_the_counts(
    made: list[int], kept: Kept, data: st.DataObject
) -> None:
    backups = [Dated(str(each), each) for each in made]
    good = set(data.draw(st.lists(st.sampled_from([each.name for each in backups]), unique=True))) if made else set()
    gone = {each.name for each in to_remove(backups, kept, UTC, good, 2000 * DAY_MS)}
    assert gone <= good
    left = good - gone
    if good:
        assert max(good, key=int) in left
        assert len(left) <= max(kept.days, 1) + kept.weeks + kept.months
    # Doing it twice removes nothing more.
    again = to_remove([each for each in backups if each.name not in gone], kept, UTC, left, 2000 * DAY_MS)
    assert again == ()
