"""The last days of a place, from the journal to the overview: hours with water, wet or dry, until when to add water."""

from collections.abc import Iterator, Sequence
from zoneinfo import ZoneInfo

import pytest

from daemon.box_climate import CELL_MS, MOST_AT_ONCE, BoxClimate, BoxClimates, Watched
from daemon.climate.dry_out import NoDryOut
from daemon.overview import ClimateNow
from daemon.storage import calibrations
from sensors.calibration import Record
from sensors.calibration_line import Line, Point
from sensors.reading import Reading
from tests.daemon.kept import BOX, HOUR_MS, START_MS, Kept, at, in_box
from tests.support.household import MINUTE_MS

DAY_MS = 24 * HOUR_MS
NOW_MS = START_MS + 8 * DAY_MS
STEP_MS = 5 * MINUTE_MS
MADRID = ZoneInfo("Europe/Madrid")
IN_BOX = Watched(BOX, "box-s1/air", "box-s1/rh", "box-s1/lid", None, 15 * MINUTE_MS, 80.0)


def history(hours: int, humidity_now_pct: float, fall_pct_day: float, lid_c: float = 29.5) -> Iterator[Reading]:
    """A box of 30 °C whose humidity falls in a straight line until now."""
    for moment_ms in range(NOW_MS - hours * HOUR_MS, NOW_MS + 1, STEP_MS):
        humidity = humidity_now_pct + fall_pct_day * (NOW_MS - moment_ms) / DAY_MS
        yield from at(moment_ms, {"box-s1/air": 30.0, "box-s1/rh": humidity, "box-s1/lid": lid_c})


def climate(kept: Kept, now_ms: int = NOW_MS) -> ClimateNow:
    return kept.climates(now_ms)[BOX]


def with_clutch(kept: Kept, readings: Sequence[Reading]) -> None:
    """A clutch that wants 80 to 90 % lies in the box from before the readings."""
    kept.put(readings)
    kept.enter(in_box("Juniper", "elaphe-taeniura"))


def humidity_low(kept: Kept) -> float:
    stated = kept.profiles["elaphe-taeniura"].humidity
    assert stated is not None
    return stated.low.value


def last_days(
    kept: Kept, box_climates: BoxClimates, now_ms: int, places: Sequence[Watched] = (IN_BOX,), version: int = 0
) -> dict[str, BoxClimate]:
    with kept.journal.read() as conn:
        return box_climates.read(conn, places, calibrations.load(conn, kept.site), version, now_ms)


def test_a_box_that_dries_says_until_when_to_add_water(kept: Kept) -> None:
    low = humidity_low(kept)
    with_clutch(kept, list(history(120, low + 4.5, 1.5)))
    # Three days at 1.5 % a day. NOW is Friday 2026-06-05 20:26 UTC, in Madrid 22:26; so Monday.
    assert climate(kept).dry_out.startswith("Add water by Monday")


@pytest.mark.parametrize("fall", [0.0, -1.0])
def test_a_box_that_does_not_dry_says_nothing(kept: Kept, fall: float) -> None:
    with_clutch(kept, list(history(120, humidity_low(kept) + 6, fall)))
    assert climate(kept).dry_out == ""


def test_a_box_without_a_clutch_has_no_limit_and_says_nothing(kept: Kept) -> None:
    kept.put(list(history(120, 85, 1.5)))
    assert climate(kept).dry_out == ""


def test_the_deficit_and_the_humidity_at_the_lid_are_those_of_the_table(kept: Kept) -> None:
    # moist-air-check.csv, 30 °C, 85 %, surface 27.5 °C (CoolProp, IAPWS-95): 637.05 Pa, 98.250 %.
    kept.put(at(NOW_MS, {"box-s1/air": 30.0, "box-s1/rh": 85.0, "box-s1/lid": 27.5}))
    found = climate(kept)
    assert found.vpd_pa == pytest.approx(637.05, rel=1e-3)
    assert found.surface_humidity_pct == pytest.approx(98.250, abs=0.02)


