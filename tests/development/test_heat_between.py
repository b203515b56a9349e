"""Heat of a window: gaps are missing and never heat, windows add up, and the bulk integral agrees."""

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daemon.development.degree_hours import Heat, heat_between, season_degree_hours

ZERO_C, CAP_C = 16.0, 32.0
MINUTE_MS = 60_000
HOUR_MS = 3_600_000
BRIDGE_MS = 30 * MINUTE_MS

Samples = list[tuple[int, float]]


@st.composite
def records(draw: st.DrawFn, longest_step_ms: int = 60 * MINUTE_MS) -> Samples:
    """Irregular samples that cross zero and cap; a third of the steps is longer than the bridge unless limited."""
    time_ms = draw(st.integers(-2 * HOUR_MS, HOUR_MS))
    samples = []
    for _ in range(draw(st.integers(0, 25))):
        samples.append((time_ms, draw(st.floats(-5, 45))))
        time_ms += draw(st.one_of(st.integers(1, BRIDGE_MS), st.integers(1, longest_step_ms)))
    return samples


WINDOWS = st.tuples(st.integers(-HOUR_MS, 6 * HOUR_MS), st.integers(0, 6 * HOUR_MS))
CAPS = st.sampled_from([CAP_C, 20.0, None])
steady = settings(derandomize=True, deadline=None, max_examples=200)


def between(samples: Samples, start_ms: int, end_ms: int, cap_c: float | None = CAP_C) -> Heat:
    return heat_between(samples, start_ms, end_ms, ZERO_C, cap_c, BRIDGE_MS)


@steady
@given(samples=records(), window=WINDOWS, cap_c=CAPS)
def test_covered_and_missing_add_up_to_the_window_exactly(
    samples: Samples, window: tuple[int, int], cap_c: float | None
) -> None:
    start_ms, length_ms = window
    heat = between(samples, start_ms, start_ms + length_ms, cap_c)
    assert heat.covered_ms >= 0
    assert heat.missing_ms >= 0
    assert heat.covered_ms + heat.missing_ms == length_ms
    assert heat.covered_h + heat.missing_h == pytest.approx(length_ms / HOUR_MS, rel=1e-15, abs=0)


@steady
@given(samples=records(), window=WINDOWS, cap_c=CAPS)
def test_heat_is_never_negative_and_never_above_the_cap(
    samples: Samples, window: tuple[int, int], cap_c: float | None
) -> None:
    start_ms, length_ms = window
    heat = between(samples, start_ms, start_ms + length_ms, cap_c)
    warmest_c = min(max((c for _, c in samples), default=ZERO_C), math.inf if cap_c is None else cap_c)
    most_ch = max(0.0, warmest_c - ZERO_C) * heat.covered_h
    assert 0 <= heat.degree_hours_ch <= most_ch * (1 + 1e-12) + 1e-12


@steady
@given(samples=records(), window=WINDOWS, cuts=st.lists(st.floats(0, 1), max_size=5), cap_c=CAPS)
def test_windows_that_share_edges_add_up_to_the_whole(
    samples: Samples, window: tuple[int, int], cuts: list[float], cap_c: float | None
) -> None:
    start_ms, length_ms = window
    edges = sorted([start_ms, start_ms + length_ms, *(start_ms + round(cut * length_ms) for cut in cuts)])
    parts = [between(samples, begin, end, cap_c) for begin, end in pairwise(edges)]
    whole = between(samples, start_ms, start_ms + length_ms, cap_c)
    assert sum(part.covered_ms for part in parts) == whole.covered_ms
    assert sum(part.missing_ms for part in parts) == whole.missing_ms
    assert math.fsum(part.degree_hours_ch for part in parts) == pytest.approx(whole.degree_hours_ch, abs=1e-9)


@steady
@given(samples=records(longest_step_ms=BRIDGE_MS), cap_c=CAPS)
def test_without_gaps_the_bulk_integral_gives_the_same(samples: Samples, cap_c: float | None) -> None:
    start_ms, end_ms = (samples[0][0], samples[-1][0]) if samples else (0, 0)
    heat = between(samples, start_ms, end_ms, cap_c)
    times_h = np.array([t for t, _ in samples], float) / HOUR_MS
    bulk = season_degree_hours(times_h, np.array([c for _, c in samples], float), ZERO_C, cap_c)
    assert heat.missing_ms == 0
    assert heat.degree_hours_ch == pytest.approx(bulk, abs=1e-9)


