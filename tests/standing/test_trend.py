"""The line through readings: its slope, how sure it is, and what is usual."""

import random

import pytest

from daemon.standing.trend import Course, blocks, leaves_usual, line_of, usual_span
from tests.standing.courses import HOUR_MS, LIMITS, MINUTE_MS, noisy, series


def test_a_straight_line_is_found_as_it_is() -> None:
    line = line_of(series(0.5, lambda hour: 28 - 3 * hour), curved=False)
    assert line is not None
    assert line.slope_k_h == pytest.approx(-3)
    assert line.newest_c == pytest.approx(26.5)


def test_a_quarter_of_wild_readings_does_not_tilt_it() -> None:
    """Least squares would be off by more than 10 K/h here; all slopes between good readings are still 3 K/h."""
    readings = series(0.5, lambda hour: 28 + 3 * hour)
    chance = random.Random(7)
    for place in chance.sample(range(len(readings)), 7):
        readings[place] = (readings[place][0], 60.0)
    line = line_of(readings, curved=False)
    assert line is not None
    assert line.slope_k_h == pytest.approx(3, abs=0.5)


@pytest.mark.parametrize("curved", [True, False])
def test_it_is_as_sure_as_the_textbook_says_of_independent_noise(curved: bool) -> None:
    """By s / sqrt(sum of squared distances in time); s of noise anywhere within ±h is h / sqrt(3).

    The median of absolute deviations takes the noise for normal; of even noise it makes 1.4826 * sqrt(3)/2 = 1.28 s.
    """
    readings = series(4, lambda hour: 28 + 0.2 * hour)
    spread = sum((at_ms / HOUR_MS - 2) ** 2 for at_ms, _ in readings)
    expected = 0.15 / 3**0.5 / spread**0.5
    found = [line_of(noisy(readings, 0.15, seed), curved=curved) for seed in range(20)]
    for line in found:
        assert line is not None
        assert 0.8 * expected < line.u_k_h < 1.6 * expected
        assert abs(line.slope_k_h - 0.2) < 4 * line.u_k_h


def test_a_bend_makes_a_line_unsure_unless_bends_are_expected() -> None:
    bent = series(0.5, lambda hour: 28 - 6 * max(hour - 0.25, 0))
    straight, curved = line_of(bent, curved=False), line_of(bent, curved=True)
    assert straight is not None
    assert curved is not None
    assert straight.u_k_h > 5 * curved.u_k_h


@pytest.mark.parametrize("readings", [[], [(0, 28.0)] * 3, [(5, 28.0), (5, 29.0), (5, 30.0), (5, 31.0)]])
def test_too_few_readings_or_no_time_between_them_give_no_line(readings: list[tuple[int, float]]) -> None:
    assert line_of(readings, curved=True) is None


def test_blocks_are_medians_in_the_middle_of_their_readings() -> None:
    readings = [(0, 28.0), (40_000, 35.0), (80_000, 28.2), (130_000, 29.0)]
    assert blocks(readings, 2 * MINUTE_MS) == [(40_000, 28.2), (130_000, 29.0)]


def test_what_is_usual_leaves_out_a_tenth_at_either_end_and_needs_eight_values() -> None:
    assert usual_span([float(each) for each in range(20)]) == (2.0, 17.0)
    assert usual_span([28.0] * 7) is None


@pytest.mark.parametrize(("newest", "before", "leaves"), [(29.5, 29.0, True), (29.4, 29.0, False), (31.6, 33.0, True)])
def test_beyond_a_warning_limit_nothing_is_usual(newest: float, before: float, leaves: bool) -> None:
    """Half a kelvin above 29 °C, and above the limit of 31 °C where it was even warmer the day before."""
    course = Course([(0, newest)], [before] * 20, stale=False)
    assert leaves_usual(course, LIMITS, +1, 0.5) is leaves
