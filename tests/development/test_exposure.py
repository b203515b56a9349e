"""Minutes beyond a temperature: closed forms, another count in exact fractions, and reading by reading the same."""

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from config.species import ExposureLimit
from daemon.development.exposure import Exposed, ExposureWindow, Verdict, judge

MINUTE, HOUR = 60_000, 3_600_000
BRIDGE_MS = 15 * MINUTE
HOT = ExposureLimit(above_c=33.0, minutes=60.0, within_h=24, source="Example 1999")
COLD = ExposureLimit(below_c=20.0, minutes=600.0, within_h=48, source="Example 1999")

Readings = list[tuple[int, float | None]]


def fed(limit: ExposureLimit, readings: Readings) -> ExposureWindow:
    window = ExposureWindow(limit, BRIDGE_MS)
    for measured_at_ms, temperature_c in readings:
        window.add(measured_at_ms, temperature_c)
    return window


def minute_by_minute(minutes: int, temperature_c: float | None, start_ms: int = 0) -> Readings:
    return [(start_ms + minute * MINUTE, temperature_c) for minute in range(minutes + 1)]


def in_fractions(limit: ExposureLimit, readings: Readings, now_ms: int) -> tuple[Fraction, int, int]:
    """Beyond, unknown and watched ms from all readings, window and stretches cut by exact arithmetic."""
    start_ms = max(readings[0][0], now_ms - limit.within_h * HOUR)
    beyond, unknown = Fraction(0), now_ms - max(readings[-1][0], start_ms)
    for (t0, c0), (t1, c1) in pairwise(readings):
        begin, end = max(t0, start_ms), t1
        if end <= begin:
            continue
        if c0 is None or c1 is None or t1 - t0 > BRIDGE_MS:
            unknown += end - begin
            continue
        figure = Fraction(limit.above_c if limit.above_c is not None else limit.below_c or 0)
        cut = [Fraction(begin), Fraction(end)]
        if c0 != c1:
            crossing = t0 + (figure - Fraction(c0)) / (Fraction(c1) - Fraction(c0)) * (t1 - t0)
            cut = sorted([*cut, min(max(crossing, cut[0]), cut[1])])
        for one, other in pairwise(cut):
            middle = Fraction(c0) + (Fraction(c1) - Fraction(c0)) * ((one + other) / 2 - t0) / (t1 - t0)
            if (middle > figure) if limit.above_c is not None else (middle < figure):
                beyond += other - one
    return beyond, unknown, now_ms - start_ms


def test_no_reading_is_nothing_watched() -> None:
    assert fed(HOT, []).at(5 * HOUR) == Exposed(0, 0, 0)


def test_a_time_above_the_figure_is_counted_whole() -> None:
    assert fed(HOT, minute_by_minute(90, 34.0)).at(90 * MINUTE) == Exposed(90 * MINUTE, 0, 90 * MINUTE)


def test_a_time_at_the_figure_is_not_beyond_it() -> None:
    assert fed(HOT, minute_by_minute(90, 33.0)).at(90 * MINUTE).beyond_ms == 0
    assert fed(COLD, minute_by_minute(90, 20.0)).at(90 * MINUTE).beyond_ms == 0


def test_a_straight_line_passes_the_figure_where_it_does() -> None:
    """From 32 to 36 °C in 8 minutes: 33 °C is passed after 2, and 6 are above. Back in 4: 3 are above."""
    up_and_down: Readings = [(0, 32.0), (8 * MINUTE, 36.0), (12 * MINUTE, 32.0)]
    assert fed(HOT, up_and_down).at(12 * MINUTE).beyond_ms == 9 * MINUTE


def test_cold_counts_below_the_figure() -> None:
    assert fed(COLD, [(0, 21.0), (4 * MINUTE, 17.0), (8 * MINUTE, 21.0)]).at(8 * MINUTE).beyond_ms == 6 * MINUTE


def test_spells_add_up_within_the_window_and_leave_it_by_the_minute() -> None:
    spells = [*minute_by_minute(30, 34.0), *minute_by_minute(24 * 60 - 61, 30.0, 31 * MINUTE)]
    spells += minute_by_minute(30, 34.0, 24 * HOUR - 29 * MINUTE)
    window = fed(HOT, spells)
    # Each change of 4 K between two readings a minute apart adds its part above 33 °C: a quarter of a minute.
    end = 24 * HOUR + MINUTE
    assert window.at(end).beyond_ms == 60 * MINUTE + MINUTE // 2 - MINUTE
    assert window.at(end + 10 * MINUTE).beyond_ms == 60 * MINUTE + MINUTE // 2 - 11 * MINUTE


