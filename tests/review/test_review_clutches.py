"""What an outage did to clutches, from real journals, by hand.

The ratsnake of the household has its zero at 13.2 °C and its cap at 30.5 °C: 28 °C bring 14.8 °C·h an hour, 18 °C 4.8.
"""

from collections.abc import Iterator
from pathlib import Path

import pytest

from daemon.development.window import NoWindow
from daemon.review.clutch_air import NOT_MEASURED, NOTHING_READ
from daemon.review.clutch_heat import HatchShift, HeatLoss
from daemon.review.gap_values import HeatOff
from daemon.review.values import Span
from daemon.review_clutches import ClutchReviews
from daemon.review_records import PlaceRecords
from daemon.thermometers import AirChannels
from tests.daemon.evaluated import AIR, House
from tests.review.outages import (
    BOXES,
    BRIDGE_MS,
    HOUR_MS,
    OUTAGE_MS,
    SHELF,
    START_MS,
    Outage,
    cold_from_0_to_10,
    house,
    usual,
)
from tests.support.journals import new_journal

NEAR_CH = 0.05
"""The last minutes before the cold begins are a line from 28 to 18 °C, and part of the mean of the week before."""


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> House:
    return house(tmp_path_factory.mktemp("site"))


@pytest.fixture
def outage(whole: House, tmp_path: Path) -> Iterator[Outage]:
    with new_journal(tmp_path / "journal.sqlite3") as journal:
        yield Outage(whole, journal)


def heat_of(found: HeatLoss | None) -> HeatLoss:
    assert found is not None
    return found


def test_a_night_at_18_degrees_costs_a_hundred_degree_hours_and_a_third_of_a_day(outage: Outage) -> None:
    """Expected 148, gained 48, lost 100 °C·h: 6.757 h at 14.8 K, 0.2815 d."""
    outage.enter("Juniper", BOXES[0])
    outage.read({"one/air": cold_from_0_to_10})
    found = outage.reviews()["Juniper"]
    loss = heat_of(found.heat)
    assert loss.before.is_measured
    assert loss.before.temperature_c == pytest.approx(28.0, abs=0.01)
    assert loss.missing_h == 0
    assert loss.gained_ch.best == pytest.approx(48.0, abs=1e-6)
    assert loss.lost_ch == pytest.approx((100.0, 100.0, 100.0), abs=NEAR_CH)
    assert loss.lost_h == pytest.approx((6.757, 6.757, 6.757), abs=0.01)
    assert isinstance(found.shift, HatchShift)
    assert found.shift.days == pytest.approx((0.2815, 0.2815, 0.2815), abs=5e-4)
    assert (found.lain[0].place, found.lain[0].name) == (BOXES[0], "North cabinet, upper shelf, box N1")
    assert found.is_open


def test_what_the_whole_time_gained_is_what_the_ledger_has_for_it(outage: Outage) -> None:
    """The gains of two reviews that touch are those of one over both."""
    outage.enter("Juniper", BOXES[0])
    outage.read({"one/air": cold_from_0_to_10})
    first, second, both = (
        heat_of(outage.reviews(*hours)["Juniper"].heat).gained_ch.best for hours in ((0, 3.5), (3.5, 12), (0, 12))
    )
    assert first is not None
    assert second is not None
    assert first + second == pytest.approx(both)
    # Hour 10 to 12: ten minutes on a line from 18 to 28 °C, mean 23 °C, and the rest at 28 °C.
    assert both == pytest.approx(48.0 + (23 - 13.2) / 6 + 14.8 * (2 - 1 / 6))


def test_six_hours_without_a_reading_leave_open_what_physics_does(outage: Outage) -> None:
    """The room is stated as 20 °C, give or take 3 K: no colder than 14 °C, and no faster than at the cap.

    At least 6 h * (14 - 13.2) = 4.8, at most 6 h * (30.5 - 13.2) = 103.8; on the line from 28 to 22 °C 6 * 11.8 = 70.8.
    """
    outage.enter("Juniper", BOXES[0])
    outage.read({"one/air": lambda hours: None if 0 < hours < 6 else 22.0 if hours == 6 else usual(hours)})
    loss = heat_of(outage.reviews(0, 6)["Juniper"].heat)
    expected = 6 * 14.8
    assert loss.missing_h == 6
    assert loss.expected_ch == pytest.approx(expected, abs=NEAR_CH)
    assert loss.lost_ch.low == pytest.approx(expected - 103.8, abs=0.5)
    assert loss.lost_ch.best == pytest.approx(expected - 70.8, abs=NEAR_CH)
    assert loss.lost_ch.high == pytest.approx(expected - 4.8, abs=0.5)


