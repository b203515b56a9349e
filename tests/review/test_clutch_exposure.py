"""Hours beyond a tolerance, by hand and against the window that alarms are raised by."""

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from config.species import ExposureLimit, SpeciesProfile, load_profiles
from daemon.development.exposure import ExposureWindow
from daemon.review.beyond import Lines
from daemon.review.clutch_exposure import (
    Course,
    Exposure,
    Extremes,
    Period,
    Tolerance,
    exposure,
    extremes,
    longest_look_back_ms,
    tolerances,
    unknown_course,
)
from daemon.review.values import Verdict

HOUR_MS = 3_600_000
SOURCE = "a paper of these tests"
LETHAL = Tolerance(32.0, is_above=True, hours=0.0, within_h=None, source="common practice, no source")
TWO_HOURS_A_DAY = Tolerance(32.0, is_above=True, hours=2.0, within_h=24, source=SOURCE)


def lines(points: Sequence[tuple[float, float]]) -> Lines:
    """Straight lines between (hour, °C)."""
    rows = [(one[0] * HOUR_MS, other[0] * HOUR_MS, one[1], other[1]) for one, other in pairwise(points)]
    return Lines(*np.array(rows, dtype=float).T)


def read(*points: tuple[float, float]) -> Course:
    along = lines(points)
    return Course(along, along, along)


def gap(from_h: float, to_h: float, low_c: float, best_c: float, high_c: float) -> Course:
    low, best, high = (lines([(from_h, each), (to_h, each)]) for each in (low_c, best_c, high_c))
    return Course(low, best, high, is_gap=True)


def hours(from_h: float, to_h: float) -> Period:
    return Period(round(from_h * HOUR_MS), round(to_h * HOUR_MS))


def test_a_line_is_beyond_from_where_it_crosses_the_figure() -> None:
    """From 30 to 34 °C in four hours: above 32 °C for the last two."""
    found = exposure(LETHAL, [read((0, 30.0), (4, 34.0))], hours(0, 4))
    assert found.hours == pytest.approx((2.0, 2.0, 2.0))
    assert found.verdict is Verdict.OUT


def test_at_the_figure_itself_nothing_is_beyond() -> None:
    found = exposure(LETHAL, [read((0, 30.0), (1, 32.0), (2, 32.0), (3, 30.0))], hours(0, 3))
    assert found == Exposure(LETHAL, (0.0, 0.0, 0.0), Verdict.IN)  # type: ignore[arg-type]


def test_time_before_the_period_does_not_count_for_a_lethal_limit() -> None:
    assert exposure(LETHAL, [read((0, 34.0), (4, 34.0))], hours(3, 4)).hours.high == pytest.approx(1.0)


def test_below_a_figure_the_coldest_course_bounds_the_time() -> None:
    cold = Tolerance(20.0, is_above=False, hours=3.0, within_h=24, source=SOURCE)
    found = exposure(cold, [gap(0, 4, 18.0, 21.0, 23.0)], hours(0, 4))
    assert found.hours == pytest.approx((0.0, 0.0, 4.0))
    assert found.verdict is Verdict.UNKNOWN


@pytest.mark.parametrize(
    ("low_c", "best_c", "high_c", "verdict", "expected"),
    [
        (33.0, 34.0, 35.0, Verdict.OUT, (3.0, 3.0, 3.0)),
        (30.0, 33.0, 35.0, Verdict.UNKNOWN, (0.0, 3.0, 3.0)),
        (28.0, 29.0, 31.9, Verdict.IN, (0.0, 0.0, 0.0)),
    ],
)
def test_a_gap_is_in_out_or_unknown_by_what_it_can_have_held(
    low_c: float, best_c: float, high_c: float, verdict: Verdict, expected: tuple[float, float, float]
) -> None:
    found = exposure(TWO_HOURS_A_DAY, [gap(0, 3, low_c, best_c, high_c)], hours(0, 3))
    assert found.verdict is verdict
    assert found.hours == pytest.approx(expected)


def test_a_gap_too_short_to_pass_the_limit_keeps_it_whatever_it_held() -> None:
    """An hour and a half measured beyond, and half an hour unknown: two hours at the most, and two hours are stood."""
    courses = [read((0, 33.0), (1.5, 33.0)), unknown_course(round(1.5 * HOUR_MS), 2 * HOUR_MS), read((2, 30), (9, 30))]
    found = exposure(TWO_HOURS_A_DAY, courses, hours(0, 9))
    assert found.verdict is Verdict.IN
    assert found.hours == pytest.approx((1.5, None, 2.0))


def test_two_spells_of_an_hour_that_no_window_holds_whole_count_for_an_hour_and_a_half() -> None:
    """From hour 0 to 1 and from 23.5 to 24.5: any 24 hours hold one and a half hours of them at the most."""
    points = [
        (0, 33.0),
        (1, 33.0),
        (1.0001, 30.0),
        (23.4999, 30.0),
        (23.5, 33.0),
        (24.5, 33.0),
        (24.5001, 30),
        (40, 30),
    ]
    found = exposure(TWO_HOURS_A_DAY, [read(*points)], hours(0, 40))
    assert found.hours.high == pytest.approx(1.5, abs=1e-3)