def test_the_probability_of_water_follows_from_the_accuracies_that_the_site_states(kept: Kept) -> None:
    # Usual accuracies ±0.5 K and ±3 %, rectangles. By the slopes 0.9791 and 0.2007 of dewpoint-uncertainty-check.csv
    # u² = (0.9791² + 1) 0.5²/3 + (0.2007 * 3)²/3, so u = 0.534 K; 0.3014 K is 0.565 u, which leaves 28.6 % below.
    kept.put(at(NOW_MS, {"box-s1/air": 30.0, "box-s1/rh": 85.0, "box-s1/lid": 27.5}))
    assert climate(kept).condensation_probability == pytest.approx(0.286, abs=0.003)


def test_hours_with_water_count_what_was_wet_and_name_what_is_not_known(kept: Kept) -> None:
    wet_ms = NOW_MS - 6 * HOUR_MS
    dry = [each for each in history(20, 85, 0) if each.measured_at_ms < wet_ms]
    wet = [each for each in history(20, 85, 0, lid_c=24.0) if each.measured_at_ms >= wet_ms]
    kept.put([*dry, *wet])
    found = climate(kept)
    # Dew point 27.2 °C: 4.3 u above and 6 u below, so the hours are 6, but for ten minutes at either end.
    assert found.condensation_hours_24h == pytest.approx(6.0, abs=0.18)
    assert found.condensation_range_24h == pytest.approx((6.0, 6.0), abs=0.3)
    assert found.hours_unread_24h == pytest.approx(4.0, abs=0.35)
    assert found.condensation_hours_mean_day is None


def test_a_mean_day_of_the_week_needs_more_than_two_days(kept: Kept) -> None:
    kept.put(list(history(72, 85, 0, lid_c=24.0)))
    assert climate(kept).condensation_hours_mean_day == pytest.approx(24.0, abs=0.01)


def test_a_lid_that_was_wet_stays_so_within_the_deadband_and_never_began_there(kept: Kept) -> None:
    # Dew point 27.1986 °C (CoolProp); 27.3 is 0.1 K above it.
    kept.put(list(history(2, 85, 0, lid_c=27.3)))
    assert not climate(kept).stays_wet
    moments = [NOW_MS + minutes * MINUTE_MS for minutes in (10, 20, 30)]
    for moment_ms, lid_c, wet in zip(moments, (27.1, 27.3, 27.5), (True, True, False), strict=True):
        kept.put(at(moment_ms, {"box-s1/air": 30.0, "box-s1/rh": 85.0, "box-s1/lid": lid_c}))
        assert climate(kept, moment_ms + 1).stays_wet is wet


def test_what_is_carried_on_within_the_hour_equals_what_is_worked_out_anew(kept: Kept) -> None:
    first_ms = NOW_MS - NOW_MS % HOUR_MS
    readings = list(history(30, 85, 0, lid_c=27.2))
    kept.put([each for each in readings if each.measured_at_ms <= first_ms])
    box_climates = BoxClimates(MADRID)
    last_days(kept, box_climates, first_ms)
    for now_ms in range(first_ms + CELL_MS, NOW_MS, CELL_MS):
        kept.put([each for each in readings if now_ms - CELL_MS < each.measured_at_ms <= now_ms])
        carried = last_days(kept, box_climates, now_ms)[BOX]
        anew = last_days(kept, BoxClimates(MADRID), now_ms)[BOX]
        assert carried.last_day == pytest.approx(anew.last_day, abs=1e-9)
        assert carried.last_week == pytest.approx(anew.last_week, abs=1e-9)
        assert carried.was_wet is anew.was_wet


