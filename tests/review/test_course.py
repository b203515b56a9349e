"""The course inside a gap: exact where Newton's law is, honest where nothing is known."""

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad, solve_ivp

from daemon.climate.cooling import RoomAir, TimeConstant
from daemon.review.course import GapCourse, GapKind
from daemon.review.estimate import gap_course
from daemon.review.gap_values import Around, HeatOff, Known
from daemon.review.passive import FastestRise, Passive
from daemon.review.values import Bounds, Span

H = 3_600_000
LOST = HeatOff(Span(0, None), "", "The mains were lost.")
SURE = Passive((20, 20, 20), (4, 4, 4), (0, 0, 0))
"""One lump, four hours, a room at 20 °C, all of it without any doubt."""
UNSURE = Passive.of((RoomAir(20, 1, measured=False),) * 3, TimeConstant(4, 0.3, 5), in_box=False)
HEATER = FastestRise(((0.5, 3.0), (1.0, 4.0)))


def cooled(start_c: float, hours: float, room_c: float = 20, constant_h: float = 4) -> float:
    return room_c + (start_c - room_c) * math.exp(-hours / constant_h)


def gap(hours: float, before_c: float | None = 31, after_c: float | None = None, slope: float | None = None) -> Around:
    """A gap of so many hours from time 0 on."""
    before = None if before_c is None else Known(0, before_c)
    after = None if after_c is None else Known(round(hours * H), after_c)
    return Around(0, round(hours * H), before, after, slope, noise_k=0.0)


def course_of(around: Around, passive: Passive | None = SURE, off: HeatOff | None = LOST) -> GapCourse:
    return gap_course(around, passive, None, off)


def test_the_published_example_of_a_cooling_comes_out_exactly() -> None:
    """Room 20, start 31, time constant 4 h: 24 °C is passed after 4 ln(11/4) h, by hand from Newton's law."""
    time = course_of(gap(6, after_c=cooled(31, 6))).time_beyond_ms(24, above=False)
    assert [6 - each / H for each in time if each is not None] == pytest.approx([4 * math.log(11 / 4)] * 3, abs=1e-4)


@pytest.mark.parametrize(
    ("limit_c", "hours"), [(30, 0.381241), (28, 1.273815), (26, 2.424543), (22, 6.818992), (21, 9.591581)]
)
def test_every_limit_on_the_way_is_passed_when_it_should(limit_c: float, hours: float) -> None:
    """Times by 4 ln(11/(limit - 20)), to six places."""
    best = course_of(gap(12)).time_beyond_ms(limit_c, above=False).best
    assert best is not None
    assert 12 - best / H == pytest.approx(hours, abs=1e-3)


def test_degree_hours_agree_with_quadrature() -> None:
    expected, _ = quad(lambda hours: max(0.0, 24 - cooled(31, hours)), 0, 6, points=[4 * math.log(11 / 4)])
    found = course_of(gap(6, after_c=cooled(31, 6))).degree_hours_beyond(24, above=False)
    assert found == pytest.approx(Bounds(expected, expected, expected), abs=1e-3)


def test_a_cooling_on_file_lies_between_the_bounds() -> None:
    """A table of Newton's law with room 20 °C and 4 h: 17 moments, of which the first and the last are told."""
    rows = [(at / 4, cooled(31, at / 4)) for at in range(17)]
    course = gap_course(gap(4, after_c=rows[-1][1]), UNSURE, None, LOST)
    for hours, value_c in rows:
        low_c, high_c = (np.interp(hours * H, course.at_ms, each) for each in (course.low_c, course.high_c))
        assert low_c <= value_c + 1e-9
        assert high_c >= value_c - 1e-9


def test_without_a_reading_after_it_goes_on_cooling() -> None:
    course = course_of(gap(8))
    assert course.coldest_c == pytest.approx(Bounds(*[cooled(31, 8)] * 3))
    assert course.heat_back_ms is None


