"""Degree-hours against closed forms, quadrature and the degree-days that others published."""

import json
import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from daemon.development.degree_hours import heat_between, season_degree_hours
from tests.support.tables import read_table

ROWS = read_table("degree-hours-check.csv")
MS_PER_HOUR = 3_600_000
HOURS_PER_DAY = 24
SAMPLE_MS = 1000
DENSE_TOLERANCE = 1e-5
"""Straight lines of h = 1 s in place of a curve err by h^2/12 times the integral of |T''|: 2e-6 for the fastest row."""


def rows(*profiles: str) -> pytest.MarkDecorator:
    """Parametrise over the rows of these profiles; a profile without a row would be a test that cannot fail."""
    chosen = [row for row in ROWS if row["profile"] in profiles]
    assert {row["profile"] for row in chosen} == set(profiles)
    return pytest.mark.parametrize("row", chosen, ids=lambda row: row["case_id"])


def thresholds(row: dict[str, str]) -> tuple[float, float | None]:
    return float(row["zero"]), float(row["cap"]) if row["cap"] else None


def curve(row: dict[str, str]) -> Callable[[NDArray[np.float64]], NDArray[np.float64]]:
    """Give the temperature of a smooth row as a function of hours."""
    params: dict[str, Any] = json.loads(row["params"])
    if row["profile"] == "sine":
        turn = 2 * math.pi / params["period_h"]
        return lambda t: params["mean"] + params["amplitude"] * np.sin(turn * (t - params["phase_h"]))
    if row["profile"] == "exponential":
        return lambda t: params["ambient"] + (params["start"] - params["ambient"]) * np.exp(-t / params["tau_h"])
    if row["profile"] == "daily_min_max_single_sine":
        mean, amplitude = (params["max"] + params["min"]) / 2, (params["max"] - params["min"]) / 2
        return lambda t: mean + amplitude * np.sin(2 * math.pi * t / HOURS_PER_DAY)
    names = {"sin": np.sin, "cos": np.cos, "exp": np.exp, "pi": math.pi}
    code = compile(params["temp_of_t_h"], "degree-hours-check.csv", "eval")
    return lambda t: np.asarray(eval(code, {"__builtins__": {}}, {**names, "t": t}), dtype=np.float64)


