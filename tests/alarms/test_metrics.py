"""X-34: journals made by hand, with answers worked out by hand.

What is measured, and the published bands: ISA-18.2-2016, 16.4 (rates, floods, frequent, chattering and fleeting, stale
alarms, priorities); EEMUA 191 for the bands per ten minutes.
"""

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from config.words import Priority
from daemon.alarms.classes import DAY_MS, HOUR_MS, MINUTE_MS
from daemon.alarms.metrics import Answered, Metrics, after_upsets, measure
from daemon.alarms.metrics_floods import Flood
from daemon.alarms.metrics_rows import AlarmRow, most_at_once
from daemon.alarms.state_values import AlarmMemory, Shown

START_MS = round(datetime(2026, 6, 1, tzinfo=UTC).timestamp() * 1000)
MONTH_MS = 30 * DAY_MS
MIN = MINUTE_MS
NORMAL, UNACK, ACKED, RETURNED = (
    AlarmMemory.NORMAL,
    AlarmMemory.UNACKNOWLEDGED,
    AlarmMemory.ACKNOWLEDGED,
    AlarmMemory.RETURNED,
)


def row(
    t_ms: int,
    before: AlarmMemory,
    after: AlarmMemory,
    event: str,
    alarm: str = "low",
    *,
    occurrence: str = "",
    priority: Priority = Priority.HIGH,
) -> AlarmRow:
    called = after is UNACK and event in ("on", "time")
    name = occurrence or f"{alarm}-1"
    shown, actor = Shown(after.value), "ana" if event == "acknowledge" else ""
    return AlarmRow(START_MS + t_ms, name, alarm, priority, before, after, shown, event, actor, annunciated=called)


def call(t_ms: int, alarm: str = "low", priority: Priority = Priority.HIGH) -> AlarmRow:
    return row(t_ms, NORMAL, UNACK, "on", alarm, occurrence=f"{alarm}@{t_ms}", priority=priority)


def off(t_ms: int, called: AlarmRow) -> AlarmRow:
    return replace(called, t_ms=START_MS + t_ms, before=UNACK, after=NORMAL, event="off", annunciated=False)


def ack(t_ms: int, called: AlarmRow) -> AlarmRow:
    seen = replace(called, t_ms=START_MS + t_ms, before=UNACK, after=ACKED, event="acknowledge", annunciated=False)
    return replace(seen, actor="ana", shown=Shown.ACKNOWLEDGED)


def brief(t_ms: int, alarm: str, priority: Priority = Priority.HIGH, lasting_ms: int = 30 * MIN) -> list[AlarmRow]:
    called = call(t_ms, alarm, priority)
    return [called, off(t_ms + lasting_ms, called)]


def measured(rows: Sequence[AlarmRow], length_ms: int = MONTH_MS, zone: str = "UTC") -> Metrics:
    return measure(rows, START_MS, START_MS + length_ms, ZoneInfo(zone), fleeting_ms=2 * MIN)


def test_rates_over_thirty_days() -> None:
    """60 calls in 30 days are 2 a day; 15 of them urgent are 3.5 a week."""
    rows = [each for n in range(45) for each in brief(n * 12 * HOUR_MS, f"a{n}", Priority.LOW)]
    rows += [each for n in range(15) for each in brief((2 * n + 1) * DAY_MS + HOUR_MS, f"b{n}", Priority.HIGH)]
    found = measured(rows).performance
    assert (found.annunciations, found.per_day, found.urgent_per_week) == (60, 2.0, 3.5)
    assert found.too_little == ""
    assert found.by_priority == {Priority.CRITICAL: 0, Priority.HIGH: 15, Priority.LOW: 45}


def test_less_than_thirty_days_are_too_little_for_a_rate() -> None:
    found = measured(brief(0, "a"), MONTH_MS - 1).performance
    assert (found.per_day, found.urgent_per_week) == (None, None)
    assert found.too_little == "too little data: 29.9 days of 30"
    assert measured(brief(0, "a"), 5 * DAY_MS).performance.too_little == "too little data: 5 days of 30"


