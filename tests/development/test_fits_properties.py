"""What holds for a line through any durations, whatever the species."""

from dataclasses import astuple
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daemon.development.durations import Duration
from daemon.development.fits import duration_days, fit_durations, line_days

ZEROS_C = st.floats(6, 18)
CONSTANTS_CH = st.floats(4_000, 60_000)
SCATTER = st.lists(st.floats(-0.01, 0.01), min_size=3, max_size=7)
"""Small enough that the durations of temperatures 1.5 K apart still fall with warmth."""


def temperatures(count: int) -> list[float]:
    return [20 + 1.5 * step for step in range(count)]


@st.composite
def series(draw: st.DrawFn) -> list[Duration]:
    """Durations about a true line, three temperatures or more."""
    zero_c, constant_ch, scatter = draw(ZEROS_C), draw(CONSTANTS_CH), draw(SCATTER)
    return [
        Duration(at_c, line_days(zero_c, constant_ch, at_c) * (1 + error))
        for at_c, error in zip(temperatures(len(scatter)), scatter, strict=True)
    ]


@given(ZEROS_C, CONSTANTS_CH, st.integers(2, 7))
def test_durations_on_a_line_give_that_line(zero_c: float, constant_ch: float, count: int) -> None:
    rows = [Duration(at_c, line_days(zero_c, constant_ch, at_c)) for at_c in temperatures(count)]
    fit = fit_durations(rows)
    assert fit.developmental_zero_c == pytest.approx(zero_c, abs=1e-6)
    assert fit.thermal_constant_ch == pytest.approx(constant_ch, rel=1e-6)
    assert fit.mean_absolute_error_pct == pytest.approx(0, abs=1e-6)


@given(series(), st.floats(0.2, 5))
def test_slower_eggs_have_a_larger_constant_and_the_same_zero(rows: list[Duration], factor: float) -> None:
    fit = fit_durations(rows)
    slower = fit_durations([Duration(one.temperature_c, one.days * factor) for one in rows])
    assert slower.developmental_zero_c == pytest.approx(fit.developmental_zero_c, abs=1e-6)
    assert slower.thermal_constant_ch == pytest.approx(fit.thermal_constant_ch * factor, rel=1e-6)
    assert slower.residual_sd_pct == pytest.approx(fit.residual_sd_pct, abs=1e-6)
    assert slower.correlation == pytest.approx(fit.correlation, abs=1e-6)


@given(series(), st.floats(-5, 5))
def test_warmer_eggs_have_a_warmer_zero_and_the_same_constant(rows: list[Duration], shift_k: float) -> None:
    fit = fit_durations(rows)
    warmer = fit_durations([Duration(one.temperature_c + shift_k, one.days) for one in rows])
    assert warmer.developmental_zero_c == pytest.approx(fit.developmental_zero_c + shift_k, abs=1e-6)
    assert warmer.thermal_constant_ch == pytest.approx(fit.thermal_constant_ch, rel=1e-6)
    assert warmer.developmental_zero_u_k == pytest.approx(fit.developmental_zero_u_k, abs=1e-6)


@given(series(), st.randoms(use_true_random=False), st.booleans())
def test_the_order_of_durations_changes_nothing(
    rows: list[Duration],
    random: Random,
    one_per_temperature: bool,
) -> None:
    shuffled = [*rows, Duration(rows[0].temperature_c, rows[0].days * 1.01)]
    fit = fit_durations(shuffled, one_per_temperature=one_per_temperature)
    random.shuffle(shuffled)
    assert astuple(fit_durations(shuffled, one_per_temperature=one_per_temperature)) == astuple(fit)


@given(series(), st.floats(20, 32))
def test_warmth_shortens_a_duration(rows: list[Duration], at_c: float) -> None:
    fit = fit_durations(rows)
    assert duration_days(fit, at_c).days > duration_days(fit, at_c + 0.1).days


@given(series())
def test_a_duration_is_known_best_in_the_middle_of_the_series(rows: list[Duration]) -> None:
    fit = fit_durations(rows)
    middle_c = (rows[0].temperature_c + rows[-1].temperature_c) / 2
    relative = []
    for at_c in (rows[0].temperature_c, middle_c):
        days, uncertainty = duration_days(fit, at_c)
        assert uncertainty is not None
        relative.append(uncertainty / days)
    assert relative[1] <= relative[0] + 1e-12
