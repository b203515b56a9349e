"""Figures of a month and of a season, by hand."""

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from config.errors import StatedError
from config.words import Priority
from daemon.alarms.metrics_rows import Handling
from daemon.clutches.eggs import Egg, EggState, Reason, Stated
from daemon.placement.outside import Course
from daemon.reports.month_events import kinds_of, merged, rounds_in
from daemon.reports.month_figures import HOUR_MS, Limited, days_between, figures_of, gaps_of, lines_of
from daemon.reports.names import file_name, month_of, months_between, season_of
from daemon.reports.season_figures import ClutchSeason, Outcome, grouped, outcome_of, too_little
from daemon.series_columns import EMPTY, Columns
from daemon.storage.alarm_spans import AlarmSpan

MADRID = ZoneInfo("Europe/Madrid")
DAY_MS = 24 * HOUR_MS
START_MS = 1_780_272_000_000  # 1 June 2026, 00:00 UTC


def ms(text: str) -> int:
    return round(datetime.fromisoformat(text).timestamp() * 1000)


def course(*points: tuple[float, float], broken: tuple[int, ...] = ()) -> Course:
    """Points as (hours from the start, value); no line leads to those in `broken`."""
    at = [START_MS + hours * HOUR_MS for hours, _ in points]
    return Course(at, [value for _, value in points], [n > 0 and n not in broken for n in range(len(points))])


def test_a_month_is_one_on_the_calendar_of_the_site() -> None:
    """October 2026 in Madrid: 31 days and the hour that comes twice (EU 2000/84/EC)."""
    found = month_of(" 2026-10 ", MADRID)
    assert (found.from_ms, found.until_ms) == (ms("2026-09-30T22:00:00+00:00"), ms("2026-10-31T23:00:00+00:00"))
    days = days_between(found.from_ms, found.until_ms, MADRID)
    assert len(days) == 31
    assert {each.until_ms - each.from_ms for each in days} == {DAY_MS, DAY_MS + HOUR_MS}
    assert next(each.day for each in days if each.until_ms - each.from_ms > DAY_MS) == date(2026, 10, 25)
    assert month_of("2026-12", MADRID).until_ms == season_of("2027", MADRID).from_ms


@pytest.mark.parametrize(
    "text", ["", "2026", "2026-13", "2026-00", "26-05", "2026-05-01", "9999-01", "\uff12\uff10\uff12\uff16-05"]
)
def test_what_is_no_month_is_refused_with_how_to_write_one(text: str) -> None:
    with pytest.raises(StatedError) as refused:
        month_of(text, UTC)
    assert "2026-05" in refused.value.hint


@pytest.mark.parametrize("text", ["", "26", "2026-05", "twenty", "0001", "\uff12\uff10\uff12\uff16"])
def test_what_is_no_year_is_refused(text: str) -> None:
    with pytest.raises(StatedError, match="no year"):
        season_of(text, UTC)


def test_the_months_of_a_span_come_newest_first() -> None:
    span = (ms("2025-11-30T23:30:00+00:00"), ms("2026-02-01T00:00:00+00:00"))
    assert months_between(*span, MADRID) == ["2026-02", "2026-01", "2025-12"]


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("Juniper 2", "juniper-2"),
        ("../../etc/passwd", "etc-passwd"),
        ("Élan", "elan"),
        ("///", "unnamed"),
        ("蛇", "unnamed"),
    ],
)
def test_a_file_name_is_one_that_every_system_takes(text: str, name: str) -> None:
    assert file_name(text) == name


def test_hours_outside_follow_the_limits_of_their_time() -> None:
    """From 26 to 30 in four hours. For two of them at most 27: above for one; then 28.5 to 29: above for one more."""
    lines = lines_of(course((0, 26.0), (4, 30.0)))
    days = days_between(START_MS, START_MS + DAY_MS, UTC)
    noon = START_MS + 2 * HOUR_MS
    limits = [Limited(START_MS, noon, None, 27.0), Limited(noon, START_MS + DAY_MS, 28.5, 29.0)]
    [found] = figures_of(EMPTY, lines, days, limits)
    assert found.above_h == pytest.approx(2.0)
    assert found.below_h == pytest.approx(0.5)
    assert found.mean == pytest.approx(28.0)
    assert found.unknown_h == pytest.approx(20.0)
    assert found.longest_gap_h == pytest.approx(20.0)
    assert (found.least, found.most) == (None, None)


def test_a_day_without_limits_says_so_and_one_without_readings_has_no_values() -> None:
    lines = lines_of(course((0, 26.0), (24, 26.0)))
    first, second = figures_of(EMPTY, lines, days_between(START_MS, START_MS + 2 * DAY_MS, UTC), ())
    assert (first.above_h, first.below_h, first.unknown_h) == (None, None, 0.0)
    assert (second.mean, second.unknown_h, second.asked_h) == (None, 24.0, 24.0)


def test_a_gap_is_what_no_line_leads_over_and_no_shorter_than_a_stretch() -> None:
    lines = lines_of(course((0, 26.0), (1, 26.0), (3, 26.0), (4, 26.0), broken=(2,)))
    found = gaps_of(lines, START_MS, START_MS + 4 * HOUR_MS + 300_000)
    assert found == [(START_MS + HOUR_MS, START_MS + 3 * HOUR_MS)]


def test_least_and_most_are_those_of_single_readings_by_the_day() -> None:
    starts = [START_MS, START_MS + 600_000, START_MS + DAY_MS, START_MS + DAY_MS + 600_000]
    least, most = [25.0, 24.0, None, 27.0], [28.0, 26.0, None, 27.5]
    rest: list[list[object]] = [[0] * 4 for _ in range(len(Columns._fields) - 5)]
    columns = Columns(starts, [1] * 4, least, least, most, *rest)  # type: ignore[arg-type]
    days = days_between(START_MS, START_MS + 2 * DAY_MS, UTC)
    found = figures_of(columns, lines_of(course((0, 26.0), (1, 26.0))), days, ())
    assert [(each.least, each.most) for each in found] == [(24.0, 28.0), (27.0, 27.5)]


