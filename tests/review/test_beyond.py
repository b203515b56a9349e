"""Time and degree-hours of straight lines beyond a limit."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from daemon.review.beyond import Lines, cut, joined, merged, outside, runs_outside

H = 3_600_000.0


def through(*points: tuple[float, float]) -> Lines:
    """Straight lines from point to point: hours and values."""
    at, value = np.array(points, dtype=float).T
    return Lines(at[:-1] * H, at[1:] * H, value[:-1], value[1:])


RAMP = through((0, 30), (4, 22))
"""Two kelvin an hour down: below 25 from 2.5 h on, so for 1.5 h, by 3 K at the end: 1.5 * 3 / 2 = 2.25 K h."""


def test_a_ramp_is_cut_where_it_crosses() -> None:
    assert outside(RAMP, 25, above=False) == pytest.approx((1.5 * H, 2.25))
    assert outside(RAMP, 25, above=True) == pytest.approx((2.5 * H, 2.5 * 5 / 2))


def test_the_run_begins_where_it_crosses() -> None:
    below, above = runs_outside(RAMP, 25, above=False), runs_outside(RAMP, 25, above=True)
    assert (below.from_ms.tolist(), below.to_ms.tolist()) == ([2.5 * H], [4 * H])
    assert (above.from_ms.tolist(), above.to_ms.tolist()) == ([0], [2.5 * H])


def test_nothing_at_the_limit_itself_is_outside() -> None:
    flat = through((0, 25), (4, 25))
    assert outside(flat, 25, above=False) == outside(flat, 25, above=True) == (0, 0)
    assert runs_outside(flat, 25, above=False).longest_ms == 0


def test_a_run_over_several_lines_is_one() -> None:
    valley = through((0, 26), (1, 24), (2, 23), (3, 24), (4, 26), (5, 24))
    runs = runs_outside(valley, 25, above=False)
    assert runs.from_ms.tolist() == [0.5 * H, 4.5 * H]
    assert runs.to_ms.tolist() == [3.5 * H, 5 * H]
    assert runs.longest_ms == 3 * H


@pytest.mark.parametrize(("value", "below", "above"), [(-math.inf, math.inf, 0.0), (math.inf, 0.0, math.inf)])
def test_what_nothing_bounds_is_outside_on_one_side_without_end(value: float, below: float, above: float) -> None:
    lines = through((0, value), (2, value))
    assert outside(lines, 25, above=False) == ((2 * H if below else 0), below)
    assert outside(lines, 25, above=True) == ((2 * H if above else 0), above)


def test_a_line_into_the_unbounded_counts_whole() -> None:
    assert outside(through((0, 20), (1, math.inf)), 25, above=True) == (H, math.inf)
    assert outside(through((0, 20), (1, math.inf)), 25, above=False) == (0, 0)


def test_what_is_not_known_is_not_a_number() -> None:
    assert all(map(math.isnan, outside(through((0, 24), (1, 24), (2, math.nan)), 25, above=False)))


def test_a_cooling_as_lines_agrees_with_quadrature() -> None:
    """Newton's law by 2,000 lines against scipy's adaptive quadrature of the curve itself."""
    at = np.linspace(0, 8, 2001)
    lines = through(*zip(at.tolist(), (20 + 11 * np.exp(-at / 4)).tolist(), strict=True))
    expected, _ = quad(
        lambda hours: max(0.0, 24 - (20 + 11 * math.exp(-hours / 4))), 0, 8, points=[4 * math.log(11 / 4)]
    )
    assert outside(lines, 24, above=False)[1] == pytest.approx(expected, abs=1e-5)
    assert outside(lines, 24, above=False)[0] / H == pytest.approx(8 - 4 * math.log(11 / 4), abs=1e-5)


values = st.floats(10, 40)
courses = st.lists(values, min_size=2, max_size=12).map(lambda found: through(*enumerate(found)))


@given(courses, values, st.floats(0, 1), st.booleans())
def test_both_parts_of_a_split_add_up(lines: Lines, limit: float, share: float, above: bool) -> None:
    end_ms = float(lines.to_ms[-1])
    parts = [cut(lines, 0, share * end_ms), cut(lines, share * end_ms, end_ms)]
    whole = outside(lines, limit, above=above)
    assert np.sum([outside(part, limit, above=above) for part in parts], axis=0) == pytest.approx(whole, abs=1e-3)
    assert outside(joined(parts[::-1]), limit, above=above) == pytest.approx(whole, abs=1e-3)


@given(courses, values)
def test_below_and_above_are_all_of_the_time_but_for_what_is_at_the_limit(lines: Lines, limit: float) -> None:
    below, above = outside(lines, limit, above=False), outside(lines, limit, above=True)
    at_limit = float(((lines.first == limit) & (lines.last == limit)).sum()) * H
    assert below[0] + above[0] + at_limit == pytest.approx(float(lines.to_ms[-1]), abs=1e-3)
    mean = float(((lines.first + lines.last) / 2 - limit).sum())
    assert above[1] - below[1] == pytest.approx(mean, abs=1e-6)


@given(courses, values, st.booleans())
def test_the_runs_hold_all_the_time_outside(lines: Lines, limit: float, above: bool) -> None:
    runs = runs_outside(lines, limit, above=above)
    assert float((runs.to_ms - runs.from_ms).sum()) == pytest.approx(outside(lines, limit, above=above)[0], abs=1e-2)
    assert (runs.from_ms[1:] > runs.to_ms[:-1]).all()


def test_stretches_that_touch_are_one() -> None:
    runs = merged(np.array([0.0, 1.0, 3.0]), np.array([1.0, 2.0, 4.0]))
    assert (runs.from_ms.tolist(), runs.to_ms.tolist()) == ([0, 3], [2, 4])
