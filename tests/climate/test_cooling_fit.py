"""Fits of cooling curves against those of another program, and scipy as a second method."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import curve_fit
from scipy.stats import t as student

from daemon.climate.cooling_fit import (
    CoolingFit,
    NoFitError,
    fit_free_room,
    fit_known_room,
    log_line,
    student_quantile,
)
from tests.support.tables import read_table

CURVE = read_table("cooling-check.csv")
HOURS = np.array([float(row["t_h"]) for row in CURVE])
KNOWN = [row for row in read_table("cooling-fits-check.csv") if row["room"] == "known"]
FREE = [row for row in read_table("cooling-fits-check.csv") if row["room"] == "free"]


def column(name: str, points: int = 17) -> "np.ndarray":
    return np.array([float(row[name]) for row in CURVE[:points]])


def printed(text: str) -> float:
    """Half of the last printed figure, and rounding."""
    return 0.51 * 10.0 ** -len(text.partition(".")[2])


def time_to_24(fit: CoolingFit) -> tuple[float, float, float]:
    """From the curve to 24 °C in a room at 20, with the interval by first-order propagation of the covariance."""
    slopes = np.array([fit.time_constant_h / fit.amplitude_k, math.log(fit.amplitude_k / 4)])
    half = float(student.ppf(0.975, fit.freedom)) * math.sqrt(slopes @ np.array(fit.covariance) @ slopes)
    likely = fit.time_constant_h * math.log(fit.amplitude_k / 4)
    return likely, likely - half, likely + half


@pytest.mark.parametrize("row", KNOWN, ids=[f"{row['column']} {row['points']}" for row in KNOWN])
def test_a_fit_with_the_room_known_is_that_of_the_published_table(row: dict[str, str]) -> None:
    points = int(row["points"])
    fit = fit_known_room(HOURS[:points], column(row["column"], points), 20.0)
    low, high = fit.interval_h()
    likely, to_low, to_high = time_to_24(fit)
    figures = {
        "time_constant_h": fit.time_constant_h,
        "se_h": fit.u_hours,
        "low_h": low,
        "high_h": high,
        "to_24_h": likely,
        "to_24_low_h": to_low,
        "to_24_high_h": to_high,
    }
    compared = [name for name in figures if row[name]]
    assert len(compared) >= 2
    for name in compared:
        assert figures[name] == pytest.approx(float(row[name]), abs=printed(row[name])), name


@pytest.mark.parametrize("row", FREE, ids=[row["points"] for row in FREE])
def test_a_fit_with_the_room_free_is_that_of_the_published_table(row: dict[str, str]) -> None:
    points = int(row["points"])
    fit = fit_free_room(HOURS[:points], column(row["column"], points), 20.0)
    assert fit.time_constant_h == pytest.approx(float(row["time_constant_h"]), abs=printed(row["time_constant_h"]))
    assert fit.u_hours == pytest.approx(float(row["se_h"]), abs=printed(row["se_h"]))


def test_a_fit_with_the_room_free_finds_the_room_and_how_little_it_is_told_apart() -> None:
    """19.9505 ± 0.2626 °C, correlation -0.990, by curve_fit."""
    fit = fit_free_room(HOURS, column("temp_perturbed_c"), 22.0)
    assert (fit.room_c, fit.room_u_k) == pytest.approx((19.9505, 0.2626), abs=6e-5)
    assert fit.correlation == pytest.approx(-0.990, abs=5.1e-4)


@pytest.mark.parametrize(("points", "worthless"), [(5, True), (9, True), (17, False)])
def test_a_fit_with_the_room_free_says_that_it_is_worthless_before_about_one_time_constant(
    points: int, worthless: bool
) -> None:
    fit = fit_free_room(HOURS[:points], column("temp_perturbed_c", points), 20.0)
    assert bool(fit.worthless) is worthless


def test_the_start_of_the_search_is_the_weighted_line_through_the_logarithm() -> None:
    """3.99300 h with weights (T - Ta)^2, computed outside this project."""
    assert log_line(HOURS, column("temp_perturbed_c") - 20.0)[1] == pytest.approx(3.99300, abs=5.1e-6)


def test_a_room_a_kelvin_off_changes_the_time_constant_and_hardly_the_forecast() -> None:
    """With the room taken at 19 and at 21 °C, by curve_fit: 3.975 and 4.153 h to 24 °C instead of 4.042."""
    hours = []
    for room_c in (19.0, 21.0):
        fit = fit_known_room(HOURS, column("temp_perturbed_c"), room_c)
        hours.append(fit.time_constant_h * math.log(fit.amplitude_k / (24.0 - room_c)))
    assert hours == pytest.approx([3.975, 4.153], abs=5.1e-4)


@given(
    st.floats(0.5, 20.0),
    st.floats(3.0, 15.0),
    st.floats(10.0, 25.0),
    st.integers(0, 2**31),
    st.booleans(),
    st.integers(8, 120),
)
def test_values_and_covariance_are_those_of_scipy(
    hours: float, amplitude_k: float, room_c: float, seed: int, warming: bool, points: int
) -> None:
    side = -1.0 if warming else 1.0
    times = np.linspace(0.0, 0.8 * hours, points)
    noise = np.random.default_rng(seed).normal(0.0, 0.03, points)
    measured = room_c + side * amplitude_k * np.exp(-times / hours) + noise
    fit = fit_known_room(times, measured, room_c)

    def model(at: "np.ndarray", amplitude: float, constant: float) -> "np.ndarray":
        return room_c + amplitude * np.exp(-at / constant)

    found, covariance = curve_fit(model, times, measured, p0=(side * amplitude_k, hours), xtol=1e-12, ftol=1e-12)
    assert (fit.amplitude_k, fit.time_constant_h) == pytest.approx(found.tolist(), rel=1e-5)
    assert np.array(fit.covariance) == pytest.approx(covariance, rel=1e-3)


@pytest.mark.parametrize("freedom", [3, 5, 15, 60, 1000])
@pytest.mark.parametrize("probability", [0.8413, 0.95, 0.975])
def test_the_quantiles_of_student_are_those_of_scipy(probability: float, freedom: int) -> None:
    assert student_quantile(probability, freedom) == pytest.approx(student.ppf(probability, freedom), rel=2e-3)


def test_the_interval_holds_the_true_time_constant_in_95_of_100_noisy_curves() -> None:
    chance = np.random.default_rng(7)
    times = np.linspace(0.0, 4.0, 25)
    held = 0
    for _ in range(1000):
        low, high = fit_known_room(times, 20 + 9 * np.exp(-times / 6) + chance.normal(0, 0.05, 25), 20.0).interval_h()
        held += low <= 6.0 <= high
    assert held == pytest.approx(950, abs=3 * math.sqrt(1000 * 0.95 * 0.05))


@pytest.mark.parametrize(
    ("values", "reason"),
    [
        (np.full(17, 20.0), "at the temperature of the room already"),
        (np.linspace(25.0, 29.0, 17), "does not come nearer"),
        (np.linspace(30.0, 28.0, 4), "too few"),
    ],
)
def test_what_is_no_cooling_has_no_fit_and_a_reason(values: "np.ndarray", reason: str) -> None:
    with pytest.raises(NoFitError, match=reason):
        fit_known_room(HOURS[: values.size], values, 20.0)


@pytest.mark.parametrize(
    ("times", "values", "reason"),
    [
        (HOURS, column("temp_exact_c", 5), "do not belong together"),
        (HOURS[::-1], column("temp_exact_c"), "rising times"),
        (HOURS, np.full(17, math.nan), "finite"),
    ],
)
def test_series_that_are_none_are_refused(times: "np.ndarray", values: "np.ndarray", reason: str) -> None:
    with pytest.raises(ValueError, match=reason):
        fit_known_room(times, values, 20.0)