def test_a_gap_is_unknown_and_counts_for_neither() -> None:
    window = fed(HOT, [(0, 34.0), (10 * MINUTE, 34.0), (70 * MINUTE, 34.0), (75 * MINUTE, 34.0)])
    assert window.at(75 * MINUTE) == Exposed(15 * MINUTE, 60 * MINUTE, 75 * MINUTE)


def test_a_suspect_reading_makes_both_its_sides_unknown() -> None:
    window = fed(HOT, [(0, 34.0), (10 * MINUTE, None), (20 * MINUTE, 34.0), (30 * MINUTE, 34.0)])
    assert window.at(30 * MINUTE) == Exposed(10 * MINUTE, 20 * MINUTE, 30 * MINUTE)


def test_the_time_since_the_last_reading_is_unknown() -> None:
    assert fed(HOT, minute_by_minute(10, 34.0)).at(40 * MINUTE) == Exposed(10 * MINUTE, 30 * MINUTE, 40 * MINUTE)
    assert fed(HOT, minute_by_minute(10, 34.0)).at(100 * HOUR) == Exposed(0, 24 * HOUR, 24 * HOUR)


def test_times_that_go_back_are_refused() -> None:
    window = fed(HOT, [(10 * MINUTE, 30.0)])
    with pytest.raises(ValueError, match="sort them"):
        window.add(9 * MINUTE, 30.0)
    with pytest.raises(ValueError, match="cannot go back"):
        window.at(9 * MINUTE)
    window.at(50 * MINUTE)
    with pytest.raises(ValueError, match="cannot go back"):
        window.at(40 * MINUTE)


steps = st.tuples(st.integers(0, 40 * MINUTE), st.none() | st.integers(130, 380).map(lambda tenth: tenth / 10))


@given(st.lists(steps, min_size=1, max_size=120), st.sampled_from([HOT, COLD]), st.integers(0, 60 * HOUR))
def test_reading_by_reading_is_the_same_as_an_exact_count_of_all_readings(
    stretches: list[tuple[int, float | None]], limit: ExposureLimit, later_ms: int
) -> None:
    """To half a millisecond for each crossing of the figure, by rounding."""
    window, readings, now_ms = ExposureWindow(limit, BRIDGE_MS), [], 1_760_000_000_000
    for step_ms, temperature_c in stretches:
        now_ms += step_ms
        readings.append((now_ms, temperature_c))
        window.add(now_ms, temperature_c)
        window.at(now_ms)
    found = window.at(now_ms + later_ms)
    beyond, unknown, watched = in_fractions(limit, readings, now_ms + later_ms)
    assert (found.unknown_ms, found.watched_ms) == (unknown, watched)
    assert abs(found.beyond_ms - beyond) <= len(readings)
    assert found == fed(limit, readings).at(now_ms + later_ms)


def test_what_is_kept_does_not_grow_with_the_history() -> None:
    """120 days of a temperature that passes the figure every ten minutes keep no more than one window's spells."""
    window, kept = ExposureWindow(HOT, BRIDGE_MS), []
    for reading in range(120 * 24 * 6):
        window.add(reading * 10 * MINUTE, 34.0 if reading % 2 else 30.0)
        kept.append(len(window._beyond._spans) + len(window._unknown._spans))
    assert max(kept) <= 24 * 6 + 1
    assert kept[-1] == kept[24 * 12 - 1]


@pytest.mark.parametrize(
    ("beyond_min", "unknown_min", "verdict"),
    [
        (0, 0, Verdict.WITHIN),
        (60, 0, Verdict.WITHIN),
        (60.1, 0, Verdict.PASSED),
        (40, 20, Verdict.WITHIN),
        (40, 21, Verdict.POSSIBLY_PASSED),
        (0, 1440, Verdict.POSSIBLY_PASSED),
        (61, 500, Verdict.PASSED),
    ],
)
def test_unknown_time_makes_a_limit_possibly_passed_and_never_passed(
    beyond_min: float, unknown_min: float, verdict: Verdict
) -> None:
    exposed = Exposed(round(beyond_min * MINUTE), round(unknown_min * MINUTE), 24 * HOUR)
    assert judge(HOT, exposed).verdict is verdict


def test_the_reason_says_how_long_of_what_is_known_and_whose_limit_it_is() -> None:
    assert judge(HOT, Exposed(45 * MINUTE, 30 * MINUTE, 3 * HOUR)).reason == (
        "above 33 °C for 45 min in the last 24 h, watched for 3.0 h of them, and nothing is known of 30 min; "
        "the limit is 60 min (Example 1999)"
    )
    assert judge(COLD, Exposed(45 * MINUTE, 0, 48 * HOUR)).reason == (
        "below 20 °C for 45 min in the last 48 h; the limit is 600 min (Example 1999)"
    )
