"""Lines through published durations: the pairs of the profiles, and standard errors by three other methods."""

from collections import defaultdict
from typing import NamedTuple

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import optimize, stats

from config.species import DevelopmentFit, load_profiles
from daemon.development.durations import Duration
from daemon.development.fits import Fit, duration_days, fit_durations
from tests.support.tables import read_table

PUBLISHED: dict[str, list[Duration]] = defaultdict(list)
for row in read_table("published-durations.csv"):
    PUBLISHED[row["profile"]].append(
        Duration(
            float(row["temperature_c"]),
            float(row["incubation_days_mean"]),
            int(row["eggs"]) if row["eggs"] else None,
            source=row["paper"],
        )
    )
PROFILES = {name: profile.development for name, profile in load_profiles().items() if profile.development is not None}
FITS = {name: fit_durations(rows) for name, rows in PUBLISHED.items()}
WITH_ERRORS = sorted(name for name, fit in FITS.items() if fit.r_squared is not None)
BOOTSTRAP_DRAWS = 4000
BOOTSTRAP_TOLERANCE = 0.06
"""A standard deviation of 4000 draws is known to 1.1 %; first order of a ratio adds some percent."""


class Errors(NamedTuple):
    zero_u_k: float
    constant_u_ch: float
    covariance_ch_k: float


def errors_of(fit: Fit) -> Errors:
    assert fit.developmental_zero_u_k is not None
    assert fit.thermal_constant_u_ch is not None
    assert fit.covariance_ch_k is not None
    return Errors(fit.developmental_zero_u_k, fit.thermal_constant_u_ch, fit.covariance_ch_k)


def points(fit: Fit) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Temperatures in °C, and rates per hour."""
    temperatures = np.array([point.temperature_c for point in fit.points])
    return temperatures, np.array([1 / (24 * point.observed_days) for point in fit.points])


def profile_of(name: str) -> DevelopmentFit:
    development = PROFILES[name]
    assert development is not None
    return development


def test_every_line_of_a_profile_has_published_durations_and_most_have_errors() -> None:
    assert set(PUBLISHED) == set(PROFILES)
    assert len(WITH_ERRORS) >= 20


@pytest.mark.parametrize("name", sorted(PUBLISHED))
def test_the_pair_the_range_and_the_flag_of_each_profile_come_out_again(name: str) -> None:
    fit, profile = FITS[name], profile_of(name)
    assert fit.developmental_zero_c == pytest.approx(profile.developmental_zero_c, abs=0.05 + 1e-9)
    assert fit.thermal_constant_ch == pytest.approx(profile.thermal_constant_ch, abs=0.5 + 1e-9)
    assert (fit.points[0].temperature_c, fit.points[-1].temperature_c) == (profile.fit_low_c, profile.fit_high_c)
    assert (fit.flag, fit.pooled) == (profile.flag, profile.pooled)


def test_the_fence_lizard_needs_the_heat_that_was_published_for_it() -> None:
    """Parker and Andrews 2007, Oecologia 151:218-231 (abstract): about 495 degree-days."""
    assert FITS["sceloporus-undulatus"].thermal_constant_ch / 24 == pytest.approx(495, rel=0.05)


@pytest.mark.parametrize("name", WITH_ERRORS)
def test_errors_agree_with_a_fit_of_the_pair_itself(name: str) -> None:
    """Second method: scipy's curve_fit of (T - T0)/K with T0 and K as its parameters, and its covariance matrix."""
    fit = FITS[name]
    temperatures, rates = points(fit)
    start = (fit.developmental_zero_c - 1, fit.thermal_constant_ch * 1.1)
    pair, matrix = optimize.curve_fit(
        lambda at_c, zero_c, constant_ch: (at_c - zero_c) / constant_ch,
        temperatures,
        rates,
        start,
        jac=lambda at_c, zero_c, constant_ch: np.column_stack(
            [np.full_like(at_c, -1 / constant_ch), -(at_c - zero_c) / constant_ch**2]
        ),
        x_scale=(1, 1000),
        xtol=1e-14,
        ftol=1e-14,
        gtol=1e-14,
        method="trf",
    )
    assert pair == pytest.approx([fit.developmental_zero_c, fit.thermal_constant_ch], rel=1e-6)
    zero_u_k, constant_u_ch, covariance_ch_k = errors_of(fit)
    assert zero_u_k == pytest.approx(np.sqrt(matrix[0, 0]), rel=1e-4)
    assert constant_u_ch == pytest.approx(np.sqrt(matrix[1, 1]), rel=1e-4)
    assert covariance_ch_k == pytest.approx(matrix[0, 1], rel=1e-4)
    assert fit.correlation == pytest.approx(matrix[0, 1] / np.sqrt(matrix[0, 0] * matrix[1, 1]), rel=1e-4)