def dense(row: dict[str, str]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    start_ms, end_ms = (round(float(row[key]) * MS_PER_HOUR) for key in ("start_h", "end_h"))
    times_h = np.arange(start_ms, end_ms + 1, SAMPLE_MS) / MS_PER_HOUR
    return times_h, curve(row)(times_h)


@rows("constant", "piecewise_linear")
def test_straight_lines_give_the_closed_form_exactly(row: dict[str, str]) -> None:
    params, (zero_c, cap_c) = json.loads(row["params"]), thresholds(row)
    expected, tolerance = float(row["degree_hours"]), float(row["tolerance_dh"])
    bulk = season_degree_hours(np.array(params["t_h"], float), np.array(params["temp"], float), zero_c, cap_c)
    assert bulk == pytest.approx(expected, abs=tolerance, rel=0), row["source"]
    samples = [(round(t * MS_PER_HOUR), float(c)) for t, c in zip(params["t_h"], params["temp"], strict=True)]
    end_ms = samples[-1][0]
    heat = heat_between(samples, samples[0][0], end_ms, zero_c, cap_c, end_ms)
    assert heat.degree_hours_ch == pytest.approx(expected, abs=tolerance, rel=0), row["source"]
    assert heat.missing_ms == 0


@rows("sine", "exponential", "formula")
def test_curves_sampled_densely_give_the_closed_form_or_quadrature(row: dict[str, str]) -> None:
    times_h, temperatures_c = dense(row)
    zero_c, cap_c = thresholds(row)
    bulk = season_degree_hours(times_h, temperatures_c, zero_c, cap_c)
    assert bulk == pytest.approx(float(row["degree_hours"]), abs=DENSE_TOLERANCE, rel=0), row["source"]


def test_a_window_inside_a_longer_record_gives_the_closed_form() -> None:
    # Row C18 asks for hours 3 to 10 of a daily sine; here the record runs on for the whole day, a sample a minute that
    # does not fall on the window's edges. Lines of 1 min err by 60^2 times more than lines of 1 s.
    (row,) = [row for row in ROWS if row["case_id"] == "C18"]
    zero_c, cap_c = thresholds(row)
    minutes_ms = np.arange(17_000, 24 * MS_PER_HOUR, 60_000)
    temperatures_c = curve(row)(minutes_ms / MS_PER_HOUR)
    samples = list(zip(minutes_ms.tolist(), temperatures_c.tolist(), strict=True))
    heat = heat_between(samples, 3 * MS_PER_HOUR, 10 * MS_PER_HOUR, zero_c, cap_c, 60_000)
    assert heat.degree_hours_ch == pytest.approx(float(row["degree_hours"]), abs=1e-3, rel=0)
    assert heat.missing_ms == 0


@rows("daily_min_max_single_triangle")
def test_a_straight_sided_day_gives_the_published_single_triangle(row: dict[str, str]) -> None:
    params, (zero, cap) = json.loads(row["params"]), thresholds(row)
    day = np.array([0.0, 12.0, 24.0]), np.array([params["min"], params["max"], params["min"]], float)
    tolerance = float(row["tolerance_dh"]) + 1e-9  # row Z10 is a tie: 29.375 degree-days, printed 29.38
    assert season_degree_hours(*day, zero, cap) == pytest.approx(float(row["degree_hours"]), abs=tolerance, rel=0)


@rows("daily_min_max_single_sine")
def test_a_sampled_sine_day_gives_the_published_single_sine(row: dict[str, str]) -> None:
    # The method is a sine through the day's extremes (Baskerville and Emin 1969); the sampling error, DENSE_TOLERANCE,
    # is far below the published rounding.
    bulk = season_degree_hours(*dense(row), *thresholds(row))
    assert bulk == pytest.approx(float(row["degree_hours"]), abs=float(row["tolerance_dh"]), rel=0)


@rows("daily_min_max_average_method_1", "daily_min_max_average_method_2")
def test_days_as_mcmaster_and_wilhelm_count_them_come_out_as_printed(row: dict[str, str]) -> None:
    # Method 1 holds the mean of the extremes all day; method 2 first lifts each extreme to the zero. As temperatures:
    # a level day, and a straight line between the lifted extremes.
    params, (zero_c, cap_c) = json.loads(row["params"]), thresholds(row)
    low, high = float(params["min"]), float(params["max"])
    if row["profile"].endswith("1"):
        temperatures_c = np.full(2, (low + high) / 2)
    else:
        temperatures_c = np.array([max(low, zero_c), max(high, zero_c)])
    bulk = season_degree_hours(np.array([0.0, 24.0]), temperatures_c, zero_c, cap_c)
    assert bulk == pytest.approx(float(row["degree_hours"]), abs=float(row["tolerance_dh"]), rel=0)


def test_a_clutch_moved_halfway_needs_the_days_that_booth_found() -> None:
    # Booth 1998 (Physiological Zoology 71, 23-26), Emydura signata: 78 d at 24 °C, 42 d at 31 °C; eggs moved halfway
    # hatched in between. By hand: 78 (24 - T0) = 42 (31 - T0) gives T0 = 95/6, K = 24 * 78 * (24 - 95/6) = 15 288, and
    # 39 d are half of it, so 21 d at 31 °C are the rest.
    zero_c, constant_ch = 95 / 6, 15_288.0

    def days(count: int) -> int:
        return count * HOURS_PER_DAY * MS_PER_HOUR

    def heat_ch(samples: list[tuple[int, float]], until_ms: int) -> float:
        return heat_between(samples, 0, until_ms, zero_c, None, days(100)).degree_hours_ch

    assert heat_ch([(0, 24.0), (days(78), 24.0)], days(78)) == pytest.approx(constant_ch, abs=1e-8)
    assert heat_ch([(0, 31.0), (days(42), 31.0)], days(42)) == pytest.approx(constant_ch, abs=1e-8)
    moved = [(0, 24.0), (days(39), 24.0), (days(39), 31.0), (days(60), 31.0)]
    assert heat_ch(moved, days(39)) == pytest.approx(constant_ch / 2, abs=1e-8)
    assert heat_ch(moved, days(60)) == pytest.approx(constant_ch, abs=1e-8)
