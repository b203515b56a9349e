"""Heat from laying to now: the days before the set-up, and the whole as one interval. Figures by hand."""

import math

import pytest

from daemon.development.heat_interval import HeatPiece, HeatRule
from daemon.development.heat_since_laying import Kept, Laying, heat_before, interval_ch, since_laying

HOUR_MS = 3_600_000
RULE = HeatRule(15.0, 30.0)
LAYING = Laying(laid_from_ms=0, laid_to_ms=20 * HOUR_MS, set_up_ms=50 * HOUR_MS)


def test_eggs_kept_at_a_stated_room_before_the_set_up_bring_its_heat() -> None:
    """40 h from the middle of the laying window at 22 °C, give or take 1 K: 7 K each hour, 5 K to 9 K at two u."""
    piece = heat_before(LAYING, Kept(22.0, 1.0), RULE)
    assert (piece.low_ch, piece.best_ch, piece.high_ch) == (40 * 5.0, 40 * 7.0, 40 * 9.0)
    assert (piece.linear_ms, piece.missing_ms) == (40 * HOUR_MS, 40 * HOUR_MS)


def test_a_cold_room_brings_no_heat_and_none_is_taken_away() -> None:
    piece = heat_before(LAYING, Kept(10.0, 1.0), RULE)
    assert (piece.low_ch, piece.best_ch, piece.high_ch, piece.linear_ms) == (0.0, 0.0, 0.0, 0)


def test_nothing_stated_before_the_set_up_leaves_everything_between_none_and_the_cap_open() -> None:
    piece = heat_before(LAYING, None, RULE)
    assert (piece.low_ch, piece.best_ch, piece.high_ch) == (0.0, 40 * 7.5, 40 * 15.0)


def test_a_clutch_set_up_within_its_laying_window_was_laid_before_it() -> None:
    laying = Laying(laid_from_ms=0, laid_to_ms=90 * HOUR_MS, set_up_ms=10 * HOUR_MS)
    assert (laying.middle_ms, laying.half_width_h) == (5 * HOUR_MS, 5.0)


def test_the_interval_adds_gaps_laying_window_and_probe_in_quadrature_on_each_side() -> None:
    measured = HeatPiece(
        950.0,
        1000.0,
        1010.0,
        colder_ch=40.0,
        warmer_ch=10.0,
        linear_ms=90 * HOUR_MS,
        above_cap_ms=10 * HOUR_MS,
        covered_ms=100 * HOUR_MS,
    )
    heat = since_laying(LAYING, Kept(22.0, 0.0), measured, RULE, 150 * HOUR_MS)
    assert (heat.best_ch, heat.linear_h, heat.since_laying_h) == (1280.0, 140.0, 140.0)
    assert (heat.laying_half_width_h, heat.heat_rate_before_k) == (10.0, 7.0)
    low_ch, best_ch, high_ch = interval_ch(heat)
    assert best_ch == 1280.0
    assert low_ch == pytest.approx(1280 - math.sqrt(50**2 + 70**2 + 40**2))
    assert high_ch == pytest.approx(1280 + math.sqrt(10**2 + 70**2 + 10**2))
    assert heat.offset_ch == 12.5


def test_a_clutch_found_at_once_had_the_heat_of_the_box_about_its_laying() -> None:
    """Laid and set up within half an hour: a day of laying that is an hour off counts at the incubator's 13 K."""
    laying = Laying(0, 0, 1000)
    measured = HeatPiece(1300.0, 1300.0, 1300.0, covered_ms=100 * HOUR_MS)
    assert since_laying(laying, Kept(20.0, 1.0), measured, RULE, 100 * HOUR_MS).heat_rate_before_k == 13.0