def test_a_window_that_ends_in_the_period_reaches_back_before_it() -> None:
    """Three hours beyond that ended ten hours before the period are in its first windows, and passed the limit."""
    found = exposure(
        TWO_HOURS_A_DAY, [read((0, 33.0), (3, 33.0), (3.001, 30), (13, 30)), read((13, 30), (20, 30))], hours(13, 20)
    )
    assert found.hours.low == pytest.approx(3.0, abs=1e-3)
    assert found.verdict is Verdict.OUT


def test_a_clutch_that_moved_has_the_hours_of_both_places() -> None:
    both = exposure(LETHAL, [read((0, 34), (2, 34)), gap(2, 5, 31, 33, 35)], hours(0, 5))
    first = exposure(LETHAL, [read((0, 34), (2, 34))], hours(0, 2))
    second = exposure(LETHAL, [gap(2, 5, 31, 33, 35)], hours(2, 5))
    assert both.hours == pytest.approx([one + other for one, other in zip(first.hours, second.hours, strict=True)])  # type: ignore[operator]


def test_nothing_known_at_all_is_unknown_and_nothing_bounds_it() -> None:
    found = exposure(LETHAL, [unknown_course(0, 5 * HOUR_MS)], hours(0, 5))
    assert found == Exposure(LETHAL, (0.0, None, 5.0), Verdict.UNKNOWN)  # type: ignore[arg-type]
    assert extremes([unknown_course(0, 5 * HOUR_MS)], hours(0, 5)) == Extremes(None, None, -math.inf, math.inf)


def test_extremes_keep_apart_what_was_measured_and_what_is_possible() -> None:
    courses = [read((0, 28.0), (2, 26.0)), gap(2, 4, 19.0, 24.0, 29.0), read((4, 25.0), (6, 27.0))]
    assert extremes(courses, hours(1, 6)) == Extremes(25.0, 27.0, 19.0, 29.0)
    assert extremes([], hours(0, 1)) is None


points = st.lists(
    st.tuples(st.integers(1, 240), st.floats(28, 36).map(lambda value: round(value, 2))), min_size=2, max_size=40
)


@settings(max_examples=60)
@given(points)
def test_measured_hours_are_those_of_the_window_that_alarms_are_raised_by(steps: list[tuple[int, float]]) -> None:
    """At each reading `ExposureWindow` has the same time; it rounds each crossing to the millisecond."""
    along = [(sum(step for step, _ in steps[:n]), value_c) for n, (_, value_c) in enumerate(steps)]
    course = read(*((at_min / 60, value_c) for at_min, value_c in along))
    whole = exposure(TWO_HOURS_A_DAY, [course], Period(0, along[-1][0] * 60_000))
    window = ExposureWindow(ExposureLimit(above_c=32.0, minutes=60.0, within_h=24, source=SOURCE), 240 * 60_000)
    for at_min, value_c in along:
        at_ms = at_min * 60_000
        window.add(at_ms, value_c)
        beyond_ms = window.at(at_ms).beyond_ms
        found = exposure(TWO_HOURS_A_DAY, [course], Period(at_ms, at_ms))
        assert found.hours.high * HOUR_MS == pytest.approx(beyond_ms, abs=len(along))
        assert whole.hours.high * HOUR_MS >= beyond_ms - len(along)


@given(st.lists(st.tuples(st.floats(20, 40), st.floats(0, 8), st.floats(0, 8)), min_size=1, max_size=12))
def test_hours_are_in_order_and_the_verdict_follows_from_them(gaps: list[tuple[float, float, float]]) -> None:
    courses = [gap(n, n + 1, c - down, c, c + up) for n, (c, down, up) in enumerate(gaps)]
    for tolerance in (LETHAL, TWO_HOURS_A_DAY):
        found = exposure(tolerance, courses, hours(0, len(gaps)))
        assert found.hours.best is not None
        assert 0 <= found.hours.low <= found.hours.best <= found.hours.high <= len(gaps) + 1e-6
        if found.verdict is Verdict.OUT:
            assert found.hours.low > tolerance.hours
        if found.verdict is Verdict.IN:
            assert found.hours.high <= tolerance.hours + 1e-4


def test_a_profile_states_lethal_limits_before_exposure_limits_each_with_its_source() -> None:
    profile = load_profiles()["eublepharis-macularius"]
    limit = ExposureLimit(below_c=20.0, minutes=90.0, within_h=48, source=SOURCE)
    found = tolerances(profile.model_copy(update={"exposure": (limit,)}))
    assert [(one.figure_c, one.is_above, one.hours, one.within_h) for one in found] == [
        (35.0, True, 0.0, None),
        (20.0, False, 1.5, 48),
    ]
    assert [one.is_published for one in found] == [True, True]
    assert longest_look_back_ms(found) == 48 * HOUR_MS


@pytest.mark.parametrize("profile", load_profiles().values(), ids=lambda one: one.id)
def test_no_profile_that_comes_along_has_a_tolerance_in_hours_so_none_may_be_told(profile: SpeciesProfile) -> None:
    """No published hours to death were found for the eggs of these species: see the sources of their lethal limits."""
    found = tolerances(profile)
    assert all(one.is_lethal and one.hours == 0 for one in found)
    assert all(one.is_published == ("no source" not in one.source) for one in found)
