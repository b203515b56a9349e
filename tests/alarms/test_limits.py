"""Limits of a place from the clutches in it."""

from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from config.words import AlarmKind, Quantity
from daemon.alarms.conditions import Side
from daemon.alarms.definitions import DEFINITIONS
from daemon.alarms.limits import WARNING_ROOM_C, Limits, Occupant, limit_of, overlap, rule_for
from tests.alarms.profiles import occupant
from tests.alarms.steady import steady

RATSNAKE = occupant("R-1", 25.0, 29.0, 34.0, species="ratsnake", lethal_low=15.0)
PYTHON = occupant("P-2", 30.0, 33.0, 35.5, species="python", lethal_low=24.0)


def test_no_clutch_gives_no_limits() -> None:
    assert overlap(()) == Limits()


def test_one_clutch_gives_its_own_limits() -> None:
    assert overlap([RATSNAKE]) == Limits(lethal_low_c=15.0, low_c=25.0, high_c=29.0, lethal_high_c=34.0)


def test_limits_are_the_overlap_and_lethal_limits_the_tightest() -> None:
    gecko = occupant("G-3", 26.0, 31.0, 36.0, species="gecko", lethal_low=12.0, humidity=(70.0, 90.0))
    skink = occupant("S-4", 24.0, 28.5, 33.0, species="skink", humidity=(75.0, 95.0))
    assert overlap([gecko, skink]) == Limits(12.0, 26.0, 28.5, 33.0, 75.0, 90.0)


def test_a_clutch_without_humidity_leaves_the_humidity_of_the_others() -> None:
    gecko = occupant("G-3", 26.0, 31.0, 36.0, species="gecko", humidity=(70.0, 90.0))
    found = overlap([RATSNAKE, gecko])
    assert (found.humidity_low_pct, found.humidity_high_pct) == (70.0, 90.0)


def test_a_conflict_names_both_clutches_and_both_ranges() -> None:
    (conflict,) = overlap([PYTHON, RATSNAKE]).conflicts
    assert (conflict.quantity, conflict.first, conflict.second) == (Quantity.AIR_TEMPERATURE, "R-1", "P-2")
    assert conflict.reason == (
        "the ratsnake clutch R-1 wants 25.0 to 29.0 °C, the python clutch P-2 wants 30.0 to 33.0 °C; "
        "no temperature suits both. Move one of them."
    )


def test_without_overlap_warnings_are_the_envelope_and_lethal_limits_stay_the_tightest() -> None:
    found = overlap([RATSNAKE, PYTHON])
    assert (found.low_c, found.high_c) == (25.0, 33.0)
    assert (found.lethal_low_c, found.lethal_high_c) == (24.0, 34.0)


def test_ranges_that_touch_in_one_point_are_a_conflict() -> None:
    warm = occupant("W", 29.0, 31.0, 36.0)
    (conflict,) = overlap([RATSNAKE, warm]).conflicts
    assert "meet in one point" in conflict.reason
    assert overlap([RATSNAKE, warm]).high_c == 31.0


def test_a_narrow_overlap_is_used_and_is_no_conflict() -> None:
    found = overlap([RATSNAKE, occupant("W", 28.8, 31.0, 36.0)])
    assert (found.low_c, found.high_c, found.conflicts) == (28.8, 29.0, ())


def test_humidity_without_overlap_is_a_conflict_of_its_own() -> None:
    dry = occupant("D", 25.0, 30.0, 35.0, humidity=(40.0, 60.0))
    wet = occupant("W", 25.0, 30.0, 35.0, humidity=(80.0, 95.0))
    found = overlap([wet, dry])
    assert [(each.quantity, each.first, each.second) for each in found.conflicts] == [
        (Quantity.RELATIVE_HUMIDITY, "D", "W")
    ]
    assert (found.humidity_low_pct, found.humidity_high_pct) == (40.0, 95.0)


def test_clutches_of_one_species_are_told_as_one_conflict() -> None:
    many = [replace(RATSNAKE, label=f"R-{number}") for number in range(20)]
    assert [(each.first, each.second) for each in overlap([*many, PYTHON]).conflicts] == [("R-0", "P-2")]


def test_a_lethal_limit_inside_the_range_of_another_clutch_pulls_the_warning_inside_and_says_so() -> None:
    hot = occupant("H", 31.0, 35.0, 38.0)
    found = overlap([RATSNAKE, hot])
    assert (found.high_c, found.lethal_high_c) == (34.0 - WARNING_ROOM_C, 34.0)
    _, lethal = found.conflicts
    assert lethal.reason == (
        "34.0 °C and above can kill the ratsnake clutch R-1, but the h clutch H wants 31.0 to 35.0 °C. "
        "The lethal limit stays, and a warning limit past it is pulled inside it."
    )


