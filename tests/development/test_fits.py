"""A line through durations: what it is worth, what it refuses, and the figures beside it."""

import math

import pytest

from config.errors import StatedError
from daemon.development.durations import Duration
from daemon.development.fits import Fit, duration_days, fit_durations, line_days


def durations(*pairs: tuple[float, float]) -> list[Duration]:
    return [Duration(temperature_c, days) for temperature_c, days in pairs]


def fitted(*pairs: tuple[float, float]) -> Fit:
    return fit_durations(durations(*pairs))


KRAIT = durations((24, 85), (27, 61.6), (30, 41))
"""Bungarus multicinctus: Ji, Gao and Han 2007, Zoological Science 24:384-390, as compiled in RepDevo."""
HOUSE_GECKO = durations((20, 73), (24, 61), (28, 55))
"""Hemidactylus frenatus: Ota 1994, Ecological Research 9:121-130, figure 6, as compiled in RepDevo."""


def test_two_points_give_the_pair_that_is_reckoned_by_hand_and_no_error() -> None:
    """Emydura signata, 78 d at 24 °C and 42 d at 31 °C (Booth 1998, Physiological Zoology 71:23-26).

    By hand: (1/42 - 1/78)/7 K = 1/637 per day and kelvin, so K = 637 * 24 °C·h and T0 = 24 °C - 637/78 K.
    """
    fit = fitted((24, 78), (31, 42))
    assert fit.thermal_constant_ch == pytest.approx(15_288, abs=1e-6)
    assert fit.developmental_zero_c == pytest.approx(15.8333, abs=5e-5)
    assert fit.flag == "two-point"
    assert (fit.developmental_zero_u_k, fit.thermal_constant_u_ch, fit.covariance_ch_k) == (None, None, None)
    assert (fit.residual_sd_pct, fit.r_squared) == (None, None)
    assert duration_days(fit, 24).days == pytest.approx(78)
    assert duration_days(fit, 24).standard_uncertainty_days is None


def test_one_temperature_tried_often_is_one_point_unless_each_duration_is_asked_for() -> None:
    """The mean rate of 40 d and 60 d is 1/48 d, by hand; each alone, the line at 30 °C passes through the same."""
    rows = durations((24, 96), (27, 64), (30, 40), (30, 60))
    mean = fit_durations(rows)
    assert mean.points[-1].observed_days == pytest.approx(48)
    assert len(mean.points) == 3
    assert mean.residual_sd_pct == pytest.approx(0, abs=1e-9)  # 1/96, 1/64, 1/48 lie on one line
    each = fit_durations(rows, one_per_temperature=False)
    assert [point.observed_days for point in each.points] == pytest.approx([96, 64, 60, 40])
    assert each.thermal_constant_ch == pytest.approx(mean.thermal_constant_ch)
    assert each.residual_sd_pct is not None
    assert each.residual_sd_pct > 10


def test_two_temperatures_stay_two_points_however_often_they_were_tried() -> None:
    fit = fit_durations(durations((24, 78), (24, 77), (31, 42), (31, 41)), one_per_temperature=False)
    assert fit.flag == "two-point"


@pytest.mark.parametrize(
    ("rows", "flag"),
    [
        (durations((24, 100), (26, 75), (28, 60)), "good"),  # 4 K, exactly on a line with T0 18
        (durations((24, 100), (26, 75), (27.9, 60)), "fair"),  # less than 4 K
        (durations((20, 100), (24, 60), (28, 52)), "fair"),
        (durations((20, 100), (24, 52), (28, 57)), "weak"),
        (HOUSE_GECKO, "do not use"),
        (durations((26, 100), (27, 50), (28, 33.4)), "do not use"),  # T0 25
    ],
)
def test_the_flag_says_what_the_line_is_worth(rows: list[Duration], flag: str) -> None:
    assert fit_durations(rows).flag == flag


def test_r_squared_is_the_squared_correlation_of_rate_and_temperature() -> None:
    from scipy import stats

    for rows in (((20, 100), (24, 60), (28, 52)), ((20, 100), (24, 52), (28, 57))):
        found = stats.linregress([one[0] for one in rows], [1 / one[1] for one in rows])
        assert fitted(*rows).r_squared == pytest.approx(found.rvalue**2)


def test_durations_of_several_sources_are_pooled_and_unnamed_ones_are_no_source() -> None:
    one = [Duration(row.temperature_c, row.days, source="Ji 2007") for row in KRAIT[:2]]
    assert not fit_durations(KRAIT).pooled
    assert not fit_durations([*one, KRAIT[2]]).pooled
    assert fit_durations([*one, Duration(30, 41, source="another keeper")]).pooled