@pytest.mark.parametrize("name", WITH_ERRORS)
def test_the_error_of_the_constant_is_that_of_the_slope(name: str) -> None:
    fit = FITS[name]
    found = stats.linregress(*points(fit))
    assert errors_of(fit).constant_u_ch == pytest.approx(found.stderr / found.slope**2, rel=1e-9)
    assert fit.r_squared == pytest.approx(found.rvalue**2, rel=1e-9)


@pytest.mark.parametrize("name", WITH_ERRORS)
def test_the_uncertainty_of_a_duration_is_that_of_the_line_there(name: str) -> None:
    """The textbook error of a line at x, s * sqrt(1/N + (x - mean)^2/Sxx), from linregress; days are 1/rate."""
    fit = FITS[name]
    temperatures, rates = points(fit)
    found = stats.linregress(temperatures, rates)
    for at_c in (temperatures[0], temperatures.mean(), temperatures[-1], temperatures[-1] + 1):
        rate = found.intercept + found.slope * at_c
        # var(a + b x) = var(a) + x^2 var(b) + 2 x cov(a, b), with cov(a, b) = -mean var(b).
        variance = found.intercept_stderr**2 + (at_c**2 - 2 * at_c * temperatures.mean()) * found.stderr**2
        days, uncertainty = duration_days(fit, float(at_c))
        assert days == pytest.approx(1 / rate / 24, rel=1e-9)
        assert uncertainty == pytest.approx(np.sqrt(variance) / rate**2 / 24, rel=1e-6)


@pytest.mark.parametrize("name", ["elaphe-taeniura", "heteronotia-binoei", "crocodylus-palustris", "paroedura-picta"])
def test_errors_agree_with_a_parametric_bootstrap(name: str) -> None:
    """Third method: rates drawn about the line with its own scatter, and a polynomial fit of each draw by numpy.

    Lines with a small error only: first order says too little where the error of the slope is large.
    """
    fit = FITS[name]
    temperatures, _ = points(fit)
    rates = (temperatures - fit.developmental_zero_c) / fit.thermal_constant_ch
    assert fit.residual_sd_pct is not None
    scatter = fit.residual_sd_pct / 100 * rates.mean()
    draws = np.random.default_rng(1974).normal(rates, scatter, (BOOTSTRAP_DRAWS, rates.size))
    slopes, intercepts = np.polyfit(temperatures, draws.T, 1)
    zeros, constants = -intercepts / slopes, 1 / slopes
    zero_u_k, constant_u_ch, _ = errors_of(fit)
    assert zero_u_k == pytest.approx(zeros.std(), rel=BOOTSTRAP_TOLERANCE)
    assert constant_u_ch == pytest.approx(constants.std(), rel=BOOTSTRAP_TOLERANCE)
    assert fit.correlation == pytest.approx(np.corrcoef(zeros, constants)[0, 1], abs=0.01)
    for at_c in (temperatures[0], temperatures[-1]):
        _, uncertainty = duration_days(fit, float(at_c))
        assert uncertainty == pytest.approx((constants / (at_c - zeros) / 24).std(), rel=BOOTSTRAP_TOLERANCE)


@pytest.mark.parametrize("name", WITH_ERRORS)
def test_a_pair_taken_without_its_covariance_would_look_far_less_sure_than_it_is(name: str) -> None:
    """Zero and constant of a line from above zero to above that rise and fall against each other."""
    fit = FITS[name]
    assert -1 < fit.correlation < -0.9
    middle_c = float(points(fit)[0].mean())
    days, uncertainty = duration_days(fit, middle_c)
    zero_u_k, constant_u_ch, _ = errors_of(fit)
    alone = days * np.hypot(zero_u_k / (middle_c - fit.developmental_zero_c), constant_u_ch / fit.thermal_constant_ch)
    assert uncertainty is not None
    assert uncertainty < alone / 2
