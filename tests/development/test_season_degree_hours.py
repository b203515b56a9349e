"""The bulk integral: what it refuses, and properties that hold for any record."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daemon.development.degree_hours import season_degree_hours

ZERO_C, CAP_C = 16.0, 32.0


def total(times_h: list[float], temperatures_c: list[float], cap_c: float | None = CAP_C) -> float:
    return season_degree_hours(np.array(times_h, float), np.array(temperatures_c, float), ZERO_C, cap_c)


@settings(derandomize=True, deadline=None, max_examples=200)
@given(
    steps_h=st.lists(st.just(0.0) | st.floats(1e-6, 3), min_size=1, max_size=30),
    data=st.data(),
    cap_c=st.sampled_from([CAP_C, 24.0, None]),
)
def test_inserting_samples_on_the_straight_lines_changes_nothing(
    steps_h: list[float], data: st.DataObject, cap_c: float | None
) -> None:
    # Clipped trapezoids fail this: a sample put near a crossing changes them.
    count = len(steps_h) + 1
    temperatures_c = data.draw(st.lists(st.floats(-5, 45), min_size=count, max_size=count))
    times_h = np.concatenate([[0.0], np.cumsum(steps_h)])
    finer_h = np.unique(np.concatenate([times_h, np.linspace(0, times_h[-1], 57)]))
    keep = np.concatenate([[True], np.diff(times_h) > 0])
    coarse_h, coarse_c = times_h[keep], np.array(temperatures_c)[keep]
    finer_c = np.interp(finer_h, coarse_h, coarse_c)
    coarse = season_degree_hours(coarse_h, coarse_c, ZERO_C, cap_c)
    assert season_degree_hours(finer_h, finer_c, ZERO_C, cap_c) == pytest.approx(coarse, abs=1e-9)


def test_two_samples_at_one_time_are_a_step() -> None:
    # By hand: 2 h at 10 above zero, 3 h at 6 above zero.
    assert total([0, 2, 2, 5], [26, 26, 22, 22]) == pytest.approx(38, abs=1e-12)


def test_a_record_of_many_blocks_gives_the_closed_form_of_its_days() -> None:
    # By hand: a day from 10 to 30 °C and back is above 15 °C for 18 h, 7.5 on average: 135 degree-hours.
    days = 20_000
    times_h = np.arange(0.0, 24 * days + 1, 6)
    temperatures_c = np.append(np.tile([10.0, 20.0, 30.0, 20.0], days), 10.0)
    assert season_degree_hours(times_h, temperatures_c, 15.0, None) == pytest.approx(135 * days, abs=1e-6, rel=0)
    temperatures_c[-2] = math.nan
    with pytest.raises(ValueError, match=rf"at {times_h[-2]} h is nan"):
        season_degree_hours(times_h, temperatures_c, 15.0, None)


@pytest.mark.parametrize("temperatures_c", [[], [28.0]])
def test_fewer_than_two_samples_are_no_heat(temperatures_c: list[float]) -> None:
    assert total([0.0][: len(temperatures_c)], temperatures_c) == 0


@settings(derandomize=True, deadline=None, max_examples=200)
@given(
    zero_c=st.floats(10, 30), steps_h=st.lists(st.floats(0.001, 3), min_size=1, max_size=30), below_k=st.floats(0, 9)
)
def test_cold_time_never_takes_heat_away(zero_c: float, steps_h: list[float], below_k: float) -> None:
    times_h = np.cumsum(steps_h)
    cold_c = np.full(times_h.size, zero_c - below_k)
    assert season_degree_hours(times_h, cold_c, zero_c, None) == 0
    cold_c[-1] = math.nextafter(zero_c, math.inf)  # warm by the least there is: rounding may not make it less than none
    assert 0 <= season_degree_hours(times_h, cold_c, zero_c, None) < 1e-9


def test_cold_time_is_exactly_no_heat() -> None:
    assert total([0.1, 0.7, 1.9, 2.3], [15.9, -3.0, 16.0, 12.0]) == 0


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
@pytest.mark.parametrize("at", [0, 1, 2])
def test_a_temperature_that_is_not_finite_is_refused_with_its_time(bad: float, at: int) -> None:
    temperatures_c = [28.0, 12.0, 35.0]
    temperatures_c[at] = bad
    with pytest.raises(ValueError, match=rf"temperature at {at}\.0 h is .* not a finite number"):
        total([0, 1, 2], temperatures_c)


@pytest.mark.parametrize(
    ("times_h", "words"),
    [
        ([0, 2, 1], "Time 2 is before time 1, or one"),
        ([0, math.nan, 2], "Time 1 is before time 0, or one"),
        ([math.nan, 1, 2], "Time 1 is before time 0, or one"),
        ([0, 1, math.inf], "first or last time is not a finite number"),
        ([-math.inf, 0, 1], "first or last time is not a finite number"),
    ],
)
def test_times_out_of_order_or_not_finite_are_refused(times_h: list[float], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        total(times_h, [28, 28, 28])


def test_the_place_where_times_fall_is_named() -> None:
    with pytest.raises(ValueError, match=r"Time 3 is before time 2, or .*; sort the samples by time"):
        total([0, 1, 5, 4, 6], [28, 28, 28, 28, 28])


def test_unequal_lengths_are_refused_with_both() -> None:
    with pytest.raises(ValueError, match=r"Times \(2,\) and temperatures \(3,\) differ"):
        total([0, 1], [28, 28, 28])


@pytest.mark.parametrize("cap_c", [16.0, 10.0, math.nan, math.inf])
def test_a_cap_that_is_not_above_the_zero_is_refused(cap_c: float) -> None:
    with pytest.raises(ValueError, match="is not above the developmental zero of"):
        total([0, 1], [28, 28], cap_c)


def test_a_zero_that_is_not_a_number_is_refused() -> None:
    with pytest.raises(ValueError, match="developmental zero is nan"):
        season_degree_hours(np.array([0.0, 1.0]), np.array([28.0, 28.0]), math.nan, None)
