"""The trend's line against other methods: closed-form least squares, Theil and Sen, and a fit with known noise."""

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.linalg import toeplitz
from scipy.stats import theilslopes

from daemon.climate.humidity_trend import crossing, humidity_trend
from tests.climate.drying import slow_noise

HOURS: NDArray[np.float64] = np.arange(-168.0, 0.0) + 0.5


def cycle(swing_pct: float) -> NDArray[np.float64]:
    swings: NDArray[np.float64] = swing_pct * np.cos(2 * np.pi * (HOURS - 5) / 24)
    return swings


@pytest.mark.parametrize("seed", range(8))
def test_the_slope_is_near_that_of_theil_and_sen_where_both_are_made_for_the_noise(seed: int) -> None:
    draw = np.random.default_rng(seed)
    values = 85 - 1.2 * HOURS / 24 + draw.normal(0, 0.5, len(HOURS))
    other = theilslopes(values, HOURS / 24, alpha=0.95)
    trend = humidity_trend(HOURS, values)
    assert trend.slope_pct_day == pytest.approx(other.slope, abs=0.05)
    low, high = trend.slope_quantile(0.025), trend.slope_quantile(0.975)
    assert low < -1.2 < high or other.low_slope > -1.2 or other.high_slope < -1.2
    # Both interval widths estimate one thing; ours also allows for noise with a memory.
    assert 0.8 < (high - low) / (other.high_slope - other.low_slope) < 3


@pytest.mark.parametrize("seed", range(6))
def test_line_and_standard_error_are_those_of_a_fit_that_is_told_the_noise(seed: int) -> None:
    # Generalized least squares on all hours (Aitken 1935) with the covariance that the noise was drawn from.
    draw = np.random.default_rng(seed)
    values = 85 - 1.2 * HOURS / 24 + cycle(2.0) + np.array(slow_noise(len(HOURS), 4.0, 0.5, draw))
    turn = 2 * np.pi * HOURS / 24
    design = np.stack([np.ones_like(HOURS), HOURS / 24, np.cos(turn), np.sin(turn)], axis=1)
    weight = np.linalg.inv(0.25 * toeplitz(np.exp(-np.arange(len(HOURS)) / 4.0)))
    cov = np.linalg.inv(design.T @ weight @ design)
    best = cov @ design.T @ weight @ values
    error = float(np.sqrt(cov[1, 1]))
    trend = humidity_trend(HOURS, values)
    assert trend.slope_pct_day == pytest.approx(best[1], abs=0.6 * error)
    assert trend.level_pct == pytest.approx(best[0], abs=0.6 * float(np.sqrt(cov[0, 0])))
    half = (trend.slope_quantile(0.975) - trend.slope_quantile(0.025)) / 2 / 1.96
    assert 0.6 < half / error < 2.5


def test_ordinary_least_squares_promises_a_third_of_the_error_that_noise_with_a_memory_of_4_h_has() -> None:
    # The error of a slope under such noise is that under independent noise times sqrt((1+r)/(1-r)) (Bartlett 1935).
    correlation = np.exp(-1 / 4)
    assert np.sqrt((1 + correlation) / (1 - correlation)) == pytest.approx(2.8, abs=0.1)


def test_a_cycle_moves_neither_slope_nor_level_and_its_depth_is_found() -> None:
    trend = humidity_trend(HOURS, 85 - 1.0 * HOURS / 24 + cycle(3.0))
    assert trend.slope_pct_day == pytest.approx(-1.0, abs=1e-6)
    assert trend.level_pct == pytest.approx(85.0, abs=1e-6)
    # Averages over three hours flatten a cycle of 24 h to sin(pi/8)/(pi/8) = 0.974 of it.
    assert trend.cycle_depth_pct == pytest.approx(3.0 * 0.974, abs=0.1)


def test_readings_that_never_change_have_no_trend_and_an_error_of_their_resolution() -> None:
    trend = humidity_trend(HOURS, np.full(len(HOURS), 85.0))
    assert trend.slope_pct_day == pytest.approx(0, abs=1e-9)
    assert 0 < trend.slope_quantile(0.975) < 0.1


def test_the_quantile_is_where_the_chance_is_reached_and_chance_grows_with_the_level() -> None:
    draw = np.random.default_rng(1)
    trend = humidity_trend(HOURS, 85 - 1.2 * HOURS / 24 + np.array(slow_noise(len(HOURS), 4, 0.5, draw)))
    chances = [trend.chance_below(level, 3.0) for level in np.linspace(75, 90, 40).tolist()]
    assert chances == sorted(chances)
    assert chances[0] < 1e-6
    assert chances[-1] > 1 - 1e-6
    assert trend.slope_quantile(0.1) < trend.slope_quantile(0.5) < trend.slope_quantile(0.9)


def test_a_crossing_is_found_by_halving() -> None:
    assert crossing(lambda at: at**3 - 8, 0, 10) == pytest.approx(2.0, abs=1e-9)