def test_without_a_reading_before_only_the_room_and_the_reading_after_speak() -> None:
    course = course_of(gap(8, before_c=None, after_c=25))
    assert course.coldest_c == Bounds(20, None, 25)
    # What can have cooled down to the reading after: the air may have stood as far again above the room.
    assert course.high_c[-2] == pytest.approx(20 + 5 / 0.5, abs=0.01)
    assert course.high_c[0] == pytest.approx(20 + 5 / 0.5 * math.exp(8 / 4))


def test_with_no_reading_at_all_nothing_above_is_known() -> None:
    course = course_of(gap(8, before_c=None), off=None)
    assert course.time_beyond_ms(35, above=True) == Bounds(0, None, 8 * H)
    assert course.degree_hours_beyond(35, above=True).high == math.inf
    assert course.time_beyond_ms(19, above=False) == Bounds(0, None, 0)
    assert "Unknown above" in course.reason


def test_with_no_room_nothing_below_is_known() -> None:
    course = gap_course(gap(8, after_c=25), None, HEATER, None)
    assert course.time_beyond_ms(10, above=False) == Bounds(0, 0, 8 * H)
    assert "Unknown below" in course.reason


def test_without_a_time_constant_it_is_not_colder_than_the_room_nor_warmer_than_before() -> None:
    room_alone = Passive((18, 20, 22), None)
    course = course_of(gap(6, after_c=cooled(31, 6)), room_alone)
    assert (course.coldest_c.low, course.hottest_c.high) == (18, 31)
    # The best estimate is the one curve of Newton's law to a room of 20 °C through both readings.
    assert np.interp(3 * H, course.at_ms, course.best_c) == pytest.approx(cooled(31, 3), abs=1e-3)


def test_nobody_knows_is_a_straight_line_between_bounds_and_wider() -> None:
    around = gap(6, after_c=cooled(31, 6))
    known, unknown = course_of(around, UNSURE), course_of(around, UNSURE, off=None)
    assert unknown.kind is GapKind.NOBODY_KNOWS
    assert np.interp(3 * H, unknown.at_ms, unknown.best_c) == pytest.approx((31 + cooled(31, 6)) / 2)
    known_h, unknown_h = (each.time_beyond_ms(26, above=False) for each in (known, unknown))
    assert known_h.high - known_h.low < 0.75 * (unknown_h.high - unknown_h.low)


def test_a_heater_that_was_seen_bounds_the_upper_side() -> None:
    """By hand: 1.25 times 4 K in the first hour and so on in proportion, since the 3 K in half an hour are faster."""
    course = gap_course(gap(2, after_c=31), SURE, HEATER, None)
    at = {hours: float(np.interp(hours * H, course.at_ms, course.high_c)) for hours in (0.25, 0.5, 1.0)}
    assert at == pytest.approx({0.25: 31 + 1.25 * 3, 0.5: 31 + 1.25 * 3, 1.0: 31 + 1.25 * 4}, abs=0.02)


def test_a_reading_colder_than_any_cooling_is_told_and_widens_the_bounds() -> None:
    course = course_of(gap(1, after_c=22.0), UNSURE)
    assert course.contradiction
    assert "a door was open" in course.reason
    assert course.coldest_c.low == 18  # two kelvin below the room as it is stated, which is ±1 K


def test_a_reading_hotter_than_the_heater_ever_made_is_told() -> None:
    course = gap_course(gap(1, after_c=40), SURE, HEATER, None)
    assert course.contradiction
    assert "hotter after the gap" in course.reason


def back_course(hours_off: float, hours_on: float) -> GapCourse:
    """Cooling by Newton's law, then straight up by 5 K an hour, on for a while behind the gap."""
    after_c = cooled(31, hours_off) + 5 * hours_on
    return gap_course(gap(hours_off + hours_on, after_c=after_c, slope=5.0), SURE, None, LOST)