@steady
@given(samples=records(), window=WINDOWS)
def test_more_neighbours_than_needed_change_nothing(samples: Samples, window: tuple[int, int]) -> None:
    start_ms, end_ms = window[0], window[0] + window[1]
    before = [sample for sample in samples if sample[0] < start_ms][-1:]
    inside = [sample for sample in samples if start_ms <= sample[0] <= end_ms]
    after = [sample for sample in samples if sample[0] > end_ms][:1]
    assert between(samples, start_ms, end_ms) == between([*before, *inside, *after], start_ms, end_ms)


def test_a_step_as_long_as_the_bridge_is_heat_and_one_longer_is_missing() -> None:
    # By hand: half an hour at 12 above zero is 6.
    bridged = between([(0, 28.0), (BRIDGE_MS, 28.0)], 0, BRIDGE_MS)
    assert (bridged.degree_hours_ch, bridged.covered_ms, bridged.missing_ms) == (6.0, BRIDGE_MS, 0)
    gap = between([(0, 28.0), (BRIDGE_MS + 1, 28.0)], 0, BRIDGE_MS + 1)
    assert (gap.degree_hours_ch, gap.covered_ms, gap.missing_ms) == (0.0, 0, BRIDGE_MS + 1)


def test_a_gap_is_missing_even_where_the_window_holds_only_a_bit_of_it() -> None:
    samples = [(0, 28.0), (2 * HOUR_MS, 28.0)]
    assert between(samples, HOUR_MS, HOUR_MS + MINUTE_MS) == Heat(0.0, 0, MINUTE_MS)


def test_edges_without_a_neighbour_are_missing() -> None:
    samples = [(10 * MINUTE_MS, 28.0), (30 * MINUTE_MS, 28.0)]
    heat = between(samples, 0, HOUR_MS)
    assert (heat.covered_ms, heat.missing_ms) == (20 * MINUTE_MS, 40 * MINUTE_MS)
    assert heat.degree_hours_ch == pytest.approx(4.0, abs=1e-12)  # by hand: 12 above zero for a third of an hour


def test_edges_with_neighbours_outside_are_interpolated() -> None:
    # By hand: from 20 to 26 °C over 20 min; the middle 10 min run from 21.5 to 24.5, 7 above zero on average.
    heat = between([(-5 * MINUTE_MS, 20.0), (15 * MINUTE_MS, 26.0)], 0, 10 * MINUTE_MS)
    assert heat.missing_ms == 0
    assert heat.degree_hours_ch == pytest.approx(7 / 6, abs=1e-12)


@pytest.mark.parametrize("samples", [[], [(30 * MINUTE_MS, 28.0)]])
def test_fewer_than_two_samples_leave_the_window_missing(samples: Samples) -> None:
    assert between(samples, 0, HOUR_MS) == Heat(0.0, 0, HOUR_MS)


def test_an_empty_window_is_nothing() -> None:
    assert between([(0, 28.0), (MINUTE_MS, 28.0)], 10, 10) == Heat(0.0, 0, 0)


def test_a_window_that_ends_before_it_begins_is_refused() -> None:
    with pytest.raises(ValueError, match="ends at 5 ms, before it begins at 10 ms"):
        between([], 10, 5)


def test_samples_out_of_order_are_refused() -> None:
    with pytest.raises(ValueError, match=r"not in order of time: 60000 ms comes after 120000 ms; sort"):
        between([(0, 28.0), (2 * MINUTE_MS, 28.0), (MINUTE_MS, 28.0), (HOUR_MS, 28.0)], 0, HOUR_MS)


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
@pytest.mark.parametrize("at", [0, 1])
@pytest.mark.parametrize("cap_c", [CAP_C, None])
def test_a_temperature_that_is_not_finite_is_refused(bad: float, at: int, cap_c: float | None) -> None:
    temperatures_c = [28.0, 28.0]
    temperatures_c[at] = bad
    with pytest.raises(ValueError, match="not a finite temperature"):
        between([(0, temperatures_c[0]), (MINUTE_MS, temperatures_c[1])], 0, MINUTE_MS, cap_c)


def test_a_bridge_of_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match="longest bridge is 0 ms; give 1 ms or more"):
        heat_between([], 0, HOUR_MS, ZERO_C, CAP_C, 0)


def test_a_cap_that_is_not_above_the_zero_is_refused() -> None:
    with pytest.raises(ValueError, match=r"cap of 16\.0 °C is not above the developmental zero of 16\.0 °C"):
        between([], 0, HOUR_MS, ZERO_C)