def test_an_hour_that_was_filled_in_later_counts_from_the_next_hour_on(kept: Kept) -> None:
    readings = list(history(30, 85, 0, lid_c=24.0))
    hole = range(NOW_MS - 8 * HOUR_MS, NOW_MS - 5 * HOUR_MS)
    kept.put([each for each in readings if each.measured_at_ms not in hole])
    box_climates = BoxClimates(MADRID)
    before = last_days(kept, box_climates, NOW_MS)[BOX].last_day
    kept.put([each for each in readings if each.measured_at_ms in hole])
    after = last_days(kept, box_climates, NOW_MS + HOUR_MS)[BOX].last_day
    assert before is not None
    assert after is not None
    assert before.unknown_h == pytest.approx(3.0, abs=0.2)
    # The hour since has no readings yet.
    assert after.unknown_h == pytest.approx(1.0, abs=0.2)


def test_a_page_within_the_same_ten_minutes_asks_the_journal_nothing(kept: Kept) -> None:
    kept.put(list(history(30, 85, 0)))
    box_climates = BoxClimates(MADRID)
    asked: list[str] = []
    with kept.journal.read() as conn:
        stated = calibrations.load(conn, kept.site)
        first = box_climates.read(conn, [IN_BOX], stated, 0, NOW_MS)
        conn.set_trace_callback(asked.append)
        second = box_climates.read(conn, [IN_BOX], stated, 0, NOW_MS + MINUTE_MS)
        assert asked == []
        box_climates.read(conn, [IN_BOX], stated, 0, NOW_MS + CELL_MS)
        conn.set_trace_callback(None)
    assert len(asked) == 3  # air, humidity, lid
    assert first[BOX].dry_out == second[BOX].dry_out


def test_many_places_take_turns_so_that_no_page_works_out_all_of_them(kept: Kept) -> None:
    kept.put(list(history(30, 85, 0)))
    places = [IN_BOX._replace(place=f"south/low/{number}") for number in range(2 * MOST_AT_ONCE + 1)]
    box_climates = BoxClimates(MADRID)
    shown = [len(last_days(kept, box_climates, NOW_MS + turn, places)) for turn in range(4)]
    assert shown == [MOST_AT_ONCE, 2 * MOST_AT_ONCE, len(places), len(places)]
    # In the next hour each keeps its figures until its turn; a day later they are too old to be shown.
    assert len(last_days(kept, box_climates, NOW_MS + HOUR_MS, places)) == len(places)
    assert len(last_days(kept, box_climates, NOW_MS + DAY_MS, places)) == MOST_AT_ONCE


def test_whoever_asks_once_a_day_gets_another_place_each_time_and_not_the_same_ones(kept: Kept) -> None:
    kept.put(list(history(30, 85, 0)))
    places = [IN_BOX._replace(place=f"south/low/{number}") for number in range(2 * MOST_AT_ONCE)]
    box_climates = BoxClimates(MADRID)
    first, second = (set(last_days(kept, box_climates, NOW_MS + day * DAY_MS, places)) for day in (0, 1))
    assert first | second == {each.place for each in places}


def test_a_new_calibration_is_taken_in_at_once(kept: Kept) -> None:
    kept.put(list(history(30, 85, 0, lid_c=27.0)))
    box_climates = BoxClimates(MADRID)
    before = last_days(kept, box_climates, NOW_MS)[BOX].last_day
    # The lid's thermometer reads 2 K low: with the correction the lid is 1.8 K above the dew point.
    point = Point(29.0, 27.0, 0.1, 0.05, "a reference thermometer")
    record = Record(
        "box-s1/lid", 0, Line(1.0, 2.0, (point,), 0.05, 0.0), "comparison", START_MS, None, START_MS, "test", ""
    )
    kept.journal.write(lambda conn: calibrations.append(conn, record))
    after = last_days(kept, box_climates, NOW_MS, version=1)[BOX].last_day
    assert before is not None
    assert after is not None
    assert before.expected_h > 14
    assert after.expected_h < 1


def test_a_silent_humidity_probe_has_no_trend_and_says_why(kept: Kept) -> None:
    kept.put(list(history(120, 86, 1.5)))
    found = last_days(kept, BoxClimates(MADRID), NOW_MS + 5 * HOUR_MS)[BOX]
    assert found.dry_out == NoDryOut("There are no good readings of the last hours.")
    assert found.dry_out_text == ""