def test_what_is_warmer_than_asked_for_is_left_out() -> None:
    """Naja atra at 32 °C: Ji and Du 2001, Journal of Herpetology 35:186-194, as compiled in RepDevo."""
    cobra = durations((24, 93.1), (24, 89.8), (26, 66), (26, 67.1), (30, 46.1), (30, 46.2))
    hot = durations((32, 42.2), (32, 42.7))
    assert fit_durations([*cobra, *hot], upto_c=30.5) == fit_durations(cobra)
    assert fit_durations([*cobra, *hot]).developmental_zero_c < fit_durations(cobra).developmental_zero_c
    assert fit_durations([*cobra, *hot], upto_c=32) == fit_durations([*cobra, *hot])


def test_scatter_between_eggs_kept_alike_is_pooled_by_degrees_of_freedom() -> None:
    """By hand: 10 eggs at 4 % and 2 eggs at 8 % give the root of (9 * 16 + 1 * 64)/10, 4.56 %."""
    rows = [Duration(24, 100, eggs=10, days_sd=4), Duration(28, 50, eggs=2, days_sd=4), Duration(30, 40)]
    assert fit_durations(rows).within_treatment_cv_pct == pytest.approx(math.sqrt(20.8))
    assert fit_durations(KRAIT).within_treatment_cv_pct is None


def test_eggs_of_one_temperature_are_counted_together_and_unknown_where_nobody_told() -> None:
    rows = [Duration(24, 100, eggs=10), Duration(24, 98, eggs=3), Duration(28, 50)]
    assert [point.eggs for point in fit_durations(rows).points] == [13, None]


def test_errors_of_durations_are_in_percent_of_what_was_observed() -> None:
    fit = fit_durations(KRAIT)
    expected = [
        100 * (line_days(fit.developmental_zero_c, fit.thermal_constant_ch, row.temperature_c) / row.days - 1)
        for row in KRAIT
    ]
    assert [point.difference_pct for point in fit.points] == pytest.approx(expected)
    assert fit.mean_absolute_error_pct == pytest.approx(sum(map(abs, expected)) / 3)


@pytest.mark.parametrize(
    ("rows", "reason"),
    [
        (durations(), "here is none"),
        (durations((24, 85), (24, 86)), "here is one"),
        (durations((24, 40), (30, 60)), "do not fall with warmth"),
        (durations((24, 61), (27, 61), (30, 61)), "do not fall with warmth"),
        (durations((20, 10_000), (25, 5000), (30, 30)), "reaches zero at 21.6 °C, not below 20 °C"),
        (durations((20, 100_000), (21, 120), (30, 10)), "reaches zero at 20.1 °C, not below 20 °C"),
        (durations((24, 0), (30, 60)), "0 days at 24 °C"),
        (durations((24, -85), (30, 60)), "-85 days at 24 °C"),
        (durations((24, math.nan), (30, 60)), "nan days"),
        (durations((24, math.inf), (30, 60)), "inf days"),
        (durations((75.2, 85), (86, 41)), "75.2 °F is 24.0 °C"),
        (durations((24, 85), (86, 41)), "86 °F is 30.0 °C"),
        (durations((math.nan, 85), (30, 41)), "a temperature of nan"),
        ([Duration(24, 85, eggs=0), Duration(30, 41)], "0 eggs"),
        ([Duration(24, 85, days_sd=2), Duration(30, 41)], "says nothing"),
        ([Duration(24, 85, eggs=1, days_sd=2), Duration(30, 41)], "says nothing"),
        ([Duration(24, 85, eggs=5, days_sd=-2), Duration(30, 41)], "says nothing"),
    ],
)
def test_what_gives_no_line_is_refused_with_the_reason_and_what_to_do(rows: list[Duration], reason: str) -> None:
    with pytest.raises(StatedError) as refused:
        fit_durations(rows)
    assert reason in refused.value.reason
    assert len(refused.value.hint) > 10
    assert isinstance(refused.value, ValueError)


def test_a_limit_that_leaves_one_temperature_is_named_in_the_refusal() -> None:
    with pytest.raises(StatedError, match="here is one up to 26 °C"):
        fit_durations(KRAIT, upto_c=26)


def test_a_line_knows_no_duration_at_or_below_its_zero() -> None:
    fit = fit_durations(KRAIT)
    for temperature_c in (fit.developmental_zero_c, 10.0, math.nan):
        with pytest.raises(StatedError, match=r"not above the developmental zero of 18\.7 °C"):
            duration_days(fit, temperature_c)