def test_an_empty_journal_has_no_figures_that_would_be_invented() -> None:
    found = measured([])
    assert found.performance.per_day == 0
    assert found.performance.most_per_10_min == 0
    assert found.performance.answered[Priority.CRITICAL] == Answered(0, None, None, 0)
    assert found.diagnosis.share_of_top_3 is None
    assert found.performance.split is None


def test_tests_and_demonstrations_count_nowhere() -> None:
    rows = [replace(each, actual=False) for each in brief(0, "a", lasting_ms=2 * DAY_MS)]
    found = measured(rows)
    assert found.performance.annunciations == 0
    assert found.diagnosis.stale == ()


def test_a_suppressed_occurrence_is_not_an_annunciation() -> None:
    hidden = replace(call(0), annunciated=False, shown=Shown.SHELVED)
    assert measured([hidden]).performance.annunciations == 0


def test_bins_of_ten_minutes_are_aligned_to_the_hour() -> None:
    """Nine minutes apart and yet in two bins."""
    rows = [call(5 * MIN, "a"), call(9 * MIN, "b"), call(10 * MIN, "c"), call(14 * MIN, "d"), call(19 * MIN, "e")]
    assert measured(rows).performance.most_per_10_min == 3


def test_shares_of_periods_over_the_published_bounds() -> None:
    """11 calls in one bin of the 4320 in 30 days; 31 in one hour of the 720."""
    rows = [call(n * 1000, f"a{n}") for n in range(11)]
    found = measured(rows).performance
    assert found.share_of_10_min_above_10 == pytest.approx(1 / 4320)
    assert found.share_of_hours_above_30 == 0
    rows += [call(20 * MIN + n * 1000, f"b{n}") for n in range(20)]
    assert measured(rows).performance.share_of_hours_above_30 == pytest.approx(1 / 720)
    assert measured(rows[1:]).performance.share_of_hours_above_30 == 0


def test_a_flood_begins_above_ten_and_ends_below_five() -> None:
    """Counts by bin 3, 11, 6, 5, 4, 9: one flood of 22 in three bins. ISA-18.2-2016, 16.4.4."""
    rows = [
        call(b * 10 * MIN + n * 1000, f"a{b}.{n}") for b, count in enumerate((3, 11, 6, 5, 4, 9)) for n in range(count)
    ]
    found = measured(rows).performance
    assert found.floods == (Flood(START_MS + 10 * MIN, START_MS + 40 * MIN, 22, 11),)
    assert found.own_floods == (Flood(START_MS + 10 * MIN, START_MS + 60 * MIN, 35, 11),)


def test_a_flood_that_runs_into_the_end_is_counted() -> None:
    rows = [call(n * 1000, f"a{n}") for n in range(11)]
    assert measured(rows).performance.floods == (Flood(START_MS, START_MS + 10 * MIN, 11, 11),)


