"""Hours with water: by hand, by a fine grid, and the form that takes reading after reading against the whole sum."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daemon.climate.condensation_hours import (
    KEPT_MS,
    QUARTER_MS,
    CondensationHours,
    Paired,
    Point,
    condensation_hours,
    paired,
)

MINUTE_MS = 60_000
HOUR_MS = 60 * MINUTE_MS
DAY_MS = 24 * HOUR_MS
GAP_MS = 20 * MINUTE_MS
START_MS = 1_780_000_200_000
assert START_MS % QUARTER_MS == 0


@st.composite
def records(draw: st.DrawFn) -> list[Point]:
    """Readings of a day or so, from seconds to hours apart."""
    steps = draw(st.lists(st.integers(1000, 40 * MINUTE_MS), min_size=1, max_size=60))
    chances = draw(st.lists(st.floats(0, 1), min_size=len(steps), max_size=len(steps)))
    offset = draw(st.integers(0, 3 * HOUR_MS))
    return [(START_MS + offset + sum(steps[: at + 1]), chance) for at, chance in enumerate(chances)]


def test_certain_half_and_unknown_hours_are_those_of_the_hand_calculation() -> None:
    # An hour of 1, one falling from 1 to 0 (half of it expected, the first 5 % certain), a gap, an hour of 0.2.
    chances = [(START_MS, 1.0), (START_MS + HOUR_MS, 1.0), (START_MS + 2 * HOUR_MS, 0.0)]
    chances += [(START_MS + 5 * HOUR_MS, 0.2), (START_MS + 6 * HOUR_MS, 0.2)]
    found = condensation_hours(chances, START_MS, START_MS + 8 * HOUR_MS, HOUR_MS)
    assert found.expected_h == pytest.approx(1 + 0.5 + 0.2, abs=1e-12)
    assert found.certain_h == pytest.approx(1 + 0.05, abs=1e-12)
    # Of the falling hour the last 5 % are certainly dry; at 0.2 nothing is.
    assert found.possible_h == pytest.approx(1 + 0.95 + 1, abs=1e-12)
    assert (found.covered_h, found.unknown_h) == (3.0, 5.0)


def test_the_expected_hours_are_the_integral_on_a_fine_grid() -> None:
    draw = np.random.default_rng(7)
    at_ms = START_MS + np.cumsum(draw.integers(MINUTE_MS, 9 * MINUTE_MS, 200))
    chances = draw.uniform(0, 1, 200)
    fine_ms = np.linspace(at_ms[20], at_ms[150], 400_001)
    fine = np.interp(fine_ms, at_ms, chances)
    found = condensation_hours(
        list(zip(at_ms.tolist(), chances.tolist(), strict=True)), int(at_ms[20]), int(at_ms[150]), GAP_MS
    )
    assert found.expected_h == pytest.approx(float(np.trapezoid(fine, fine_ms)) / HOUR_MS, rel=1e-6)
    assert found.certain_h == pytest.approx(
        float(np.mean(fine >= 0.95) * (fine_ms[-1] - fine_ms[0])) / HOUR_MS, rel=1e-3
    )


@settings(derandomize=True, deadline=None, max_examples=300)
@given(record=records(), first=st.integers(0, 40), length=st.integers(1, 200))
def test_reading_after_reading_gives_what_the_whole_record_gives(record: list[Point], first: int, length: int) -> None:
    hours = CondensationHours(GAP_MS)
    for at_ms, chance in record:
        hours.add(at_ms, chance)
    start_ms = START_MS + first * QUARTER_MS
    end_ms = max(start_ms + length * QUARTER_MS, record[-1][0])
    assert hours.between(start_ms, end_ms) == pytest.approx(
        condensation_hours(record, start_ms, end_ms, GAP_MS), abs=1e-9
    )


@settings(derandomize=True, deadline=None, max_examples=300)
@given(record=records(), length=st.integers(1, 3 * HOUR_MS))
def test_hours_lie_within_their_bounds_and_cover_the_window(record: list[Point], length: int) -> None:
    found = condensation_hours(record, START_MS, START_MS + length, GAP_MS)
    assert found.covered_h + found.unknown_h == pytest.approx(length / HOUR_MS, abs=1e-9)
    assert 0.95 * found.certain_h - 1e-9 <= found.expected_h <= found.covered_h + 1e-9
    assert found.certain_h - 1e-9 <= found.possible_h <= found.covered_h + 1e-9
    assert found.expected_h <= found.possible_h + 0.05 * found.covered_h + 1e-9
    wetter = [(at_ms, min(1.0, chance + 0.1)) for at_ms, chance in record]
    assert condensation_hours(wetter, START_MS, START_MS + length, GAP_MS).expected_h >= found.expected_h - 1e-12


def test_a_season_leaves_no_more_than_seven_days_of_quarters_and_the_last_day_is_right() -> None:
    hours = CondensationHours(GAP_MS)
    end_ms = START_MS + 60 * DAY_MS
    for at_ms in range(START_MS, end_ms + 1, 10 * MINUTE_MS):
        hours.add(at_ms, 0.25 if at_ms < end_ms - 6 * HOUR_MS else 1.0)
    assert len(hours) <= KEPT_MS // QUARTER_MS + 2
    # Six hours of 1, eighteen of 0.25, and ten minutes of the slope between them.
    last_day = hours.between(end_ms - DAY_MS, end_ms)
    assert last_day.expected_h == pytest.approx(6 + 18 * 0.25 + 0.75 / 2 / 6, abs=1e-9)
    assert hours.between(end_ms - KEPT_MS, end_ms).covered_h == pytest.approx(7 * 24, abs=1e-9)


def test_a_reading_out_of_order_is_refused_and_changes_nothing() -> None:
    hours = CondensationHours(GAP_MS)
    hours.add(START_MS, 1.0)
    for late_ms in (START_MS, START_MS - 1):
        with pytest.raises(ValueError, match="add up the record again"):
            hours.add(late_ms, 0.0)
    assert hours.last_ms == START_MS
    hours.add(START_MS + QUARTER_MS, 1.0)
    assert hours.between(START_MS, START_MS + QUARTER_MS) == (0.25, 0.25, 0.25, 0.0, 0.25)


def test_readings_are_paired_with_the_nearest_and_never_across_a_gap() -> None:
    found = paired(
        [(0, 28.0), (10, 29.0), (100, 30.0)], [(2, 80.0), (6, 81.0), (50, 82.0), (100, 83.0)], [(7, 27.0)], apart_ms=5
    )
    assert list(found) == [Paired(2, 28.0, 80.0, 27.0), Paired(6, 29.0, 81.0, 27.0), Paired(100, 30.0, 83.0, None)]
