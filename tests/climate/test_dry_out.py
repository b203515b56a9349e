"""Until when to add water: hand calculation, many drawn boxes, the simulated box, and silence without a trend."""

from collections.abc import Sequence
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daemon.box_climate import hourly_medians
from daemon.climate.dry_out import (
    LEAST_HOURS,
    SETTLING_HOURS,
    DryOut,
    Median,
    NoDryOut,
    dry_out,
    sentence,
    since_last_jump,
)
from tests.climate.drying import DAY_MS, HOUR_MS, NOW_MS, drying_box, medians, slow_noise

BERLIN = ZoneInfo("Europe/Berlin")


def told(found: DryOut | NoDryOut) -> DryOut:
    assert isinstance(found, DryOut), found
    return found


def silent(found: DryOut | NoDryOut) -> str:
    assert isinstance(found, NoDryOut), found
    return found.reason


def test_a_straight_fall_meets_its_limit_when_the_hand_calculation_says() -> None:
    # 84 % now, 1.5 % a day, limit 75 %: six days. Hourly values without noise, so the bounds are close.
    found = told(dry_out(medians(120, level_pct=84, slope_pct_day=-1.5), 75, NOW_MS))
    assert found.likely_days == pytest.approx(6.0, abs=0.01)
    assert found.early_days == pytest.approx(6.0, abs=0.15)
    assert found.late_days == pytest.approx(6.0, abs=0.15)
    assert found.slope_pct_day == pytest.approx(-1.5, abs=1e-6)


def test_with_a_daily_cycle_the_daily_low_counts() -> None:
    # The low is 2 % below the line: 84 - 2 - 1.5 d = 75 after 4.67 days.
    found = told(dry_out(medians(120, level_pct=84, slope_pct_day=-1.5, swing_pct=2), 75, NOW_MS))
    assert found.likely_days == pytest.approx(7 / 1.5, abs=0.05)


@pytest.mark.parametrize(
    ("hours", "memory_h", "new_pct", "slope", "swing"),
    [(72, 4.0, 0.2, -1.5, 1.5), (120, 4.0, 0.2, -1.5, 1.5), (168, 12.0, 0.1, -1.0, 1.0), (96, 1.0, 0.1, -2.0, 0.0)],
)
def test_the_true_moment_lies_within_the_bounds_as_often_as_stated(
    hours: int, memory_h: float, new_pct: float, slope: float, swing: float
) -> None:
    draw, boxes, inside, early, late = np.random.default_rng(20_26), 100, 0, 0, 0
    for _ in range(boxes):
        noise = np.array(slow_noise(hours, memory_h, 0.5, draw)) + draw.normal(0, new_pct, hours)
        history = medians(
            hours,
            slope_pct_day=slope,
            swing_pct=swing,
            warmest_h=float(draw.uniform(0, 24)),
            noise=noise.tolist(),
        )
        found = told(dry_out(history, 75, NOW_MS))
        truth = (75 + swing - 85) / slope
        early += found.early_days > truth
        late += found.late_days is not None and found.late_days < truth
        inside = boxes - early - late
    # 95 % stated; 0.89 is nearly three standard errors of 100 draws below it. Too late a warning is the worse one.
    assert inside / boxes >= 0.89, (inside, early, late)
    assert early / boxes <= 0.05


