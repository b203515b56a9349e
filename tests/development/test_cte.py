"""The constant temperature equivalent against closed forms, a second root finder, published outcomes and medians.

Definition: Georges 1989, Oecologia 81:323-328; Georges, Limpus and Stoutjesdijk 1994, Journal of Experimental Zoology
270:432-444 (volumes and pages from memory). One half of the development takes place above the equivalent.
"""

import math
from itertools import product
from statistics import median

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, optimize

from config.errors import StatedError
from config.species import SexDetermination, Sourced
from daemon.development.cte import SensitivePart, cte_of_daily_sine, cte_of_record, sensitive_part, sex_sentence

LOGGERHEAD_ZERO_C = 17.7
MIDDLE_HALF = SexDetermination(sensitive_from_share=0.25, sensitive_to_share=0.75, source="made up for a check")


def by_brent(mean_c: float, amplitude_k: float, zero_c: float) -> float:
    """The equivalent by its definition alone: integrals by quadrature, the root by Brent's method, over temperature."""

    def rate(angle: float) -> float:
        return max(0.0, mean_c + amplitude_k * math.cos(angle) - zero_c)

    def surplus(threshold_c: float) -> float:
        angle = math.acos((threshold_c - mean_c) / amplitude_k)
        warm = integrate.quad(rate, 0, angle, limit=200)[0]
        cold = integrate.quad(rate, angle, math.pi, limit=200)[0]
        return float(warm - cold)

    return float(optimize.brentq(surplus, max(zero_c, mean_c - amplitude_k), mean_c + amplitude_k, xtol=1e-10))


def hourly(mean_c: float, amplitude_k: float, zero_c: float, steps_per_day: int) -> list[tuple[float, float]]:
    swing = (
        mean_c + amplitude_k * math.cos(2 * math.pi * (step + 0.5) / steps_per_day) for step in range(steps_per_day)
    )
    return [(temperature_c, max(0.0, temperature_c - zero_c) * 24 / steps_per_day) for temperature_c in swing]


@pytest.mark.parametrize(("amplitude_k", "expected_c"), [(0, 26.0), (3, 27.0), (7, 30.3), (8, 31.3)])
def test_the_loggerhead_swings_of_1994_give_the_figures_worked_out_by_hand(
    amplitude_k: float, expected_c: float
) -> None:
    """Mean 26 °C, T0 17.7 °C, the treatments of Georges et al. 1994; figures worked out apart from this code."""
    assert cte_of_daily_sine(26, amplitude_k, LOGGERHEAD_ZERO_C) == pytest.approx(expected_c, abs=0.05)


@pytest.mark.parametrize(("amplitude_k", "female"), [(0, False), (3, False), (7, True), (8, True)])
def test_the_equivalent_falls_on_the_side_of_the_pivotal_temperature_that_hatched(
    amplitude_k: float, female: bool
) -> None:
    """Georges et al. 1994: 26 °C still and swinging by 3 K about all males, by 7 and 8 K all females; females are warm.

    Pivotal temperature near 29 °C (from memory). The mean is 26 °C in all four, so the mean cannot tell them apart.
    """
    assert (cte_of_daily_sine(26, amplitude_k, LOGGERHEAD_ZERO_C) > 29) is female


@pytest.mark.parametrize(
    ("zero_c", "amplitude_k"),
    [*product([10.0, 17.7, 25.0, 26.0], [0.5, 3.0, 8.0]), (28.0, 3.0), (28.0, 8.0), (33.9, 8.0)],
)
def test_the_root_is_that_of_another_method_with_and_without_the_floor(zero_c: float, amplitude_k: float) -> None:
    assert cte_of_daily_sine(26, amplitude_k, zero_c) == pytest.approx(by_brent(26, amplitude_k, zero_c), abs=1e-6)


@pytest.mark.parametrize("amplitude_k", [0.1, 4.0, 10.0])
def test_a_mean_at_the_zero_has_a_closed_form(amplitude_k: float) -> None:
    """With M = T0 only the warm half develops, sin t = 1/2, so the equivalent is M + A cos(pi/6)."""
    found = cte_of_daily_sine(20, amplitude_k, 20)
    assert found == pytest.approx(20 + amplitude_k * math.sqrt(3) / 2, abs=1e-12)


def test_a_small_swing_far_above_the_zero_has_the_series_of_its_equation() -> None:
    """With t = pi/2 - x and A << M - T0: x = A/(M - T0) to first order, so the equivalent is M + A^2/(M - T0)."""
    assert cte_of_daily_sine(28, 0.1, 8) - 28 == pytest.approx(0.1**2 / 20, rel=1e-3)


@given(st.floats(20, 34), st.floats(0, 10), st.floats(8, 24))
def test_the_equivalent_lies_between_the_mean_and_the_warmest_and_rises_with_the_swing(
    mean_c: float, amplitude_k: float, zero_c: float
) -> None:
    if mean_c + amplitude_k <= zero_c + 0.01:
        return
    found = cte_of_daily_sine(mean_c, amplitude_k, zero_c)
    assert max(mean_c, zero_c) - 1e-9 <= found <= mean_c + amplitude_k + 1e-9
    assert cte_of_daily_sine(mean_c, amplitude_k + 0.5, zero_c) >= found - 1e-9


