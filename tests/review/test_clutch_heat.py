"""Development that a period costs, by hand: zero 13.2 °C and cap 30.5 °C, so 28 °C brings 14.8 °C·h an hour."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from config.species import SpeciesProfile
from daemon.development.basis import development_basis
from daemon.development.heat_interval import HeatPiece, HeatRule
from daemon.development.window import HeatSoFar, NoWindow
from daemon.review.clutch_heat import Before, HatchShift, HeatLoss, before_of, hatch_shift, heat_loss, narrowed
from daemon.review.course import GapCourse, GapKind
from daemon.review.values import Bounds, Span

HOUR_MS = 3_600_000
DAY_MS = 24 * HOUR_MS
AT_MS = 1_780_000_000_000
RULE = HeatRule(13.2, 30.5)
WANTED = (24.0, 30.0)


def measured(hours: float, temperature_c: float, off_k: float = 0.0) -> HeatPiece:
    """So many hours at one temperature, all of them read; the probe may be so far off, K (k = 2)."""
    rate_k = RULE.rate_k(temperature_c)
    return HeatPiece(
        low_ch=rate_k * hours,
        best_ch=rate_k * hours,
        high_ch=rate_k * hours,
        colder_ch=(rate_k - RULE.rate_k(temperature_c - off_k)) * hours,
        warmer_ch=(RULE.rate_k(temperature_c + off_k) - rate_k) * hours,
        covered_ch=rate_k * hours,
        temperature_ch=temperature_c * hours,
        covered_ms=round(hours * HOUR_MS),
    )


def gap(hours: float, low_ch: float, best_ch: float, high_ch: float) -> HeatPiece:
    return HeatPiece(low_ch, best_ch, high_ch, missing_ms=round(hours * HOUR_MS))


def test_ten_hours_at_18_degrees_after_a_week_at_28_lose_a_hundred_degree_hours() -> None:
    """Expected 10 h * 14.8 K = 148; gained 10 h * 4.8 K = 48; lost 100, which is 100 / 14.8 = 6.757 h at that pace."""
    before = before_of(measured(168, 28.0), RULE, WANTED)
    loss = heat_loss(measured(10, 18.0), before)
    assert before.is_measured
    assert before.temperature_c == pytest.approx(28.0)
    assert loss.expected_ch == pytest.approx(148.0)
    assert loss.gained_ch == pytest.approx((48.0, 48.0, 48.0))
    assert loss.lost_ch == pytest.approx((100.0, 100.0, 100.0))
    assert loss.lost_h == pytest.approx((6.757, 6.757, 6.757), abs=5e-4)


def test_a_warmer_time_is_a_loss_below_zero() -> None:
    """At 30 °C 16.8 K an hour instead of 14.8: ten hours gain 20 °C·h more."""
    loss = heat_loss(measured(10, 30.0), before_of(measured(168, 28.0), RULE, WANTED))
    assert loss.lost_ch.best == pytest.approx(-20.0)


@pytest.mark.parametrize("hours", [0.0, 23.9])
def test_where_too_little_was_measured_before_the_middle_of_the_range_counts(hours: float) -> None:
    """24 to 30 °C: 27 °C, which is 13.8 K above the zero."""
    before = before_of(measured(hours, 20.0), RULE, WANTED)
    assert not before.is_measured
    assert (before.temperature_c, before.rate_k) == pytest.approx((27.0, 13.8))


def test_what_a_gap_leaves_open_goes_over_to_the_loss() -> None:
    """Of 148 expected, 40 to 60 were gained: 88 to 108 are lost."""
    loss = heat_loss(gap(10, 40.0, 48.0, 60.0), before_of(measured(168, 28.0), RULE, WANTED))
    assert loss.gained_ch == pytest.approx((40.0, 48.0, 60.0))
    assert loss.lost_ch == pytest.approx((88.0, 100.0, 108.0))
    assert loss.missing_h == 10


def test_a_probe_that_is_off_all_the_time_changes_what_was_gained_and_not_what_was_lost() -> None:
    """Between zero and cap an offset of 0.5 K is 5 °C·h in ten hours, in what was expected and in what was gained."""
    loss = heat_loss(measured(10, 18.0, off_k=0.5), before_of(measured(168, 28.0, off_k=0.5), RULE, WANTED))
    assert loss.gained_ch == pytest.approx((43.0, 48.0, 53.0))
    assert loss.lost_ch == pytest.approx((100.0, 100.0, 100.0))


def test_below_the_zero_a_probe_that_is_off_changes_the_loss() -> None:
    """At 10 °C nothing is gained, 0.5 K more or less: 148 lost, or 143 or 153 as the probe was off before."""
    loss = heat_loss(measured(10, 10.0, off_k=0.5), before_of(measured(168, 28.0, off_k=0.5), RULE, WANTED))
    assert loss.lost_ch == pytest.approx((143.0, 148.0, 153.0))


def test_a_clutch_whose_development_stood_still_before_has_no_hours_to_lose() -> None:
    loss = heat_loss(measured(10, 10.0), before_of(measured(168, 10.0), RULE, WANTED))
    assert loss.lost_h is None
    assert loss.lost_ch == pytest.approx((0.0, 0.0, 0.0))


def course(hours: float, low_c: float, best_c: float, high_c: float) -> GapCourse:
    """A gap that kept three temperatures."""
    both = np.array([AT_MS, AT_MS + hours * HOUR_MS], dtype=float)
    return GapCourse(
        span=Span(AT_MS, AT_MS + round(hours * HOUR_MS)),
        kind=GapKind.HEAT_OFF,
        before=None,
        after=None,
        at_ms=both,
        low_c=np.full(2, low_c),
        best_c=np.full(2, best_c),
        high_c=np.full(2, high_c),
        heat_back_ms=None,
        contradiction=False,
        reason="",
    )


@pytest.mark.parametrize(
    ("curves", "expected"),
    [
        # 6 h at 20 °C bring 40.8 °C·h, at 22 °C 52.8, at 28 °C 88.8: all within what the ledger says.
        ((20.0, 22.0, 28.0), (40.8, 52.8, 88.8)),
        # Below the zero nothing, above the cap 17.3 an hour; nothing bounds the upper side, so the ledger's 100 stays.
        ((10.0, 12.0, math.inf), (5.0, 5.0, 100.0)),
        ((20.0, 35.0, 36.0), (40.8, 100.0, 100.0)),
        # Nothing speaks for one value: the ledger's stays.
        ((20.0, math.nan, 28.0), (40.8, 70.0, 88.8)),
        # Nothing in common: all of the ledger's stays.
        ((10.0, 11.0, 12.0), (5.0, 70.0, 100.0)),
    ],
)
def test_a_gap_has_the_heat_that_the_ledger_and_its_course_allow(
    curves: tuple[float, float, float], expected: tuple[float, float, float]
) -> None:
    counted = gap(6, 5.0, 70.0, 100.0) + measured(2, 28.0)
    found = narrowed(counted, [course(6, *curves)], RULE)
    assert (found.low_ch, found.best_ch, found.high_ch) == pytest.approx([29.6 + each for each in expected])
    assert (found.covered_ch, found.covered_ms, found.missing_ms) == (
        counted.covered_ch,
        counted.covered_ms,
        counted.missing_ms,
    )


heats = st.floats(0, 170)
befores = st.builds(Before, st.floats(0, 17.3), st.floats(0, 40), st.floats(24, 168))


@st.composite
def pieces(draw: st.DrawFn) -> HeatPiece:
    low, best, high = sorted([draw(heats), draw(heats), draw(heats)])
    covered, missing = draw(st.integers(0, 24)), draw(st.integers(0, 24))
    off = st.floats(0, 20)
    return HeatPiece(
        low,
        best,
        high,
        colder_ch=draw(off),
        warmer_ch=draw(off),
        covered_ms=covered * HOUR_MS,
        missing_ms=missing * HOUR_MS,
    )


@given(pieces(), befores)
def test_what_was_gained_and_what_was_lost_are_what_was_expected(gained: HeatPiece, before: Before) -> None:
    loss = heat_loss(gained, before)
    assert loss.lost_ch.low <= loss.lost_ch[1] <= loss.lost_ch.high  # type: ignore[operator]
    assert loss.gained_ch.low <= loss.gained_ch[1] <= loss.gained_ch.high  # type: ignore[operator]
    assert loss.gained_ch[1] + loss.lost_ch[1] == pytest.approx(loss.expected_ch, abs=1e-9)  # type: ignore[operator]
    assert loss.gained_ch.low + loss.lost_ch.low <= loss.expected_ch + 1e-9
    assert loss.gained_ch.high + loss.lost_ch.high >= loss.expected_ch - 1e-9


@given(pieces(), pieces(), befores)
def test_two_halves_lose_what_the_whole_loses(one: HeatPiece, other: HeatPiece, before: Before) -> None:
    whole, first, second = (heat_loss(each, before) for each in (one + other, one, other))
    assert whole.lost_ch.best == pytest.approx(first.lost_ch[1] + second.lost_ch[1], abs=1e-9)  # type: ignore[operator]
    assert whole.expected_ch == pytest.approx(first.expected_ch + second.expected_ch, abs=1e-9)


def two_durations() -> SpeciesProfile:
    """Emydura signata: 78 d at 24 °C and 42 d at 31 °C (Booth 1998), laid at the same stage."""
    source = "Booth 1998"
    return SpeciesProfile.model_validate(
        {
            "id": "emydura",
            "scientific_name": "Emydura signata",
            "common_name": "short-necked turtle",
            "group": "turtle",
            "temperature": {
                "low": {"value": 24.0, "source": source},
                "high": {"value": 31.0, "source": source},
                "lethal_high": {"value": 34.0, "source": "common practice, no source"},
            },
            "duration": [
                {"temperature_c": 24.0, "days": 78.0, "source": source},
                {"temperature_c": 31.0, "days": 42.0, "source": source},
            ],
        }
    )


def swapped(profile: SpeciesProfile) -> tuple[HeatSoFar, HeatLoss]:
    """Laid, and 39 days at 24 °C, where 31 °C was what it got before."""
    basis = development_basis(profile)
    assert basis is not None
    rule = HeatRule(basis.zero_c, basis.cap_c)
    hours = 39 * 24.0
    gained_ch = rule.rate_k(24.0) * hours
    so_far = HeatSoFar(gained_ch, gained_ch, gained_ch, 0.0, hours, hours, 0.0, rule.rate_k(24.0))
    piece = HeatPiece(gained_ch, gained_ch, gained_ch, covered_ms=round(hours * HOUR_MS))
    return so_far, heat_loss(piece, Before(rule.rate_k(31.0), 31.0, 168.0))


def test_the_hatch_window_moves_by_the_published_eighteen_days() -> None:
    """39 d at 24 °C are half of 78; the other half takes 21 d at 31 °C: 60 d instead of 42 (Booth 1998)."""
    profile = two_durations()
    heat, loss = swapped(profile)
    found = hatch_shift(profile, development_basis(profile), heat, loss, AT_MS)
    assert isinstance(found, HatchShift)
    assert found.days == pytest.approx((18.0, 18.0, 18.0), abs=1e-6)
    assert found.after.likely_ms == pytest.approx(AT_MS + 21 * DAY_MS, abs=1000)
    assert found.without.likely_ms == pytest.approx(AT_MS + 3 * DAY_MS, abs=1000)


def test_the_bounds_of_the_shift_are_those_of_the_loss_at_the_pace_of_before() -> None:
    profile = two_durations()
    heat, loss = swapped(profile)
    rate_k = loss.before.rate_k
    wide = replace(loss, lost_ch=Bounds(24 * rate_k, 48 * rate_k, 240 * rate_k))
    found = hatch_shift(profile, development_basis(profile), heat, wide, AT_MS)
    assert isinstance(found, HatchShift)
    assert found.days == pytest.approx((1.0, 2.0, 10.0), abs=1e-6)


def test_where_nothing_is_known_or_development_pauses_no_date_moves_and_the_reason_is_told() -> None:
    profile = two_durations()
    heat, loss = swapped(profile)
    paused = profile.model_copy(update={"pause": "diapause"})
    found = hatch_shift(paused, development_basis(paused), heat, loss, AT_MS)
    assert isinstance(found, NoWindow)
    assert "pauses" in found.reason
    bare = profile.model_copy(update={"durations": ()})
    unknown = hatch_shift(bare, development_basis(bare), heat, None, AT_MS)
    assert isinstance(unknown, NoWindow)
    assert "Nothing is known" in unknown.reason