def test_the_mean_of_a_day_is_the_integral_of_the_lines() -> None:
    generator = np.random.default_rng(7)
    points = [(hour / 6, float(value)) for hour, value in enumerate(28 + generator.normal(0, 1, 145))]
    [found] = figures_of(EMPTY, lines_of(course(*points)), days_between(START_MS, START_MS + DAY_MS, UTC), ())
    hours, values = zip(*points, strict=True)
    assert found.mean == pytest.approx(np.trapezoid(values, hours) / 24)


def span(kind: str, raised_h: float, cleared_h: float | None) -> AlarmSpan:
    at = START_MS + round(raised_h * HOUR_MS)
    cleared = None if cleared_h is None else START_MS + round(cleared_h * HOUR_MS)
    return AlarmSpan(kind, "x/y", f"{kind}{raised_h}", at, at, cleared, None, None, "")


def test_alarms_by_kind_with_how_they_were_answered() -> None:
    """Two of one kind: one began an hour before and was on for three hours within. Answered in 10 and in 40 min."""
    spans = [span("temperature-high", -1, 3), span("temperature-high", 5, 6), span("no-data", 23, None)]
    called = [(START_MS, 10), (START_MS + 5 * HOUR_MS, 40)]
    handled = [
        Handling("temperature-high:x/y", str(at), Priority.HIGH, at, at + minutes * 60_000) for at, minutes in called
    ]
    handled.append(Handling("no-data:x/y", "n", Priority.HIGH, START_MS + 23 * HOUR_MS, None))
    no_data, high = kinds_of(spans, handled, START_MS, START_MS + DAY_MS)
    assert (high.kind, high.raised, high.on_ms) == ("temperature-high", 1, 4 * HOUR_MS)
    assert (high.called, high.acknowledged, high.median_min, high.longest_min) == (2, 2, 25.0, 40.0)
    assert (no_data.on_ms, no_data.called, no_data.acknowledged, no_data.median_min) == (HOUR_MS, 1, 0, None)


def test_rounds_done_due_and_late() -> None:
    """Eggs for 30 days, a round every 5: 6 are due. Ended on day 4, 12, 13: late from day 9 to 12, from 18 on."""
    eggs = [(START_MS, START_MS + 30 * DAY_MS)]
    ended = [START_MS + day * DAY_MS for day in (4, 12, 13)]
    found = rounds_in(eggs, ended, 5, START_MS, START_MS + 30 * DAY_MS)
    assert (found.done, found.due, found.late_ms) == (3, 6, (3 + 12) * DAY_MS)


def test_a_round_of_the_month_before_counts_until_the_next_is_due() -> None:
    eggs = [(START_MS - 20 * DAY_MS, START_MS + 4 * DAY_MS), (START_MS - DAY_MS, START_MS + 10 * DAY_MS)]
    found = rounds_in(eggs, [START_MS - 2 * DAY_MS], 5, START_MS, START_MS + 30 * DAY_MS)
    assert (found.done, found.due, found.late_ms) == (0, 2, 7 * DAY_MS)
    assert merged([(3, 5), (0, 2), (2, 3), (7, 8)]) == [(0, 5), (7, 8)]


def egg(number: int, state: EggState, reason: Reason | None = None) -> Egg:
    return Egg(number, "", Stated(state, reason))


def season(place: str, hatched: int, lost: int, days: float = 60, first_day: float | None = 58.0) -> ClutchSeason:
    outcome = Outcome(1, hatched + lost, hatched, {Reason.MOULD: lost}, 0, 0)
    first_ms = None if first_day is None else START_MS + round(first_day * DAY_MS)
    return ClutchSeason(
        1, place, "x", "ratsnake", place, START_MS, START_MS + round(days * DAY_MS), outcome, first_ms, first_ms
    )  # fmt: skip


def test_eggs_of_a_clutch_by_what_became_of_them() -> None:
    eggs = [egg(1, EggState.HATCHED), egg(2, EggState.HATCHED), egg(3, EggState.REMOVED, Reason.MOULD)]
    eggs += [egg(4, EggState.REMOVED, Reason.STUCK), egg(5, EggState.GIVEN_AWAY), egg(6, EggState.WATCH)]
    found = outcome_of([*eggs, egg(7, EggState.PIPPED)])
    assert (found.laid, found.hatched, found.given_away, found.open) == (7, 2, 1, 2)
    assert found.lost == {Reason.MOULD: 1, Reason.STUCK: 1}
    assert found.decided == 4


def test_a_share_needs_ten_eggs_and_thirty_days() -> None:
    """7 of 8 and 5 of 6 eggs: 12 of 14 together, and neither alone is enough."""
    clutches = [season("shelf", 7, 1), season("box", 5, 1, first_day=62.0)]
    alone = grouped(clutches, lambda each: each.place)
    assert [(each.name, each.success, each.too_little) for each in alone] == [
        ("box", None, "too little data: 6 eggs of 10"),
        ("shelf", None, "too little data: 8 eggs of 10"),
    ]
    [both] = grouped(clutches, lambda each: each.species)
    assert both.success == pytest.approx(12 / 14)
    assert both.days is not None
    assert (both.days.least, both.days.middle, both.days.most) == (58.0, 60.0, 62.0)
    assert both.outcome.lost == {Reason.MOULD: 2}
    assert too_little(100, 29.9) == "too little data: 29 days of 30"
    assert too_little(10, 30) == ""