def test_where_the_mains_were_off_nothing_can_have_been_gained_by_it(outage: Outage) -> None:
    """No warmer than the 28 °C before, give or take 0.1 K of a reading: at most 6 h * 14.9 = 89.4 °C·h of 88.8."""
    outage.heat_off = (HeatOff(Span(OUTAGE_MS, OUTAGE_MS + 6 * HOUR_MS), "", "the mains were absent."),)
    outage.enter("Juniper", BOXES[0])
    outage.read({"one/air": lambda hours: None if 0 < hours < 6 else 22.0 if hours == 6 else usual(hours)})
    loss = heat_of(outage.reviews(0, 6)["Juniper"].heat)
    assert loss.lost_ch.low >= 88.8 - 89.4 - 0.5
    assert loss.lost_ch.best is not None
    # It cooled, and not by a straight line: more is lost than on that.
    assert 88.8 - 70.8 < loss.lost_ch.best <= loss.lost_ch.high


def test_a_clutch_that_moved_in_the_middle_has_half_of_each_place(outage: Outage) -> None:
    """Five hours in the box that stayed at 28 °C, five in the one at 18 °C: 5 * 14.8 + 5 * 4.8 = 98."""
    moved = outage.enter("moved", BOXES[0])
    outage.move(moved, BOXES[1], OUTAGE_MS + 5 * HOUR_MS)
    outage.read({"one/air": usual, "two/air": cold_from_0_to_10})
    found = outage.reviews()["moved"]
    loss = heat_of(found.heat)
    assert [(one.place, one.from_ms, one.to_ms) for one in found.lain] == [
        (BOXES[0], OUTAGE_MS, OUTAGE_MS + 5 * HOUR_MS),
        (BOXES[1], OUTAGE_MS + 5 * HOUR_MS, OUTAGE_MS + 10 * HOUR_MS),
    ]
    assert loss.gained_ch.best == pytest.approx(98.0)
    assert loss.lost_ch.best == pytest.approx(50.0, abs=NEAR_CH)
    halves = [heat_of(outage.reviews(*hours)["moved"].heat).gained_ch.best for hours in ((0, 5), (5, 10))]
    assert sum(each for each in halves if each is not None) == pytest.approx(98.0)


def test_a_clutch_that_came_in_the_middle_counts_from_then_and_one_that_was_closed_until_then(outage: Outage) -> None:
    """Of the one that came nothing was measured before: the middle of 24 to 30 °C, 27 °C, counts: 5 h * 13.8 = 69."""
    outage.enter("came", BOXES[0], OUTAGE_MS + 5 * HOUR_MS)
    closed = outage.enter("closed", BOXES[1])
    outage.close(closed, OUTAGE_MS + 4 * HOUR_MS)
    gone = outage.enter("gone", BOXES[2])
    outage.close(gone, OUTAGE_MS - HOUR_MS)
    outage.read({"one/air": cold_from_0_to_10, "two/air": cold_from_0_to_10})
    found = outage.reviews()
    assert set(found) == {"came", "closed"}
    came, ended = heat_of(found["came"].heat), heat_of(found["closed"].heat)
    assert (came.hours, came.expected_ch) == pytest.approx((5.0, 69.0))
    assert not came.before.is_measured
    assert came.gained_ch.best == pytest.approx(24.0)
    assert (ended.hours, ended.gained_ch.best) == pytest.approx((4.0, 19.2))
    assert found["closed"].shift == NoWindow("It was closed within this time.")
    assert not found["closed"].is_open


def test_a_box_without_a_probe_has_the_heat_of_its_shelf_and_no_humidity(outage: Outage) -> None:
    outage.enter("N3", BOXES[2])
    outage.read({AIR: cold_from_0_to_10, "north-air/rh": lambda _: 60.0})
    found = outage.reviews()["N3"]
    assert heat_of(found.heat).gained_ch.best == pytest.approx(48.0)
    assert found.air.why_not == NOT_MEASURED


def test_hours_too_dry_are_counted_where_the_box_has_a_probe(outage: Outage) -> None:
    """The ratsnake needs 80 % (common practice, no source): four hours at 70 %, with a line of ten minutes at each end.

    A line from 90 to 70 % is below 80 % for its second half: 4 h and two times five minutes.
    """
    outage.enter("Juniper", BOXES[0])
    outage.enter("silent", BOXES[1])
    outage.read({"one/air": usual, "one/rh": lambda hours: 70.0 if 2 <= hours <= 6 else 90.0, "two/air": usual})
    found = outage.reviews()
    air = found["Juniper"].air
    assert air.dry is not None
    assert air.dry.hours == pytest.approx((4 + 1 / 6, 4 + 1 / 6, 4 + 1 / 6))
    assert (air.lowest_pct, air.highest_pct, air.covered_h) == pytest.approx((70.0, 90.0, 10.0))
    assert "no source" in air.dry.source
    assert found["silent"].air.why_not == NOTHING_READ


