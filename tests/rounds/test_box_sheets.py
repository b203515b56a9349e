"""What a box shows: figures by hand calculation from readings that were put into a real journal."""

import pytest

from config.words import Quantity
from daemon.climate.condensation_hours import KEPT_MS
from daemon.clutches.egg_changes import mark_egg, say_of_eggs
from daemon.rollups import RollUps
from daemon.rounds.sheet import BoxSheet
from daemon.storage import samples
from sensors.decoder import Decoder
from sensors.reading import Reading
from tests.rounds.bench import DAY_MS, HOUR_MS, N1, S1, S2, START_MS, WATCH, Bench, eggs, entry
from tests.support.household import MINUTE_MS

AIR, RH = "box-s1/air", "box-s1/rh"


def put(bench: Bench, channel: str, value: float, from_ms: int, until_ms: int, every_ms: int = MINUTE_MS) -> None:
    """The same value again and again, from one moment until before another."""
    ids = bench.journal.write(lambda conn: samples.channel_ids(conn, Decoder(bench.site).channels.values()))
    rows = [Reading(channel, at_ms, at_ms, value, 0) for at_ms in range(from_ms, until_ms, every_ms)]
    bench.journal.write(lambda conn: samples.append(conn, ids, rows))


def rolled(bench: Bench) -> Bench:
    RollUps(bench.journal).run()
    return bench


def sheet(bench: Bench, box: str = S1) -> BoxSheet:
    view = bench.desk.sheet(box)
    assert view is not None
    return view.sheet


def test_mean_extremes_and_hours_outside_since_the_clutch_came(bench: Bench) -> None:
    """The ratsnake wants 24 to 30 °C. Six of 48 hours at 31 °C, the rest at 28 °C: mean 28 + 3 * 6/48 = 28.375."""
    bench.clutch(place=S1, days_ago=2)
    came_ms = START_MS - 2 * DAY_MS
    assert came_ms % (10 * MINUTE_MS) == 400_000
    put(bench, AIR, 28.0, came_ms, came_ms + 12 * HOUR_MS)
    put(bench, AIR, 31.0, came_ms + 12 * HOUR_MS, came_ms + 18 * HOUR_MS)
    put(bench, AIR, 28.0, came_ms + 18 * HOUR_MS, START_MS)
    assert sheet(bench).behind
    rolled(bench)
    assert not sheet(bench).behind
    found = sheet(bench).temperature
    assert found is not None
    assert (found.least, found.most, found.low, found.high) == (28.0, 31.0, 24.0, 30.0)
    assert found.mean == pytest.approx(28.375, abs=0.02)
    # Ten minutes at either end of the six hours have a mean of their own.
    assert found.hours_above == pytest.approx(6.0, abs=0.34)
    assert (found.hours_below, found.in_box) == (0.0, True)
    assert found.hours_known == pytest.approx(48.0, abs=0.2)
    assert sheet(bench).since_ms // MINUTE_MS == came_ms // MINUTE_MS


def test_hours_without_readings_are_not_known_and_not_fine(bench: Bench) -> None:
    bench.clutch(place=S1, days_ago=2)
    put(bench, AIR, 28.0, START_MS - 2 * DAY_MS, START_MS - DAY_MS)
    found = sheet(rolled(bench)).temperature
    assert found is not None
    assert found.hours_known == pytest.approx(24.0, abs=0.4)
    assert found.hours_unknown == pytest.approx(24.0, abs=0.4)


def test_the_shelf_speaks_for_the_warmth_of_a_box_and_not_for_its_dampness(bench: Bench) -> None:
    bench.clutch(days_ago=2)
    put(bench, "north-air/air", 33.0, START_MS - DAY_MS, START_MS)
    put(bench, "north-air/rh", 40.0, START_MS - DAY_MS, START_MS)
    found = sheet(rolled(bench), N1)
    assert found.temperature is not None
    assert found.humidity is not None
    assert found.temperature.measured_at == "North cabinet, upper shelf"
    assert found.temperature.hours_above == pytest.approx(24.0, abs=0.2)
    assert (found.humidity.in_box, found.humidity.mean, found.humidity.low) == (False, 40.0, None)
    assert found.humidity.hours_below == 0.0


def test_water_on_the_lid_is_counted_from_the_last_look_on(bench: Bench) -> None:
    """Air of 28 °C at 99 % RH has its dew point at 27.8 °C. With f = 0.8 and 20 °C outside the lid has 26.4 °C: wet."""
    bench.clutch(place=S1, days_ago=6)
    put(bench, AIR, 28.0, START_MS - 6 * DAY_MS, START_MS, 10 * MINUTE_MS)
    put(bench, RH, 99.0, START_MS - 6 * DAY_MS, START_MS, 10 * MINUTE_MS)
    rolled(bench)
    bench.now_ms = START_MS - 2 * DAY_MS
    number = bench.start("south")
    bench.enter(number, entry(1, S1))
    bench.desk.finish(number, "ana")
    bench.now_ms = START_MS
    found = sheet(bench)
    assert found.water_on_lid is not None
    assert found.water_on_lid.hours_known == pytest.approx(48.0, abs=0.5)
    assert found.water_on_lid.hours == pytest.approx(48.0, abs=5.0)
    assert found.water_on_lid.stays_wet
    assert found.water_on_lid.since_ms == START_MS - 2 * DAY_MS
    assert START_MS - found.water_on_lid.since_ms <= KEPT_MS