@pytest.mark.parametrize(
    ("mean_c", "amplitude_k", "zero_c", "word"),
    [
        (15, 2, 17.7, "not above the zero"),
        (17.7, 0, 17.7, "not above the zero"),
        (26, -1, 17.7, "amplitude"),
        (math.nan, 1, 17.7, "ordinary numbers"),
        (26, math.inf, 17.7, "ordinary numbers"),
    ],
)
def test_a_swing_without_development_is_refused_in_words(
    mean_c: float, amplitude_k: float, zero_c: float, word: str
) -> None:
    with pytest.raises(StatedError) as refused:
        cte_of_daily_sine(mean_c, amplitude_k, zero_c)
    assert word in f"{refused.value.reason} {refused.value.hint}"


@pytest.mark.parametrize("amplitude_k", [0.0, 3.0, 7.0, 10.0])
@pytest.mark.parametrize("steps_per_day", [24, 1440])
def test_a_record_of_a_sine_gives_what_the_sine_gives(amplitude_k: float, steps_per_day: int) -> None:
    """To the spacing of the record's temperatures: at most A times 2 pi / steps between neighbours."""
    rows = hourly(26, amplitude_k, LOGGERHEAD_ZERO_C, steps_per_day) * 20
    spacing_k = amplitude_k * 2 * math.pi / steps_per_day
    expected_c = cte_of_daily_sine(26, amplitude_k, LOGGERHEAD_ZERO_C)
    assert cte_of_record(rows) == pytest.approx(expected_c, abs=spacing_k + 1e-9)


@given(st.lists(st.integers(200, 350), min_size=1, max_size=40))
def test_hours_of_equal_development_give_the_ordinary_median(tenths: list[int]) -> None:
    assert cte_of_record([(tenth / 10, 1.0) for tenth in tenths]) == pytest.approx(median(tenths) / 10, abs=1e-12)


@given(st.lists(st.tuples(st.integers(200, 350), st.integers(0, 20)), min_size=1, max_size=40))
def test_no_more_than_half_of_the_development_lies_on_either_side(rows: list[tuple[int, int]]) -> None:
    found, total = cte_of_record([(float(tenth), float(heat)) for tenth, heat in rows]), sum(heat for _, heat in rows)
    if total == 0:
        assert found is None
        return
    assert found is not None
    assert 2 * sum(heat for tenth, heat in rows if tenth > found) <= total
    assert 2 * sum(heat for tenth, heat in rows if tenth < found) <= total


def test_development_counts_and_not_time() -> None:
    """Two days at 20 °C give less development than one at 30 °C above 16 °C: 8 against 14 degree-days."""
    rows = [(20.0, 4.0)] * 48 + [(30.0, 14.0)] * 24
    assert median(temperature_c for temperature_c, _ in rows) == 20
    assert cte_of_record(rows) == 30


def test_the_sensitive_period_is_cut_by_development_and_unmeasured_heat_is_told() -> None:
    """K = 100: the period runs from 25 to 75; 30 unmeasured, then 20 at 27 °C, 20 unmeasured, 30 at 29 °C."""
    part = sensitive_part([(None, 30.0), (27.0, 20.0), (None, 20.0), (29.0, 30.0)], 100.0, MIDDLE_HALF)
    assert part.rows == ((27.0, 20.0), (29.0, 5.0))
    assert (part.passed_share, part.known_share) == pytest.approx((1.0, 0.5))


@pytest.mark.parametrize(("heat_ch", "passed"), [(10.0, 0.0), (25.0, 0.0), (50.0, 0.5), (200.0, 1.0)])
def test_the_share_of_the_sensitive_period_runs_from_nothing_to_all(heat_ch: float, passed: float) -> None:
    assert sensitive_part([(28.0, heat_ch)], 100.0, MIDDLE_HALF).passed_share == pytest.approx(passed)


def test_the_sentence_gives_a_temperature_with_its_source_and_promises_nothing() -> None:
    sex = MIDDLE_HALF.model_copy(update={"pivotal_c": Sourced(value=29.4, source="Example 1999")})
    told = sex_sentence(SensitivePart(((28.04, 10.0),), passed_share=0.8, known_share=0.6), sex)
    assert "28.0 °C" in told
    assert "pivotal temperature 29.4 °C: Example 1999" in told
    assert "No promise of either sex" in told
    assert "80 % is done" in told
    assert "20 % was not measured" in told


def test_the_sentence_names_no_sex_and_says_where_no_pivotal_temperature_is_known() -> None:
    told = sex_sentence(SensitivePart(((28.0, 10.0),), 1.0, 1.0), MIDDLE_HALF)
    assert "no pivotal temperature is known" in told
    assert not {"male", "female", "males", "females"} & set(told.lower().split())


@pytest.mark.parametrize(("passed_share", "word"), [(0.0, "has not begun"), (0.4, "has no measured temperature")])
def test_without_a_measured_temperature_in_the_period_no_figure_is_told(passed_share: float, word: str) -> None:
    told = sex_sentence(SensitivePart((), passed_share, 0.0), MIDDLE_HALF)
    assert word in told
    assert "°C" not in told
