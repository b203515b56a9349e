"""Limits of a place from clutches that are at different stages."""

from dataclasses import replace

from config.species import HumidityRange, StageLimits, StageTemperature
from config.words import Quantity
from daemon.alarms.limits import Limits, Occupant, overlap
from tests.alarms.profiles import occupant, sourced

DRY = occupant("D-1", 25.0, 29.0, 34.0, species="ratsnake", humidity=(60.0, 80.0))


def with_stages(base: Occupant, *stages: StageLimits) -> Occupant:
    return replace(base, profile=base.profile.model_copy(update={"stages": stages}))


DAMP_AT_LAST = with_stages(
    DRY, StageLimits(from_share=0.9, humidity=HumidityRange(low=sourced(85.0), high=sourced(100.0)))
)
WARM_AT_FIRST = with_stages(
    occupant("W-2", 30.0, 32.0, 36.0, species="python", humidity=(60.0, 80.0)),
    StageLimits(from_day=20.0, temperature=StageTemperature(low=sourced(26.0), high=sourced(30.0))),
)


def test_a_clutch_before_its_first_stage_has_the_limits_of_its_profile() -> None:
    assert overlap([DAMP_AT_LAST]) == overlap([DRY]) == Limits(None, 25.0, 29.0, 34.0, 60.0, 80.0)


def test_a_clutch_in_its_last_tenth_moves_the_limits_and_keeps_the_lethal_ones() -> None:
    assert overlap([replace(DAMP_AT_LAST, stage=0)]) == Limits(None, 25.0, 29.0, 34.0, 85.0, 100.0)


def test_two_clutches_of_one_species_at_different_stages_can_need_different_air() -> None:
    found = overlap([DAMP_AT_LAST, replace(DAMP_AT_LAST, label="D-9", stage=0)])
    (conflict,) = found.conflicts
    assert (conflict.quantity, conflict.first, conflict.second) == (Quantity.RELATIVE_HUMIDITY, "D-1", "D-9")
    assert conflict.reason == (
        "the ratsnake clutch D-1 wants 60.0 to 80.0 % RH, "
        "the ratsnake clutch D-9 (in its last tenth) wants 85.0 to 100.0 % RH; no humidity suits both. "
        "Move one of them."
    )
    assert (found.humidity_low_pct, found.humidity_high_pct) == (60.0, 100.0)


def test_a_conflict_ends_where_a_stage_brings_the_ranges_together() -> None:
    assert len(overlap([DRY, WARM_AT_FIRST]).conflicts) == 1
    later = overlap([DRY, replace(WARM_AT_FIRST, stage=0)])
    assert (later.low_c, later.high_c, later.conflicts) == (26.0, 29.0, ())


def test_clutches_of_one_species_whose_stages_leave_the_temperature_alone_are_told_as_one_there() -> None:
    python = occupant("P-3", 30.0, 33.0, 36.0, species="python")
    found = overlap([DAMP_AT_LAST, replace(DAMP_AT_LAST, label="D-9", stage=0), python])
    warm = [one for one in found.conflicts if one.quantity is Quantity.AIR_TEMPERATURE]
    assert [(one.first, one.second) for one in warm] == [("D-1", "P-3")]


def test_the_day_of_a_stage_is_named_where_a_clutch_is_named() -> None:
    assert str(replace(WARM_AT_FIRST, stage=0)) == "the python clutch W-2 (from day 20 on)"
    assert str(WARM_AT_FIRST) == "the python clutch W-2"


def test_a_stage_that_kills_another_clutch_is_told_with_the_stage() -> None:
    hot = with_stages(
        occupant("H-4", 28.0, 30.0, 38.0, species="hot"),
        StageLimits(from_share=0.5, temperature=StageTemperature(low=sourced(33.0), high=sourced(35.0))),
    )
    reasons = [one.reason for one in overlap([DRY, replace(hot, stage=0)]).conflicts]
    assert any(
        "can kill the ratsnake clutch D-1, but the hot clutch H-4 (in its second half)" in one for one in reasons
    )