def test_a_lethal_cold_limit_inside_the_range_of_another_clutch_pulls_the_warning_inside() -> None:
    cool = occupant("C", 20.0, 24.5, 34.0, lethal_low=10.0)
    found = overlap([PYTHON, cool])
    assert (found.lethal_low_c, found.low_c) == (24.0, 24.0 + WARNING_ROOM_C)


@pytest.mark.parametrize("lethal_high_c", [23.5, 24.0])
def test_where_lethal_limits_meet_or_cross_only_they_are_left(lethal_high_c: float) -> None:
    cool = occupant("C", 18.0, 22.0, lethal_high_c)
    found = overlap([PYTHON, cool])
    assert (found.lethal_low_c, found.low_c, found.high_c, found.lethal_high_c) == (24.0, None, None, lethal_high_c)
    assert len(found.conflicts) == 2


tenths = st.integers(150, 400).map(lambda tenth: tenth / 10)


@st.composite
def occupants(draw: st.DrawFn) -> list[Occupant]:
    groups = draw(st.lists(st.lists(tenths, min_size=4, max_size=4, unique=True).map(sorted), min_size=1, max_size=4))
    return [
        occupant(f"K{number}", low, high, lethal_high, lethal_low=lethal_low)
        for number, (lethal_low, low, high, lethal_high) in enumerate(groups)
    ]


@steady
@given(occupants())
def test_limits_are_in_order_and_no_clutch_is_watched_less_than_its_lethal_limits(clutches: list[Occupant]) -> None:
    """OPC 10000-9, 5.8.18: high-high > high > low > low-low."""
    found = overlap(clutches)
    for each in clutches:
        temperature = each.profile.temperature
        assert found.lethal_high_c is not None
        assert found.lethal_high_c <= temperature.lethal_high.value
        assert temperature.lethal_low is not None
        assert found.lethal_low_c is not None
        assert found.lethal_low_c >= temperature.lethal_low.value
    order = (found.lethal_low_c, found.low_c, found.high_c, found.lethal_high_c)
    if found.low_c is None:
        assert found.high_c is None
        assert any("can kill" in each.reason for each in found.conflicts)
    else:
        assert all(one is not None and other is not None and one < other for one, other in pairwise(order))


@steady
@given(occupants())
def test_a_conflict_is_told_exactly_where_no_temperature_suits_every_clutch(clutches: list[Occupant]) -> None:
    """Intervals have a common point if and only if each two have one (Helly's theorem, one dimension)."""
    ranges = [(each.profile.temperature.low.value, each.profile.temperature.high.value) for each in clutches]
    shared = max(low for low, _ in ranges) < min(high for _, high in ranges)
    found = overlap(clutches)
    assert shared is not any(" wants " in each.reason and "kill" not in each.reason for each in found.conflicts)
    if shared:
        assert (found.low_c, found.high_c) == (max(low for low, _ in ranges), min(high for _, high in ranges))


@pytest.mark.parametrize("kind", [AlarmKind.NO_DATA, AlarmKind.PROBE_FAULT])
def test_kinds_about_the_probe_have_no_limit_and_no_rule(kind: AlarmKind) -> None:
    limits = overlap([RATSNAKE])
    assert limit_of(limits, kind) is None
    assert rule_for(DEFINITIONS[kind], limits, 180) is None


def test_a_limit_that_is_not_known_gives_no_rule() -> None:
    assert rule_for(DEFINITIONS[AlarmKind.HUMIDITY_LOW], overlap([RATSNAKE]), 180) is None
    assert rule_for(DEFINITIONS[AlarmKind.TEMPERATURE_HIGH], Limits(), 180) is None


def test_a_rule_carries_the_limit_and_the_patience_of_its_kind() -> None:
    rule = rule_for(DEFINITIONS[AlarmKind.TEMPERATURE_LETHAL_HIGH], overlap([RATSNAKE]), 180)
    assert rule is not None
    assert (rule.side, rule.limit, rule.deadband, rule.on_delay_s) == (Side.HIGH, 34.0, 0.3, 60)
    assert (rule.off_delay_s, rule.at_once_beyond, rule.longest_gap_s) == (300, 1.0, 180)


@pytest.mark.parametrize("width", [0.05, 0.2, 0.39, 4.0])
def test_a_deadband_leaves_room_between_the_limits(width: float) -> None:
    """OPC 10000-9, 5.8.18: HighLimit - HighDeadband > LowLimit and LowLimit + LowDeadband < HighLimit."""
    limits = Limits(low_c=28.0, high_c=28.0 + width, lethal_high_c=36.0)
    high = rule_for(DEFINITIONS[AlarmKind.TEMPERATURE_HIGH], limits, 180)
    low = rule_for(DEFINITIONS[AlarmKind.TEMPERATURE_LOW], limits, 180)
    assert high is not None
    assert low is not None
    assert high.limit - high.deadband > low.limit
    assert low.limit + low.deadband < high.limit