@pytest.mark.parametrize(("hours_off", "hours_on"), [(4, 0.5), (6, 1.0), (8, 0.25)])
def test_the_heat_came_back_where_cooling_and_warming_meet(hours_off: float, hours_on: float) -> None:
    course = back_course(hours_off, hours_on)
    assert course.heat_back_ms == pytest.approx(hours_off * H, abs=60_000)
    assert course.coldest_c.best == pytest.approx(cooled(31, hours_off), abs=0.02)


def test_readings_that_still_fall_behind_the_gap_bound_how_cold_it_was_in_it() -> None:
    """Without heat all the time, 4 h before a reading 3 K above a room of 20 °C it was about 3 e K above it."""
    told, untold = (course_of(gap(6, after_c=23, slope=slope), UNSURE) for slope in (-1.0, None))
    told_c, untold_c = (float(np.interp(2 * H, each.at_ms, each.low_c)) for each in (told, untold))
    assert untold_c < told_c < 20 + 3 * math.e


@pytest.mark.parametrize("in_box", [False, True])
def test_a_box_that_still_falls_says_nothing_of_the_heater(in_box: bool) -> None:
    passive = Passive.of((RoomAir(20, 1, measured=False),) * 3, TimeConstant(4, 0.3, 5), in_box=in_box)
    falling, unknown = (course_of(gap(6, after_c=23, slope=slope), passive) for slope in (-1.0, None))
    assert bool((falling.low_c == unknown.low_c).all()) is in_box


def test_a_return_that_somebody_saw_is_taken() -> None:
    off = HeatOff(Span(0, 5 * H), "", "The mains were lost.")
    course = gap_course(gap(8, after_c=30), UNSURE, HEATER, off)
    assert course.heat_back_ms == 5 * H
    assert course.coldest_c.best == pytest.approx(np.interp(5 * H, course.at_ms, course.best_c))


def test_heat_that_came_back_at_an_unknown_time_leaves_no_best_estimate() -> None:
    course = course_of(gap(8, after_c=31), UNSURE)
    assert course.time_beyond_ms(28, above=False).best is None
    assert course.hottest_c.high == 32  # as the readings around, and a kelvin for a heater that overshoots


def test_a_heater_that_failed_long_after_the_reading_before_leaves_the_time_until_then_open() -> None:
    off = HeatOff(Span(4 * H, None), "", "The mains were lost.")
    course = gap_course(gap(8, after_c=25), UNSURE, None, off)
    assert np.interp(2 * H, course.at_ms, course.high_c) > 40
    assert np.interp(3 * H, course.at_ms, course.best_c) == pytest.approx(31)


def test_evidence_of_another_time_is_none() -> None:
    off = HeatOff(Span(-5 * H, -H), "", "The mains were lost.")
    assert gap_course(gap(8, after_c=25), UNSURE, None, off).kind is GapKind.NOBODY_KNOWS


def test_a_gap_without_length_is_refused() -> None:
    with pytest.raises(ValueError, match="no length"):
        course_of(gap(0))


def test_a_part_beyond_the_gap_is_refused() -> None:
    with pytest.raises(ValueError, match="no part of a gap"):
        course_of(gap(8)).part(-H, H)


@pytest.mark.parametrize(("place", "holds"), [("north", True), ("north/upper", True), ("northern", False), ("", False)])
def test_evidence_speaks_of_all_that_lies_in_its_place(place: str, holds: bool) -> None:
    assert HeatOff(Span(0, None), "north", "").holds_for(place) is holds
    assert HeatOff(Span(0, None), "", "").holds_for(place)


