"""Hours outside limits: every expected figure is reckoned by hand from straight lines."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daemon.placement.outside import Bounds, Course, is_enough, stay_of

HOUR_MS = 3_600_000
LIMITS = Bounds(24.0, 30.0, 10.0, 35.0, zero_c=12.0, cap_c=31.0)


def course(*points: tuple[float, float], gaps_before: tuple[int, ...] = ()) -> Course:
    """Points of hours and °C; a line leads to each but the first and those that are named."""
    joined = [number > 0 and number not in gaps_before for number in range(len(points))]
    return Course([hour * HOUR_MS for hour, _ in points], [value for _, value in points], joined)


def test_a_rise_through_the_upper_limit_is_cut_where_it_crosses() -> None:
    # From 28 to 32 °C in 48 h it passes 30 °C in the middle: 24 of 48 h above, 12 h of a mean day.
    stay = stay_of(course((0, 28.0), (48, 32.0)), LIMITS, 48.0)
    assert stay is not None
    assert stay.above.best == pytest.approx(12.0)
    assert stay.below.best == 0.0
    assert stay.outside == stay.above
    assert (stay.outside.low, stay.outside.high) == pytest.approx((12.0, 12.0))
    assert stay.mean_c == pytest.approx(30.0)
    assert stay.lethal.best == 0.0


def test_a_triangle_is_outside_on_both_sides_and_past_both_lethal_limits() -> None:
    # From 20 to 40 and back to 20 °C, 1 K an hour: 4 h below 24 °C, 10 h above 30 °C and 5 h above 35 °C, each twice.
    stay = stay_of(course((0, 20.0), (20, 40.0), (40, 20.0)), LIMITS, 40.0)
    assert stay is not None
    a_day = 24 / 40
    assert stay.below.best == pytest.approx(8 * a_day)
    assert stay.above.best == pytest.approx(20 * a_day)
    assert stay.lethal.best == pytest.approx(10 * a_day)
    assert (stay.least_c, stay.most_c) == (20.0, 40.0)


def test_heat_an_hour_is_cut_at_the_zero_and_at_the_cap() -> None:
    # 10 → 34 °C in 48 h at 0.5 K/h; zero 12, cap 31: 4 h nothing, 38 h of 9.5 K on average, 6 h of 19 K; mean 9.896 K.
    stay = stay_of(course((0, 10.0), (48, 34.0)), LIMITS, 48.0)
    assert stay is not None
    assert stay.rate_k == pytest.approx((38 * 9.5 + 6 * 19.0) / 48)


def test_a_gap_is_unknown_and_widens_what_is_told() -> None:
    # Of 96 h the middle 48 are unknown. Known: 24 h at 29 °C, and 24 h at 31 °C, all above.
    stay = stay_of(course((0, 29.0), (24, 29.0), (72, 31.0), (96, 31.0), gaps_before=(2,)), LIMITS, 96.0)
    assert stay is not None
    assert stay.known_h == pytest.approx(48.0)
    assert stay.unknown_h == pytest.approx(48.0)
    assert stay.above.best == pytest.approx(12.0)
    # All unknown time inside: 24 of 96 h; all of it outside: 72 of 96 h.
    assert (stay.outside.low, stay.outside.high) == pytest.approx((6.0, 18.0))
    assert (stay.lethal.low, stay.lethal.high) == pytest.approx((0.0, 12.0))


def test_nine_tenths_of_the_time_by_its_length_and_not_by_the_count_of_points() -> None:
    # 100 h: 3 h at 20 °C, 90 h at 28 °C, 7 h at 33 °C, joined by nothing, and many points in the short stretches.
    points: list[tuple[float, float]] = []
    gaps: list[int] = []
    for start, end, value, count in ((0, 3, 20.0, 50), (3, 93, 28.0, 2), (93, 100, 33.0, 50)):
        gaps.append(len(points))
        points += [(start + (end - start) * n / (count - 1), value) for n in range(count)]
    stay = stay_of(course(*points, gaps_before=tuple(gaps)), LIMITS, 100.0)
    assert stay is not None
    assert (stay.p5_c, stay.p95_c) == (28.0, 33.0)


def test_too_little_is_unknown_and_never_nothing_outside() -> None:
    # Project choice: a day at least, and a quarter of what was asked for.
    assert stay_of(course((0, 28.0), (23, 28.0)), LIMITS, 168.0) is None
    assert stay_of(course((0, 28.0), (41, 28.0)), LIMITS, 168.0) is None
    assert stay_of(course((0, 28.0), (43, 28.0)), LIMITS, 168.0) is not None
    assert stay_of(course(), LIMITS, 168.0) is None
    assert stay_of(course((0, 28.0)), LIMITS, 168.0) is None
    assert not is_enough(0.0, 24.0)


def test_a_clutch_without_a_lower_lethal_limit_and_without_a_basis() -> None:
    stay = stay_of(course((0, 2.0), (48, 2.0)), Bounds(24.0, 30.0, None, 35.0), 48.0)
    assert stay is not None
    assert (stay.below.best, stay.lethal.best, stay.rate_k) == (24.0, 0.0, None)


@given(st.lists(st.floats(-5, 45), min_size=3, max_size=40), st.floats(15, 27), st.floats(0, 10))
def test_below_inside_and_above_are_the_whole_time(values: list[float], low_c: float, width_k: float) -> None:
    hours = 60.0
    step = hours / (len(values) - 1)
    whole = course(*((number * step, value) for number, value in enumerate(values)))
    low, high = Bounds(low_c, low_c + width_k, None, None), Bounds(low_c + width_k, None, None, None)
    inside_or_below = stay_of(whole, high, hours)
    both = stay_of(whole, low, hours)
    assert inside_or_below is not None
    assert both is not None
    assert both.below.best + both.above.best <= 24 + 1e-6
    # Above a limit is the rest of below it, but for what lies exactly on it.
    on_it = sum(1 for value in values if math.isclose(value, low_c + width_k))
    if not on_it:
        assert both.above.best == pytest.approx(24 - inside_or_below.below.best, abs=1e-6)
    # Turned round, the same time is spent.
    backwards = course(*((number * step, value) for number, value in enumerate(reversed(values))))
    again = stay_of(backwards, low, hours)
    assert again is not None
    assert again.outside.best == pytest.approx(both.outside.best)


def test_known_hours_are_those_that_lines_lead_over() -> None:
    found = stay_of(course((0, 20.0), (5, 20.0), (9, 20.0), (10, 20.0), gaps_before=(2,)), LIMITS, 10.0)
    assert found is not None
    assert found.known_h == pytest.approx(6.0)