def test_figures_go_thirty_days_back_and_no_further(bench: Bench) -> None:
    bench.clutch(place=S1, days_ago=60)
    put(bench, AIR, 40.0, START_MS - 40 * DAY_MS, START_MS - 31 * DAY_MS, 10 * MINUTE_MS)
    put(bench, AIR, 28.0, START_MS - 30 * DAY_MS, START_MS, 10 * MINUTE_MS)
    found = sheet(rolled(bench))
    assert found.temperature is not None
    assert found.since_why == "30 days, the furthest that is looked back"
    assert (found.temperature.most, found.temperature.hours_above) == (28.0, 0.0)


def test_a_box_without_any_probe_says_nothing_and_costs_nothing(bench: Bench) -> None:
    bench.clutch("Clover", S2)
    found = sheet(bench, S2)
    assert (found.temperature, found.humidity, found.water_on_lid, found.dry_out) == (None, None, None, "")


def test_what_the_clutch_is_and_which_eggs_are_watched(bench: Bench) -> None:
    number = bench.clutch(place=S1, note="first of the year", protected="CITES B")
    bench.journal.write(lambda conn: mark_egg(conn, number, "5", "B", START_MS, "ana", START_MS))
    bench.journal.write(lambda conn: say_of_eggs(conn, number, WATCH, ["B", "2"], START_MS, "ana", START_MS))
    found = sheet(bench).clutch
    assert found is not None
    assert (found.label, found.counts.watch, set(found.watched), found.marked) == ("Juniper", 2, {"B", "2"}, ("B",))
    assert (found.note, found.protected, found.venomous, found.group) == (
        "first of the year",
        "CITES B",
        False,
        "snake",
    )
    # Laid between two and one day before it came twenty days ago: 21.5 days.
    assert found.day == 21


def test_kept_figures_are_not_those_of_another_calibration_or_place(bench: Bench) -> None:
    """The eggs that are watched are read anew each time, what was measured before the round is not."""
    bench.clutch(place=S1, days_ago=2)
    put(bench, AIR, 28.0, START_MS - 2 * DAY_MS, START_MS)
    rolled(bench)
    number = bench.start("south")
    before = sheet(bench)
    bench.now_ms += 5 * MINUTE_MS
    bench.enter(number, entry(1, S1, eggs=(eggs(WATCH, "1"),)))
    after = sheet(bench)
    assert after.temperature is before.temperature
    assert after.clutch is not None
    assert after.clutch.watched == ("1",)
    assert Quantity.AIR_TEMPERATURE is (after.temperature and after.temperature.quantity)


def test_readings_that_come_late_are_in_the_sheet_of_a_round_that_goes_on(bench: Bench) -> None:
    """24 h at 28 °C are known at first; then the probe gives the 48 h at 36 °C that it had kept."""
    bench.clutch(place=S1, days_ago=3)
    put(bench, AIR, 28.0, START_MS - 3 * DAY_MS, START_MS - 2 * DAY_MS)
    rolled(bench)
    bench.start("south")
    bench.now_ms += MINUTE_MS
    before = sheet(bench).temperature
    assert before is not None
    assert (before.most, round(before.hours_known)) == (28.0, 24)
    put(bench, AIR, 36.0, START_MS - 2 * DAY_MS, START_MS)
    rolled(bench)
    found = sheet(bench).temperature
    assert found is not None
    assert (found.most, round(found.hours_known)) == (36.0, 72)


def test_what_comes_while_the_round_goes_on_costs_no_sheet_anew(bench: Bench) -> None:
    bench.clutch(place=S1, days_ago=3)
    put(bench, AIR, 28.0, START_MS - 3 * DAY_MS, START_MS)
    rolled(bench)
    bench.start("south")
    first = sheet(bench).temperature
    put(bench, AIR, 28.0, START_MS, START_MS + HOUR_MS)
    bench.now_ms += HOUR_MS
    assert sheet(rolled(bench)).temperature is first


def test_a_round_in_which_nobody_said_a_word_is_no_look_into_a_box(bench: Bench) -> None:
    """Looked into on day 0, passed by on day 7; on day 10 nobody has looked for ten days."""
    bench.clutch(place=S1)
    first = bench.start("south")
    bench.now_ms += MINUTE_MS
    bench.enter(first, entry(1, S1))
    looked_ms = bench.now_ms
    bench.desk.finish(first, "ana")
    bench.now_ms += 7 * DAY_MS
    second = bench.start("south")
    bench.desk.finish(second, "ana")
    bench.now_ms += 3 * DAY_MS
    found = sheet(bench)
    assert found.last is not None
    assert (found.since_ms, found.last_looked_ms, found.since_why) == (looked_ms,) * 2 + (
        "somebody last looked into it",
    )
