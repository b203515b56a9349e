"""A correction line and its uncertainty: worked table, other methods, random draws, direction and bounds, refusals."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from config.errors import StatedError
from config.words import Quantity
from sensors.calibration_line import YEAR_MS, Line, Point, one_point, two_point, usual
from tests.support.tables import read_table

RH, AIR = Quantity.RELATIVE_HUMIDITY, Quantity.AIR_TEMPERATURE
ROWS = read_table("two-point-check.csv")
SALT_ROWS = {(row["salt"], row["temperature_c"]): row for row in read_table("salt-fixed-points.csv")}
SEED = 1977
DRAWS = 400_000


def over(formula: str, reading: float, reading_u: float = 0.3) -> Point:
    """A point over a salt at 25 °C, from the printed table."""
    row = SALT_ROWS[formula, "25"]
    limits = float(row["limits_pct"])
    return Point(float(row["relative_humidity_pct"]), reading, limits / math.sqrt(3), reading_u, formula)


def line_of(row: dict[str, str]) -> Line:
    low, high = row["salts"].split()
    points = over(low, float(row["reading_1"])), over(high, float(row["reading_2"]))
    return two_point(RH, *points, 0.3, 0.0, one_reference=False)


def thermometer(true: float, said: float, limits: float = 0.1, reading_u: float = 0.05) -> Point:
    return Point(true, said, limits / math.sqrt(3), reading_u, "reference")


def row_id(row: dict[str, str]) -> str:
    return f"{row['salts'].replace(' ', '-')}-at-{row['reading']}"


@pytest.mark.parametrize("row", ROWS, ids=row_id)
def test_gain_value_and_uncertainty_are_those_of_the_worked_table(row: dict[str, str]) -> None:
    # Half the last printed figure, and rounding.
    line, reading = line_of(row), float(row["reading"])
    assert line.gain == pytest.approx(float(row["gain"]), abs=6e-8)
    assert line.corrected(reading) == pytest.approx(float(row["corrected"]), abs=6e-5)
    assert line.standard_uncertainty(reading, 0) == pytest.approx(float(row["u_corrected"]), abs=6e-5)
    assert line.reference_part(reading) == pytest.approx(float(row["u_of_salts"]), abs=6e-5)


@pytest.mark.parametrize("row", ROWS, ids=row_id)
def test_random_draws_spread_as_the_first_order_says(row: dict[str, str]) -> None:
    # The relative spread of the standard deviation of n normal draws is 0.71/sqrt(n), here 0.11 %; the product of two
    # errors, which first order leaves out, is below 0.1 % of the figure. 0.6 % is five times the first and that.
    draw = np.random.default_rng(SEED)
    line = line_of(row)
    true = [draw.normal(point.reference, point.reference_u, DRAWS) for point in line.points]
    said = [draw.normal(point.reading, point.reading_u, DRAWS) for point in line.points]
    now = draw.normal(float(row["reading"]), line.repeatability_u, DRAWS)
    corrected = true[0] + (true[1] - true[0]) / (said[1] - said[0]) * (now - said[0])
    spread = float(np.std(corrected))
    assert line.standard_uncertainty(float(row["reading"]), 0) == pytest.approx(spread, rel=0.006), f"seed {SEED}"


def test_one_reference_at_both_points_errs_in_one_direction_as_random_draws_do() -> None:
    draw = np.random.default_rng(SEED)
    low, high = thermometer(20, 20.3), thermometer(32, 32.1)
    line = two_point(AIR, low, high, 0.0, 0.0, one_reference=True)
    off = draw.normal(0, low.reference_u, DRAWS)
    gain = (32 - 20) / (32.1 - 20.3)
    corrected = 20 + off + gain * (26.2 - 20.3)
    assert line.reference_part(26.2) == pytest.approx(float(np.std(corrected)), rel=0.006), f"seed {SEED}"
    apart = replace(line, one_reference=False)
    assert apart.reference_part(26.2) == pytest.approx(low.reference_u / math.sqrt(2), rel=1e-3)


READINGS = st.floats(5, 95)
ERRORS = st.floats(-5, 5)


@st.composite
def humidity_lines(draw: st.DrawFn) -> Line:
    """A line through two humidity points at least 30 % apart, so that no gain is refused."""
    low = draw(st.floats(10, 45))
    high = draw(st.floats(low + 35, 95))
    sure = st.floats(0.05, 1)
    points = [Point(true, true + draw(st.floats(-3, 3)), draw(sure), draw(sure), "salt") for true in (low, high)]
    return two_point(RH, points[1], points[0], draw(sure), 0.0, one_reference=draw(st.booleans()))


@settings(derandomize=True, deadline=None)
@given(line=humidity_lines())
def test_a_line_goes_through_both_of_its_points(line: Line) -> None:
    for point in line.points:
        assert line.corrected(point.reading) == pytest.approx(point.reference, abs=1e-9)
    # Second method: numpy's straight line.
    slope, start = np.polyfit([p.reading for p in line.points], [p.reference for p in line.points], 1)
    assert (line.gain, line.shift) == pytest.approx((float(slope), float(start)), abs=1e-8)


@settings(derandomize=True, deadline=None)
@given(line=humidity_lines(), one=READINGS, other=READINGS)
def test_a_higher_reading_never_means_a_lower_value(line: Line, one: float, other: float) -> None:
    low, high = sorted((one, other))
    assert line.corrected(low) <= line.corrected(high)


@settings(derandomize=True, deadline=None)
@given(line=humidity_lines(), near=st.floats(0, 30), further=st.floats(0, 30))
def test_uncertainty_grows_outside_the_points_the_further_the_more(line: Line, near: float, further: float) -> None:
    low, high = (point.reading for point in line.points)
    for end, way in ((low, -1), (high, 1)):
        at_end, at_near, beyond = (line.standard_uncertainty(end + way * away, 0) for away in (0, near, near + further))
        assert at_end <= at_near * (1 + 1e-12)
        assert at_near <= beyond * (1 + 1e-12)


@settings(derandomize=True, deadline=None)
@given(line=humidity_lines(), share=st.floats(0, 1))
def test_between_the_points_it_is_never_less_sure_than_at_the_worse_of_them(line: Line, share: float) -> None:
    low, high = (point.reading for point in line.points)
    worst = max(line.standard_uncertainty(end, 0) for end in (low, high))
    assert line.standard_uncertainty(low + share * (high - low), 0) <= worst * (1 + 1e-9)


def test_one_point_shifts_every_reading_and_is_surest_at_its_point() -> None:
    line = one_point(AIR, thermometer(29.9, 30.2), 0.5, 0.05, 0.0)
    assert line.corrected(30.2) == pytest.approx(29.9)
    assert line.corrected(20.0) == pytest.approx(19.7)
    # By hand: 0.1/sqrt(3) = 0.05774 of the reference, 0.05 of that reading and 0.05 of this one.
    assert line.standard_uncertainty(30.2, 0) == pytest.approx(math.sqrt(0.05774**2 + 0.05**2 + 0.05**2), abs=1e-5)
    # 20 K away the maker's 0.5/sqrt(3) = 0.28868 may have built up again.
    assert line.standard_uncertainty(10.2, 0) == pytest.approx(math.hypot(0.09129, 0.28868), abs=1e-4)
    assert line.standard_uncertainty(25.0, 0) < line.standard_uncertainty(20.0, 0)


def test_a_probe_may_wander_for_as_long_as_its_calibration_is_old_on_either_side() -> None:
    line = one_point(AIR, thermometer(29.9, 30.2), 0.5, 0.0, 0.3)
    fresh = line.standard_uncertainty(30.2, 0)
    # Two years at ±0.3 K a year, half-width of a rectangle: 0.6/sqrt(3) = 0.34641.
    assert line.standard_uncertainty(30.2, 2 * YEAR_MS) == pytest.approx(math.hypot(fresh, 0.34641), abs=1e-5)
    assert line.standard_uncertainty(30.2, -2 * YEAR_MS) == line.standard_uncertainty(30.2, 2 * YEAR_MS)


@pytest.mark.parametrize(
    ("low", "high", "said"),
    [
        ((75.3, 76.9), (75.3, 76.9), "would swing"),
        ((75.3, 76.9), (97.3, 76.9), "would swing"),
        ((75.3, 76.9), (84.3, 85.0), "would swing"),
        ((75.3, 97.9), (97.3, 76.9), "falls where the reference rises"),
        ((32.8, 40.0), (75.3, 65.0), "a working one needs 0.8 to 1.25"),
        ((32.8, 25.0), (75.3, 85.0), "a working one needs 0.8 to 1.25"),
        ((32.8, 52.0), (75.3, 94.0), "so far off it is broken"),
        ((32.8, 0.351), (75.3, 0.769), "looks like a ratio"),
        ((0.328, 35.1), (75.3, 76.9), "looks like a ratio"),
        ((32.8, 35.1), (75.3, 112.0), "cannot be"),
        ((32.8, math.nan), (75.3, 76.9), "cannot be"),
        ((-5.0, 1.5), (75.3, 76.9), "cannot be"),
    ],
)
def test_points_that_no_working_probe_gives_are_refused_in_words(
    low: tuple[float, float], high: tuple[float, float], said: str
) -> None:
    points = [Point(*each, 0.1, 0.3, "salt") for each in (low, high)]
    with pytest.raises(StatedError) as refused:
        two_point(RH, points[0], points[1], 0.3, 0.0, one_reference=False)
    assert said in refused.value.reason
    assert refused.value.hint


@pytest.mark.parametrize(
    ("true", "said_c", "words"),
    [(30.0, 36.0, "so far off it is broken"), (86.0, 86.5, "cannot be"), (30.0, math.inf, "cannot be")],
)
def test_a_thermometer_far_off_or_in_another_unit_is_refused(true: float, said_c: float, words: str) -> None:
    with pytest.raises(StatedError, match=words):
        one_point(AIR, thermometer(true, said_c), 0.5, 0.05, 0.1)


@pytest.mark.parametrize("limits", [0.0, -0.1, 1.5, math.nan])
def test_a_reference_that_is_none_is_refused(limits: float) -> None:
    with pytest.raises(StatedError, match="cannot be used"):
        one_point(AIR, thermometer(29.9, 30.2, limits), 0.5, 0.05, 0.1)


def test_the_worst_reference_that_can_stand_is_taken_and_lies_at_the_bound() -> None:
    assert one_point(AIR, thermometer(29.9, 30.2, usual(AIR).worst_reference), 0.5, 0.05, 0.1).shift < 0
