"""The damped temperature is the exact answer of a first-order lag to a line from reading to reading."""

import math
from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import signal

from daemon.alarms.damping import Damped, Lag, after, after_all, at_latest, from_fields, to_fields
from daemon.alarms.state_json import StateError

MINUTE_MS = 60_000
TEN_MIN = Lag(10 * MINUTE_MS)
START_MS = 1_780_000_000_000

steps_s = st.integers(1, 900)
values_c = st.floats(-10, 50)
series = st.lists(st.tuples(steps_s, values_c), min_size=1, max_size=40)


def timed(found: Sequence[tuple[int, float]]) -> list[tuple[int, float]]:
    at_ms, readings = START_MS, []
    for step_s, value_c in found:
        at_ms += step_s * 1000
        readings.append((at_ms, value_c))
    return readings


def damped(readings: Sequence[tuple[int, float]], lag: Lag = TEN_MIN) -> Damped:
    state: Damped | None = None
    for at_ms, value_c in readings:
        state = after(state, lag, at_ms, value_c)
    assert state is not None
    return state


@given(found=series)
def test_it_is_what_a_simulation_of_the_lag_gives(found: list[tuple[int, float]]) -> None:
    """scipy.signal.lsim of 1 / (600 s + 1), on a grid of seconds that has every reading on it."""
    readings = timed([(1, 28.0), *found])
    seconds = np.array([at_ms - readings[0][0] for at_ms, _ in readings]) / 1000
    grid = np.arange(seconds[-1] + 1)
    driven = np.interp(grid, seconds, [value_c for _, value_c in readings]) - readings[0][1]
    _, response, _ = signal.lsim(([1.0], [600.0, 1.0]), driven, grid)
    assert damped(readings).damped_c == pytest.approx(readings[0][1] + response[-1], abs=1e-6)


def test_behind_a_steady_rise_it_lags_by_the_time_constant() -> None:
    """The textbook answer of a first-order lag to a ramp: it follows at the same rate, one time constant later."""
    readings = [(START_MS + minute * MINUTE_MS, 28 + 0.1 * minute) for minute in range(200)]
    assert damped(readings).damped_c == pytest.approx(28 + 0.1 * (199 - 10), abs=1e-6)


def test_a_jump_is_followed_by_63_percent_in_one_time_constant() -> None:
    """1 - 1/e = 0.632; the jump itself takes a second."""
    jump = [(START_MS, 28.0), (START_MS + 1000, 32.0), (START_MS + 1000 + 10 * MINUTE_MS, 32.0)]
    assert damped(jump).damped_c == pytest.approx(28 + 4 * (1 - math.exp(-1)), abs=0.002)


@given(value_c=values_c, count=st.integers(1, 50))
def test_of_air_that_stays_as_it_is_nothing_is_made_up(value_c: float, count: int) -> None:
    assert damped([(START_MS + n * 777, value_c) for n in range(count)]).damped_c == value_c


@given(found=series)
def test_it_never_leaves_the_range_of_what_was_read(found: list[tuple[int, float]]) -> None:
    values = [value_c for _, value_c in found]
    assert min(values) - 1e-9 <= damped(timed(found)).damped_c <= max(values) + 1e-9


@given(found=series, pieces=st.integers(2, 60))
def test_a_line_in_pieces_is_the_same_line(found: list[tuple[int, float]], pieces: int) -> None:
    readings = timed([(1, 20.0), *found])
    (from_ms, from_c), (to_ms, to_c) = readings[-2:]
    parts = [n / pieces for n in range(1, pieces)]
    between = [(from_ms + round(part * (to_ms - from_ms)), part) for part in parts]
    exact = [(at_ms, from_c + (to_c - from_c) * (at_ms - from_ms) / (to_ms - from_ms)) for at_ms, _ in between]
    cut = damped([*readings[:-1], *exact, readings[-1]])
    assert cut.damped_c == pytest.approx(damped(readings).damped_c, abs=1e-9)


@given(found=series)
def test_many_at_once_are_to_the_last_bit_what_one_by_one_gives(found: list[tuple[int, float]]) -> None:
    readings = timed(found)
    first = damped(readings[:1])
    assert after_all(first, TEN_MIN, readings[1:]) == damped(readings)


def test_after_a_step_longer_than_the_bridge_it_begins_again_at_the_reading() -> None:
    lag = Lag(10 * MINUTE_MS, 30 * MINUTE_MS)
    bridged = damped([(START_MS, 28.0), (START_MS + 30 * MINUTE_MS, 20.0)], lag)
    assert 20 < bridged.damped_c < 28
    assert damped([(START_MS, 28.0), (START_MS + 30 * MINUTE_MS + 1, 20.0)], lag).damped_c == 20.0


def test_a_late_or_doubled_reading_changes_nothing() -> None:
    before = damped([(START_MS, 28.0), (START_MS + MINUTE_MS, 30.0)])
    assert after(before, TEN_MIN, START_MS + MINUTE_MS, 99.0) == before
    assert after(before, TEN_MIN, START_MS + 30_000, 99.0) == before


@given(found=series)
def test_without_damping_it_is_the_reading(found: list[tuple[int, float]]) -> None:
    assert damped(timed(found), Lag(0)).damped_c == found[-1][1]


def test_no_time_lies_ahead_after_a_clock_was_set_back() -> None:
    before = Damped(START_MS, 28.0, 27.5)
    assert at_latest(before, START_MS - 5) == Damped(START_MS - 5, 28.0, 27.5)
    assert at_latest(before, START_MS) == before
    assert at_latest(None, START_MS) is None


def test_it_is_read_back_as_it_was_written_and_nothing_else_is() -> None:
    written = to_fields(Damped(START_MS, 28.1, 27.523456789012345))
    assert from_fields(written) == Damped(START_MS, 28.1, 27.523456789012345)
    for wrong in (
        None,
        {},
        {**written, "more": 1},
        {**written, "at_ms": 1.5},
        {**written, "at_ms": True},
        {**written, "damped_c": "27"},
        {**written, "value_c": math.nan},
    ):
        with pytest.raises(StateError):
            from_fields(wrong)


@pytest.mark.parametrize(("time_constant_ms", "bridge_ms"), [(-1, 1), (math.nan, 1), (math.inf, 1), (1, 0), (1, -1)])
def test_a_lag_by_which_nothing_could_be_damped_is_refused(time_constant_ms: float, bridge_ms: float) -> None:
    with pytest.raises(ValueError, match="time constant"):
        Lag(time_constant_ms, bridge_ms)