def test_the_moment_in_a_simulated_box_lies_within_the_bounds() -> None:
    seeds, inside = 40, 0
    draw = np.random.default_rng(9)
    for seed in range(seeds):
        loss = float(draw.uniform(0.008, 0.03))
        true = drying_box(seed, 20, loss, noise=False)
        now_ms = 5 * DAY_MS
        limit_pct = true[now_ms // 300_000][1] - 100 * loss * float(draw.uniform(1.5, 8))
        truth = (next(at_ms for at_ms, value in true if value <= limit_pct) - now_ms) / DAY_MS
        seen = hourly_medians(drying_box(seed, 5, loss, noise=True))
        found = told(dry_out(seen, limit_pct, now_ms))
        # The low of a day is at a certain hour; the moment at which it is met is known to half a day.
        inside += found.early_days - 0.5 <= truth <= (found.late_days or 99) + 0.5
    assert inside / seeds >= 0.9, inside


@pytest.mark.parametrize(
    ("memory_h", "new_pct", "swing"),
    [(0.5, 0.0, 3.0), (4.0, 0.0, 3.0), (4.0, 0.3, 0.0), (12.0, 0.0, 3.0), (12.0, 0.3, 3.0)],
)
@pytest.mark.parametrize("hours", [72, 120, 168])
def test_a_daily_cycle_without_a_trend_stays_silent(hours: int, memory_h: float, new_pct: float, swing: float) -> None:
    draw, boxes, alarms = np.random.default_rng(hours), 80, 0
    for _ in range(boxes):
        noise = np.array(slow_noise(hours, memory_h, 0.6, draw)) + draw.normal(0, new_pct, hours)
        phase = float(draw.uniform(0, 24))
        found = dry_out(medians(hours, swing_pct=swing, warmest_h=phase, noise=noise.tolist()), 75, NOW_MS)
        alarms += isinstance(found, DryOut)
    # 2.5 % on the falling side by the interval of 95 %, fewer by the horizon; 5 of 80 leaves room for chance.
    assert alarms <= 5


def test_ordinary_least_squares_would_raise_the_false_alarms_that_this_does_not() -> None:
    draw, ordinary, ours = np.random.default_rng(5), 0, 0
    for _ in range(100):
        history = medians(120, noise=slow_noise(120, 8.0, 1.0, draw))
        hours = np.arange(120.0)
        (slope, _), cov = np.polyfit(hours, [value for _, value in history], 1, cov=True)
        ordinary += slope + 1.96 * float(np.sqrt(cov[0, 0])) < 0
        ours += isinstance(dry_out(history, 75, NOW_MS), DryOut)
    assert ordinary >= 25
    assert ours <= 6


@pytest.mark.parametrize(
    ("history", "limit_pct", "reason"),
    [
        (medians(168, slope_pct_day=-1), None, "No lower limit of humidity is watched here."),
        (medians(168, slope_pct_day=1), 75, "The humidity rises."),
        (medians(168), 75, "The humidity shows no clear trend."),
        (medians(168, slope_pct_day=-0.5), 75, "The humidity falls, and is above its limit for more than 14 days."),
        (medians(168, level_pct=74, slope_pct_day=-1), 75, "The humidity is at its lower limit already."),
        (medians(71, slope_pct_day=-1), 75, "Too early for a trend: 71 of 72 hours with readings."),
        (medians(168, slope_pct_day=-1)[:-4], 75, "There are no good readings of the last hours."),
        ([], 75, "There are no good readings of the last hours."),
    ],
)
def test_without_a_trend_nothing_is_told_and_the_reason_says_why(
    history: Sequence[Median], limit_pct: float | None, reason: str
) -> None:
    assert silent(dry_out(history, limit_pct, NOW_MS)) == reason


def test_a_weak_slope_has_an_open_latest_day() -> None:
    draw = np.random.default_rng(3)
    opened = [
        found
        for _ in range(60)
        if isinstance(
            found := dry_out(medians(96, slope_pct_day=-1.2, noise=slow_noise(96, 6, 0.8, draw)), 75, NOW_MS), DryOut
        )
        and found.late_days is None
    ]
    assert opened
    assert all(found.early_days < found.likely_days <= 14 for found in opened)


def test_water_that_was_added_starts_the_trend_anew() -> None:
    before = medians(168, level_pct=70, slope_pct_day=-2)[:60]
    after = medians(108, level_pct=84, slope_pct_day=-1.5)
    found = told(dry_out([*before, *after], 75, NOW_MS))
    assert found.likely_days == pytest.approx(6.0, abs=0.05)
    assert since_last_jump([*before, *after]) == after[SETTLING_HOURS:]


def test_a_lid_that_was_open_starts_the_trend_anew() -> None:
    history = medians(168, slope_pct_day=-1)
    opened = [(at_ms, value - 6 * (index == 100)) for index, (at_ms, value) in enumerate(history)]
    assert since_last_jump(opened) == history[101 + SETTLING_HOURS :]
    assert silent(dry_out(opened, 75, NOW_MS)) == (
        f"Too early for a trend: 64 of {LEAST_HOURS} hours with readings since water was added or the lid was open."
    )


@pytest.mark.parametrize("swing_pct", [2.0, 5.0, 8.0])
def test_a_daily_rise_is_no_added_water(swing_pct: float) -> None:
    history = medians(168, swing_pct=swing_pct)
    # A cycle steeper than the jump counts once, on the first day, when there is no day before to compare with.
    assert len(since_last_jump(history)) >= 168 - 24 - SETTLING_HOURS


@settings(derandomize=True, deadline=None, max_examples=60)
@given(
    level=st.floats(76, 95),
    slope=st.floats(-4, -0.3),
    steeper=st.floats(1.05, 2),
    gaps=st.sets(st.integers(0, 160), max_size=60),
)
def test_bounds_are_in_order_and_a_steeper_fall_is_told_sooner(
    level: float, slope: float, steeper: float, gaps: set[int]
) -> None:
    def of(slope_pct_day: float) -> DryOut | NoDryOut:
        history = [
            each for index, each in enumerate(medians(168, level_pct=level, slope_pct_day=slope_pct_day))
            if index not in gaps
        ]  # fmt: skip
        return dry_out(history, 75, NOW_MS)

    slow, quick = of(slope), of(slope * steeper)
    if isinstance(slow, DryOut):
        assert 0 <= slow.early_days <= slow.likely_days <= (slow.late_days or 28)
        assert slow.slope_low_pct_day <= slow.slope_pct_day <= slow.slope_high_pct_day < 0
        assert told(quick).likely_days <= slow.likely_days + 1e-6


# 2026-06-03 is a Wednesday (any calendar); noon UTC is 14:00 in Berlin.
WEDNESDAY_MS = round(datetime(2026, 6, 3, 12, tzinfo=UTC).timestamp() * 1000)


@pytest.mark.parametrize(
    ("early", "likely", "late", "text"),
    [
        (1.6, 3.0, 5.1, "Add water by Saturday (between Friday and Monday)"),
        (0.1, 0.3, 0.4, "Add water today"),
        (0.1, 0.3, 1.0, "Add water today (between today and tomorrow)"),
        (0.5, 1.0, 2.0, "Add water tomorrow (between tomorrow and Friday)"),
        (3.0, 3.1, 3.2, "Add water by Saturday"),
        (3.0, 6.0, 9.0, "Add water by Tuesday (between Saturday and Friday 12 June)"),
        (6.0, 8.0, None, "Add water by Thursday 11 June (Tuesday at the earliest, the latest is open)"),
    ],
)
def test_the_sentence_names_the_days_on_the_clock_of_the_site(
    early: float, likely: float, late: float | None, text: str
) -> None:
    assert sentence(DryOut(early, likely, late, -1, -1.5, -0.5), WEDNESDAY_MS, BERLIN) == text


def test_the_day_is_that_of_the_zone_and_not_of_utc() -> None:
    found = DryOut(1.45, 1.45, 1.45, -1, -1.5, -0.5)
    # 1.45 days after Wednesday noon UTC is Thursday 22:48 UTC: Friday in Berlin, still Thursday in London.
    assert sentence(found, WEDNESDAY_MS, BERLIN) == "Add water by Friday"
    assert sentence(found, WEDNESDAY_MS, ZoneInfo("UTC")) == "Add water tomorrow"


def test_hourly_medians_do_not_see_a_lid_that_was_open_for_a_quarter_of_an_hour() -> None:
    points = [(NOW_MS + minute * 60_000, 60.0 if 20 <= minute < 35 else 85.0) for minute in range(0, 120, 5)]
    assert hourly_medians(points) == [(NOW_MS, 85.0), (NOW_MS + HOUR_MS, 85.0)]