def test_an_independent_solver_stays_between_the_bounds() -> None:
    """Two lumps by scipy's solve_ivp: air of 3 kJ/K on contents of 50 kJ/K by 8 W/K, losing 1.6 W/K to 20 °C."""
    air, contents, inside, loss = 3e3, 50e3, 8.0, 1.6

    def rates(_: float, now: np.ndarray) -> list[float]:
        flow = inside * (now[0] - now[1])
        return [(-loss * (now[0] - 20) - flow) / air, flow / contents]

    matrix = np.array([[-(loss + inside) / air, inside / air], [inside / contents, -inside / contents]])
    slowest = float(np.linalg.eigvals(matrix).real.max())
    solved = solve_ivp(rates, (0, 6 * 3600), [30.0, 30.0], rtol=1e-8, dense_output=True)
    dense = solved.sol
    assert dense is not None
    passive = Passive.of(
        (RoomAir(20, 0.3, measured=True),) * 3, TimeConstant(-1 / slowest / 3600, 0.2, 5), in_box=False
    )
    around = gap(6, before_c=30, after_c=float(solved.y[0, -1]))
    course = gap_course(around, passive, None, LOST)
    truth = dense(course.at_ms / 1000)[0]
    assert (truth >= course.low_c - 0.05).all()
    assert (truth <= course.high_c + 0.05).all()
    assert np.abs(truth - course.best_c).max() < 0.8


numbers = st.floats(15, 40)
passives = st.builds(
    lambda room_c, room_u, constant_h, share, in_box: Passive.of(
        (RoomAir(room_c, room_u, measured=False),) * 3,
        None if constant_h is None else TimeConstant(constant_h, share * constant_h, 5),
        in_box=in_box,
    ),
    st.floats(10, 32),
    st.floats(0.1, 3),
    st.none() | st.floats(0.3, 30),
    st.floats(0, 0.5),
    st.booleans(),
)
arounds = st.builds(gap, st.floats(0.3, 200), st.none() | numbers, st.none() | numbers, st.none() | st.floats(-10, 10))
offs = st.none() | st.builds(
    lambda begin, length: HeatOff(
        Span(round(begin * H), None if length is None else round((begin + length) * H)), "", "Off."
    ),
    st.floats(-5, 100),
    st.none() | st.floats(0.01, 100),
)
courses = st.builds(gap_course, arounds, st.none() | passives, st.none() | st.just(HEATER), offs)


@given(courses)
def test_the_three_curves_never_cross(course: GapCourse) -> None:
    assert (np.diff(course.at_ms) > 0).all()
    assert (course.low_c <= course.high_c).all()
    known = ~np.isnan(course.best_c)
    assert (course.low_c[known] <= course.best_c[known]).all()
    assert (course.best_c[known] <= course.high_c[known]).all()


@given(courses, numbers, st.booleans())
def test_bounds_are_in_order_and_within_the_gap(course: GapCourse, limit_c: float, above: bool) -> None:
    for bounds, most in (
        (course.time_beyond_ms(limit_c, above=above), course.length_ms + 1),
        (course.degree_hours_beyond(limit_c, above=above), math.inf),
        (course.coldest_c, math.inf),
        (course.hottest_c, math.inf),
    ):
        assert bounds.low <= (bounds.low if bounds.best is None else bounds.best) <= bounds.high <= most


@given(courses, numbers, st.booleans(), st.floats(0.05, 0.95))
def test_a_gap_that_is_split_adds_up(course: GapCourse, limit_c: float, above: bool, share: float) -> None:
    middle = course.span.from_ms + round(share * course.length_ms)
    parts = [course.part(*ends) for ends in pairwise([course.span.from_ms, middle, course.end_ms])]
    for ask, slack in ((GapCourse.time_beyond_ms, 5.0), (GapCourse.degree_hours_beyond, 1e-4)):
        whole, split = ask(course, limit_c, above=above), [ask(part, limit_c, above=above) for part in parts]
        assert sum(each.low for each in split) == pytest.approx(whole.low, abs=slack, rel=1e-6)
        assert sum(each.high for each in split) == pytest.approx(whole.high, abs=slack, rel=1e-6)


@given(courses)
def test_what_it_rests_on_is_said_in_sentences(course: GapCourse) -> None:
    assert course.reason.endswith(".")
    assert "None" not in course.reason
    assert "nan" not in course.reason