def test_water_on_the_lid_is_expected_where_the_lid_is_colder_than_the_dew_point(outage: Outage) -> None:
    """Room 20 °C, f 0.9 and 28 °C inside: the lid has 27.2 °C.

    Saturated air at 28 °C has its dew point at 28 °C, so the lid is wet all the time; at 50 % RH it lies near 16.6 °C
    (psychrometric tables), and the lid is dry all the time.
    """
    outage.enter("wet", BOXES[0])
    outage.enter("dry", BOXES[1])
    outage.read({"one/air": usual, "one/rh": lambda _: 100.0, "two/air": usual, "two/rh": lambda _: 50.0})
    found = outage.reviews()
    wet, dry = found["wet"].air.water, found["dry"].air.water
    assert wet is not None
    assert dry is not None
    assert wet.possible_h == pytest.approx(10.0)
    assert wet.expected_h > 5
    assert dry.possible_h == pytest.approx(0.0, abs=1e-6)


def test_a_species_that_nobody_knows_has_no_heat_no_date_and_no_limit(outage: Outage) -> None:
    outage.enter("unknown", BOXES[0], species="draco-ignotus")
    outage.enter("paused", BOXES[1], species="chamaeleo-calyptratus")
    outage.read({"one/air": cold_from_0_to_10, "two/air": cold_from_0_to_10})
    found = outage.reviews()
    unknown, paused = found["unknown"], found["paused"]
    assert unknown.heat is None
    assert unknown.no_heat == "There is no profile for this species."
    assert (unknown.exposures, unknown.stage) == ((), None)
    assert isinstance(unknown.shift, NoWindow)
    assert isinstance(paused.shift, NoWindow)
    assert "pauses" in paused.shift.reason


def test_a_venomous_clutch_is_told_first(outage: Outage) -> None:
    outage.enter("Ada", BOXES[0])
    outage.enter("Naja", BOXES[1], species="naja-atra")
    outage.read({"one/air": cold_from_0_to_10, "two/air": cold_from_0_to_10})
    found = list(outage.reviews().values())
    assert [each.label for each in found] == ["Naja", "Ada"]
    assert found[0].venomous


def test_a_period_that_is_not_over_reaches_until_now(outage: Outage) -> None:
    outage.enter("Juniper", BOXES[0])
    outage.read({"one/air": cold_from_0_to_10}, until_h=4.0)
    found = outage.reviews(0.0, None, now_h=4.0)["Juniper"]
    assert heat_of(found.heat).gained_ch.best == pytest.approx(19.2)


def test_a_period_without_length_is_refused(outage: Outage) -> None:
    with pytest.raises(ValueError, match="no length"):
        outage.reviews(3.0, 3.0)
    with pytest.raises(ValueError, match="no length"):
        outage.reviews(13.0, None, now_h=12.0)


def test_a_period_in_which_nothing_lay_has_no_clutch(outage: Outage) -> None:
    outage.enter("later", BOXES[0], START_MS + 9 * 24 * HOUR_MS)
    assert outage.reviews() == {}


def test_the_readings_of_a_place_are_read_once_for_all_clutches_that_share_them(outage: Outage) -> None:
    def statements() -> int:
        asked: list[str] = []
        with outage.journal.read() as conn:
            air = AirChannels(outage.house.site)
            air.load(conn)
            records = PlaceRecords(conn, outage.house.site, air, BRIDGE_MS)
            reader = ClutchReviews(conn, outage.house.site, outage.house.profiles, air, BRIDGE_MS, records)
            conn.set_trace_callback(asked.append)
            found = reader.of(Span(OUTAGE_MS, OUTAGE_MS + 10 * HOUR_MS), OUTAGE_MS + 12 * HOUR_MS)
            conn.set_trace_callback(None)
        assert len(found) == len({each.label for each in found})
        return sum("FROM sample" in one for one in asked)

    outage.enter("first", SHELF)
    outage.read({AIR: cold_from_0_to_10})
    alone = statements()
    for number in range(12):
        outage.enter(f"C{number}", SHELF)
    outage.read({})
    assert 0 < statements() == alone