def test_most_frequent_and_the_share_of_three() -> None:
    counts = {"a": 6, "b": 4, "c": 2, "d": 1, "e": 1, "f": 1}
    rows = [
        call((n * 100 + i) * HOUR_MS // 10, name)
        for i, (name, count) in enumerate(counts.items())
        for n in range(count)
    ]
    found = measured(rows).diagnosis
    assert found.most_frequent == (("a", 6), ("b", 4), ("c", 2), ("d", 1), ("e", 1))
    assert found.share_of_top_3 == pytest.approx(12 / 15)


def test_chattering_is_three_times_within_an_hour_and_by_itself() -> None:
    rows = [
        *brief(0, "a", lasting_ms=MIN),
        *brief(20 * MIN, "a", lasting_ms=MIN),
        *brief(59 * MIN, "a", lasting_ms=MIN),
    ]
    assert measured(rows).diagnosis.chattering == ("a",)
    slower = [*rows[:4], *brief(60 * MIN, "a", lasting_ms=MIN)]
    assert measured(slower).diagnosis.chattering == ()
    again = [row(t * MIN, ACKED, UNACK, "time") for t in (0, 20, 40)]
    assert measured(again).diagnosis.chattering == ()


def test_fleeting_is_short_untouched_and_alone() -> None:
    short = brief(0, "a", lasting_ms=2 * MIN)
    assert measured(short).diagnosis.fleeting == ("a@0",)
    assert measured(brief(0, "a", lasting_ms=2 * MIN + 1)).diagnosis.fleeting == ()
    assert measured([short[0], ack(MIN, short[0]), short[1]]).diagnosis.fleeting == ()
    assert measured([*short, *brief(HOUR_MS, "a")]).diagnosis.fleeting == ()
    assert measured([*short, *brief(HOUR_MS + 1, "a")]).diagnosis.fleeting == ("a@0",)
    assert measured(short[:1]).diagnosis.fleeting == ()


def test_stale_is_longer_than_a_day_and_also_when_it_still_is_on() -> None:
    assert measured(brief(0, "a", lasting_ms=DAY_MS)).diagnosis.stale == ()
    assert measured(brief(0, "a", lasting_ms=DAY_MS + 1)).diagnosis.stale == ("a",)
    assert measured([call(0, "b")]).diagnosis.stale == ("b",)
    assert measured([call(0, "b")]).diagnosis.longest_on_h == 720


def test_standing_is_counted_at_seven_local() -> None:
    """07:00 in Berlin in June is 05:00 UTC."""
    rows = [*brief(4 * HOUR_MS, "a", lasting_ms=HOUR_MS + 1), *brief(4 * HOUR_MS, "b", lasting_ms=HOUR_MS)]
    assert measured(rows, zone="Europe/Berlin").diagnosis.standing_at_handover == 1
    assert measured(rows).diagnosis.standing_at_handover == 0


def test_an_acknowledged_alarm_stands_and_one_that_returned_does_not() -> None:
    called = call(4 * HOUR_MS)
    assert measured([called, ack(5 * HOUR_MS, called)]).diagnosis.standing_at_handover == 1
    back = replace(off(5 * HOUR_MS, called), after=RETURNED)
    assert measured([called, back]).diagnosis.standing_at_handover == 0


def test_shelved_hours_and_how_many_at_once() -> None:
    def shelf(t_ms: int, alarm: str, shown: Shown, event: str) -> AlarmRow:
        return replace(row(t_ms, NORMAL, NORMAL, event, alarm), shown=shown)

    rows = [
        shelf(0, "a", Shown.SHELVED, "shelve"),
        shelf(HOUR_MS, "b", Shown.SHELVED, "shelve"),
        shelf(2 * HOUR_MS, "a", Shown.NORMAL, "time"),
        shelf(2 * HOUR_MS, "c", Shown.SHELVED, "shelve"),
        shelf(5 * HOUR_MS, "b", Shown.NORMAL, "unshelve"),
    ]
    found = measured(rows, 6 * HOUR_MS).diagnosis
    assert found.shelved_h == {"a": 2.0, "b": 4.0, "c": 4.0}
    assert found.most_shelved_at_once == 2


def test_what_ends_when_another_begins_is_not_at_once() -> None:
    assert most_at_once([(0, 5), (5, 9), (5, 6)]) == 2
    assert most_at_once([]) == 0


def test_the_split_by_priority_needs_a_hundred_annunciations() -> None:
    rows = [call(n * HOUR_MS, f"a{n}", Priority.LOW) for n in range(80)]
    rows += [call(n * HOUR_MS, f"b{n}", Priority.HIGH) for n in range(15)]
    rows += [call(n * HOUR_MS, f"c{n}", Priority.CRITICAL) for n in range(5)]
    assert measured(rows).performance.split == {Priority.CRITICAL: 0.05, Priority.HIGH: 0.15, Priority.LOW: 0.8}
    assert measured(rows[1:]).performance.split is None


def test_nights_count_urgent_incidents_between_ten_and_six_local() -> None:
    """Ten whole nights in ten days and a morning; three of them with a call."""
    rows = [
        call(22 * HOUR_MS, "a"),
        call(DAY_MS + 6 * HOUR_MS - 1, "b"),
        call(DAY_MS + 6 * HOUR_MS, "day"),
        call(2 * DAY_MS + 23 * HOUR_MS, "c", Priority.LOW),
        call(4 * DAY_MS - HOUR_MS, "d", Priority.CRITICAL),
        call(6 * DAY_MS + 2 * HOUR_MS, "e"),
    ]
    found = measured(rows, 10 * DAY_MS + 6 * HOUR_MS).performance
    assert found.most_per_night == 2
    assert found.share_of_quiet_nights == pytest.approx(7 / 10)


def test_time_to_acknowledge_is_given_by_median_and_nearest_rank() -> None:
    """1 to 20 minutes: median 10.5, the 19th of 20 is the 95th percentile."""
    rows = []
    for n in range(1, 21):
        called = call(n * 2 * HOUR_MS, f"a{n}", Priority.CRITICAL)
        rows += [called, ack(n * 2 * HOUR_MS + n * MIN, called), off(n * 2 * HOUR_MS + 40 * MIN, called)]
    rows += brief(100 * HOUR_MS, "open", Priority.CRITICAL)
    assert measured(rows).performance.answered[Priority.CRITICAL] == Answered(20, 10.5, 19.0, 1)


def test_the_first_call_and_the_first_acknowledgement_count() -> None:
    called = call(0)
    again = replace(called, t_ms=START_MS + 40 * MIN, before=ACKED, event="time")
    rows = [called, ack(8 * MIN, called), again, ack(50 * MIN, called), off(60 * MIN, called)]
    assert measured(rows).performance.answered[Priority.HIGH] == Answered(1, 8.0, 8.0, 0)
    assert measured(rows).diagnosis.longest_unacknowledged_h == pytest.approx(8 / 60)


def test_stale_and_fleeting_alarms_do_not_bend_the_time_to_acknowledge() -> None:
    stale = call(0, "stale")
    rows = [stale, ack(2 * DAY_MS, stale), off(3 * DAY_MS, stale), *brief(DAY_MS, "short", lasting_ms=MIN)]
    assert measured(rows).performance.answered[Priority.HIGH] == Answered(0, None, None, 0)


def test_what_follows_an_upset_is_counted_for_ten_minutes() -> None:
    rows = [call(0, "mains", Priority.CRITICAL), call(0, "a"), call(10 * MIN - 1, "b"), call(10 * MIN, "c")]
    assert after_upsets(rows, frozenset({"mains"})) == ((START_MS, 2),)


def test_rows_outside_of_the_window_count_nowhere() -> None:
    rows = [call(-1, "a"), call(0, "b"), call(MONTH_MS, "c")]
    assert measured(rows).performance.annunciations == 1


def test_what_was_on_or_shelved_before_the_window_is_seen_in_it() -> None:
    shelf = replace(row(-HOUR_MS, NORMAL, NORMAL, "shelve", "b"), shown=Shown.SHELVED)
    ended = replace(row(2 * HOUR_MS, NORMAL, NORMAL, "unshelve", "b"), shown=Shown.NORMAL)
    found = measured([call(-2 * DAY_MS, "a"), shelf, ended, *brief(-3 * DAY_MS, "gone", lasting_ms=2 * DAY_MS)])
    assert found.diagnosis.stale == ("a",)
    assert found.diagnosis.longest_on_h == 32 * 24
    assert found.diagnosis.shelved_h == {"b": 2.0}


def test_an_empty_window_is_refused() -> None:
    with pytest.raises(ValueError, match="window ends before it begins"):
        measured([], 0)
