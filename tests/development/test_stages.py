"""Which stage is in force, and what it changes."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from config.species import SpeciesProfile
from daemon.development.stages import Ranges, Share, ranges_in_force, stage_in_force, stage_name

MADE_UP = "made up for a check"


def figure(value: float) -> dict[str, Any]:
    return {"value": value, "source": MADE_UP}


def span(low: float, high: float) -> dict[str, Any]:
    return {"low": figure(low), "high": figure(high)}


def staged(*stages: dict[str, Any]) -> SpeciesProfile:
    return SpeciesProfile.model_validate(
        {
            "id": "example",
            "scientific_name": "Exemplum primum",
            "common_name": "example",
            "group": "snake",
            "temperature": {**span(26, 30), "lethal_high": figure(34)},
            "humidity": span(70, 90),
            "usual_duration": {
                "days_low": 60,
                "days_high": 60,
                "temperature_low_c": 28,
                "temperature_high_c": 28,
                "source": MADE_UP,
            },
            "stage": stages,
        }
    )


LATE = staged({"from_share": 0.9, "humidity": span(85, 100)})
TWO = staged(
    {"from_day": 14, "temperature": span(27, 29)},
    {"from_share": 0.9, "humidity": span(85, 100)},
)


def share(best: float, half_width: float = 0.0) -> Share:
    return Share(best - half_width, best, best + half_width)


def test_a_profile_without_stages_is_in_none() -> None:
    assert stage_in_force(staged(), share(0.95), 55).index is None


@pytest.mark.parametrize(("best", "index"), [(0.0, None), (0.899, None), (0.9, 0), (1.0, 0), (1.2, 0)])
def test_the_last_tenth_begins_at_nine_tenths_and_lasts_past_the_expected_end(best: float, index: int | None) -> None:
    assert stage_in_force(LATE, share(best), 50).index == index


@pytest.mark.parametrize(("day", "index"), [(None, None), (0.0, None), (13.9, None), (14.0, 0), (90.0, 0)])
def test_a_stage_by_day_needs_the_day_alone(day: float | None, index: int | None) -> None:
    assert stage_in_force(TWO, None, day).index == index


def test_the_last_stage_that_has_begun_is_in_force() -> None:
    assert stage_in_force(TWO, share(0.5), 20).index == 0
    assert stage_in_force(TWO, share(0.95), 20).index == 1
    assert stage_in_force(TWO, share(0.95), 10).index == 1


def test_an_unknown_share_begins_no_stage_and_the_reason_says_so() -> None:
    found = stage_in_force(LATE, None, 300)
    assert found.index is None
    assert found.reason == (
        "no stage has begun yet; other limits hold from 90 % of development on, and the share is not known"
    )


def test_an_unknown_day_begins_no_stage_and_the_reason_says_so() -> None:
    found = stage_in_force(TWO, share(0.1), None)
    assert found.index is None
    assert "from day 14 on, and the day of laying is not known" in found.reason


def test_a_share_that_may_lie_on_either_side_is_told_on_both_sides() -> None:
    before, after = stage_in_force(LATE, share(0.88, 0.04), 50), stage_in_force(LATE, share(0.92, 0.04), 50)
    assert (before.index, after.index) == (None, 0)
    assert before.reason.endswith("88 % is done, perhaps 92 %")
    assert after.reason == "in its last tenth: 92 % of development is done, though perhaps only 88 %"


def test_a_share_far_above_all_is_told_without_a_figure() -> None:
    assert stage_in_force(LATE, share(1.2), 90).reason == "in its last tenth: 120 % of development is done"
    assert stage_in_force(LATE, share(2.7), 90).reason == "in its last tenth: more than 120 % of development is done"


def test_a_share_short_of_the_stage_is_never_shown_as_having_reached_it() -> None:
    assert "89 % is done" in stage_in_force(LATE, share(0.8996), 50).reason


def test_shares_that_are_not_in_order_are_refused() -> None:
    with pytest.raises(ValueError, match="not in order"):
        Share(0.5, 0.4, 0.6)
    with pytest.raises(ValueError, match="not in order"):
        Share(0.5, float("nan"), 0.6)


def test_before_any_stage_the_ranges_are_those_of_the_profile() -> None:
    assert ranges_in_force(TWO, None) == Ranges(26, 30, 70, 90)


def test_a_stage_changes_what_it_states_and_leaves_the_rest_as_it_was_before() -> None:
    assert ranges_in_force(TWO, 0) == Ranges(27, 29, 70, 90)
    assert ranges_in_force(TWO, 1) == Ranges(27, 29, 85, 100)
    assert ranges_in_force(LATE, 0) == Ranges(26, 30, 85, 100)


@pytest.mark.parametrize(
    ("begin", "name"),
    [
        ({"from_share": 0.9}, "in its last tenth"),
        ({"from_share": 0.5}, "in its second half"),
        ({"from_share": 0.667}, "in its last third"),
        ({"from_share": 0.85}, "from 85 % of its development on"),
        ({"from_day": 14}, "from day 14 on"),
    ],
)
def test_a_stage_is_named_as_a_keeper_says_it(begin: dict[str, float], name: str) -> None:
    assert stage_name(staged({**begin, "humidity": span(85, 100)}).stages[0]) == name


@given(st.floats(0, 1.2), st.floats(0, 0.2), st.floats(0, 100), st.floats(0, 100))
def test_a_clutch_never_goes_back_a_stage_as_time_and_development_go_on(
    best: float, more: float, day: float, days: float
) -> None:
    earlier = stage_in_force(TWO, share(best), day).index
    later = stage_in_force(TWO, share(best + more), day + days).index
    assert (-1 if later is None else later) >= (-1 if earlier is None else earlier)
