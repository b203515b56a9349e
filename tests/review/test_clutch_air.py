"""Hours too dry by hand, and humidity of a clutch that moved."""

import pytest

from config.species import load_profiles
from daemon.climate.condensation_hours import Hours
from daemon.review.clutch_air import NOT_MEASURED, NOTHING_READ, BoxAir, DryHours, dry_hours, humidity_wanted
from daemon.review.values import Bounds

HOUR_MS = 3_600_000
WANTED = (80.0, "common practice, no source")
POINTS = [(0, 90.0), (2 * HOUR_MS, 70.0), (4 * HOUR_MS, 70.0), (9 * HOUR_MS, 70.0)]


def test_a_line_is_too_dry_from_where_it_crosses_the_limit() -> None:
    """From 90 to 70 % in two hours: below 80 % for the second; then two hours at 70 %."""
    found = dry_hours(POINTS, WANTED, 0, 4 * HOUR_MS, 2 * HOUR_MS)
    assert found.hours == pytest.approx((3.0, 3.0, 3.0))
    assert (found.low_pct, found.source) == WANTED


def test_hours_without_readings_may_have_been_too_dry() -> None:
    found = dry_hours(POINTS, WANTED, 0, 9 * HOUR_MS, 2 * HOUR_MS)
    assert (found.hours.low, found.hours.high) == pytest.approx((3.0, 8.0))
    assert found.hours.best is None


def test_only_the_part_within_the_period_counts() -> None:
    found = dry_hours(POINTS, WANTED, round(1.5 * HOUR_MS), 3 * HOUR_MS, 2 * HOUR_MS)
    assert found.hours == pytest.approx((1.5, 1.5, 1.5))


def test_what_is_just_at_the_limit_is_not_too_dry() -> None:
    found = dry_hours([(0, 80.0), (HOUR_MS, 80.0)], WANTED, 0, HOUR_MS, HOUR_MS)
    assert found.hours == (0.0, 0.0, 0.0)


def test_humidity_of_two_places_adds_up() -> None:
    water = Hours(1.0, 0.5, 4.0, 0.0, 2.0)
    first = BoxAir(4.0, 0.0, 75.0, 90.0, water, DryHours(80.0, Bounds(1.0, 1.0, 1.0), "a"))
    second = BoxAir(2.0, 1.0, 70.0, 85.0, water, DryHours(80.0, Bounds(2.0, None, 3.0), "a"))
    whole = first.and_then(second)
    assert (whole.covered_h, whole.unread_h, whole.lowest_pct, whole.highest_pct) == (6.0, 1.0, 70.0, 90.0)
    assert whole.water == Hours(2.0, 1.0, 8.0, 0.0, 4.0)
    assert whole.dry == DryHours(80.0, Bounds(3.0, None, 4.0), "a")


def test_a_place_without_a_probe_leaves_its_hours_of_the_whole_open() -> None:
    """Two hours in a box with a probe, then three in one without: those may have been dry."""
    first = BoxAir(2.0, 0.0, 75.0, 90.0, None, DryHours(80.0, Bounds(1.0, 1.0, 1.0), "a"))
    second = BoxAir(why_not=NOT_MEASURED, unread_h=3.0)
    for whole in (first.and_then(second), second.and_then(first)):
        assert whole.why_not == ""
        assert whole.dry == DryHours(80.0, Bounds(1.0, None, 4.0), "a")
        assert whole.covered_h == 2.0


def test_not_measured_in_either_place_stays_not_measured() -> None:
    whole = BoxAir(why_not=NOT_MEASURED, unread_h=1.0).and_then(BoxAir(why_not=NOTHING_READ, unread_h=2.0))
    assert whole == BoxAir(why_not=NOT_MEASURED, unread_h=3.0)


def test_the_humidity_that_is_wanted_names_its_source() -> None:
    profile = load_profiles()["eublepharis-macularius"]
    assert humidity_wanted(profile, None) == WANTED
    assert humidity_wanted(profile.model_copy(update={"humidity": None}), None) is None
