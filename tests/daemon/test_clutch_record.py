"""The record of one clutch: from readings, register, alarms and rounds in the journal to what its page shows."""

from dataclasses import replace
from itertools import pairwise

import pytest

from daemon.clutch_record import ClutchRecords
from daemon.clutch_record_values import ClutchRecord
from daemon.clutches import register
from daemon.development.window import HatchWindow, NoWindow
from daemon.rollups import RollUps
from daemon.storage import alarm_log, calibrations, rounds
from daemon.storage.alarm_log import AlarmEvent
from tests.daemon.kept import AIR, BOX, HOUR_MS, START_MS, Kept, at, in_box, steady
from tests.daemon.test_calibrate_applied import shift
from tests.support.household import DAY_MS, MINUTE_MS, a_clutch

BOX_AIR, BOX_RH = "box-s1/air", "box-s1/rh"


def records(kept: Kept) -> ClutchRecords:
    return ClutchRecords(kept.journal, kept.site, kept.profiles, 1800)


def record(kept: Kept, number: int, now_ms: int) -> ClutchRecord:
    RollUps(kept.journal).run()
    found = records(kept).one(number, now_ms)
    assert found is not None
    return found


def happened(kind: str, subject: str, at_ms: int, event: str = "raised", occurrence: str = "") -> AlarmEvent:
    key = f"{kind}:{subject}"
    return AlarmEvent(at_ms, at_ms, key, occurrence or f"{key}#{at_ms}", event, 31.0, 30.0, "invented")


def log(kept: Kept, *events: AlarmEvent) -> None:
    kept.journal.write(lambda conn: [alarm_log.append_event(conn, each) for each in events])


def test_a_number_that_nobody_gave_has_no_record(kept: Kept) -> None:
    assert records(kept).one(1, START_MS) is None
    assert records(kept).others(START_MS) == ()


def test_the_heat_rises_from_laying_to_what_the_first_page_says(kept: Kept) -> None:
    """By hand, zero 13.2 °C (fit to Du and Ji 2008): 36 h in the room at 20 °C, then 15 °C·h each hour at 28.2 °C."""
    number = kept.enter(a_clutch(START_MS))
    kept.put(steady(AIR, 28.2, START_MS, START_MS + 3 * DAY_MS))
    kept.evaluate(START_MS + 3 * DAY_MS)
    found = record(kept, number, START_MS + 3 * DAY_MS)
    first, set_up, *_, last = found.heat
    assert (first.at_ms, first.best_ch) == (START_MS - 36 * HOUR_MS, 0.0)
    assert set_up.at_ms == START_MS
    assert set_up.best_ch == pytest.approx(36 * 6.8)
    assert last.at_ms == START_MS + 3 * DAY_MS
    assert last.best_ch == pytest.approx(36 * 6.8 + 72 * 15.0)
    now = kept.clutches(START_MS + 3 * DAY_MS)["Juniper"]
    assert (last.low_ch, last.high_ch) == (now.degree_hours_low_ch, now.degree_hours_high_ch)
    assert found.clutch == now
    assert isinstance(found.clutch.window, HatchWindow)
    for one, other in pairwise(found.heat):
        assert one.at_ms <= other.at_ms
        assert one.best_ch <= other.best_ch
        assert other.low_ch <= other.best_ch <= other.high_ch


def test_hours_outside_are_those_above_the_limit_of_its_eggs(kept: Kept) -> None:
    """Limits of Elaphe taeniura: 24 to 30 °C (Du and Ji 2008). Ten hours at 28, three at 31, one at 23, six silent."""
    number = kept.enter(a_clutch(START_MS))
    for value, from_h, to_h in ((28.0, 0, 10), (31.0, 10, 13), (23.0, 13, 14)):
        kept.put(steady(AIR, value, START_MS + from_h * HOUR_MS, START_MS + to_h * HOUR_MS - 1))
    kept.put(at(START_MS + 5 * HOUR_MS + MINUTE_MS, {AIR: 29.4}))
    climate = record(kept, number, START_MS + 20 * HOUR_MS).temperature
    # Ten minutes is what hours are reckoned in, and the stretches need not begin where the readings do.
    assert climate.hours_above == pytest.approx(3.0, abs=1 / 3)
    assert climate.hours_below == pytest.approx(1.0, abs=1 / 3)
    assert climate.hours_read == pytest.approx(14.0, abs=1 / 3)
    assert climate.hours_unread == pytest.approx(6.0, abs=1 / 3)
    assert (climate.limits[0].low, climate.limits[0].high, climate.limits[0].lethal_high) == (24.0, 30.0, 34.0)
    assert climate.probes == ("north-air",)
    assert max(cell.most for cell in climate.cells) == 31.0
    assert any(cell.most == 29.4 for cell in climate.cells)
    assert climate.cells[-1].end_ms <= START_MS + 14 * HOUR_MS + HOUR_MS


def test_a_calibration_counts_from_its_date_for_the_drawing_and_for_hours_outside(kept: Kept) -> None:
    """29.6 °C all day is within 24 to 30 °C; a probe found to read 0.5 K low from noon on was above it since then."""
    number = kept.enter(a_clutch(START_MS))
    kept.put(steady(AIR, 29.6, START_MS, START_MS + DAY_MS - 1))
    noon_ms = START_MS + 12 * HOUR_MS
    kept.journal.write(lambda conn: calibrations.append(conn, shift(AIR, 0.5, noon_ms)))
    climate = record(kept, number, START_MS + DAY_MS).temperature
    assert climate.hours_above == pytest.approx(12.0, abs=1 / 3)
    assert climate.cells[0].most == pytest.approx(29.6)
    assert climate.cells[-1].least == pytest.approx(30.1)


def test_humidity_is_held_against_limits_in_its_box_and_not_on_its_shelf(kept: Kept) -> None:
    on_shelf = kept.enter(a_clutch(START_MS))
    boxed = kept.enter(replace(a_clutch(START_MS, "Tansy"), place=BOX))
    for moment in range(0, 300, 5):
        kept.put(at(START_MS + moment * MINUTE_MS, {"north-air/rh": 60.0, BOX_RH: 60.0, BOX_AIR: 28.0}))
    shelf = record(kept, on_shelf, START_MS + 5 * HOUR_MS).humidity
    assert (shelf.hours_below, shelf.limits[0].low) == (0.0, None)
    box = record(kept, boxed, START_MS + 5 * HOUR_MS).humidity
    assert box.limits[0].low == 80.0
    assert box.hours_below == pytest.approx(5.0, abs=1 / 3)


def test_after_a_move_the_probe_of_the_new_place_speaks(kept: Kept) -> None:
    number = kept.enter(a_clutch(START_MS))
    kept.put(steady(AIR, 28.0, START_MS, START_MS + 2 * DAY_MS))
    kept.put(steady(BOX_AIR, 26.0, START_MS, START_MS + 2 * DAY_MS))
    moved_ms = START_MS + DAY_MS
    kept.journal.write(
        lambda conn: register.move_clutch(conn, number, BOX, moved_ms, "Ana", "more room", START_MS + 2 * DAY_MS)
    )
    found = record(kept, number, START_MS + 2 * DAY_MS)
    assert {cell.mean for cell in found.temperature.cells if cell.end_ms <= moved_ms} == {28.0}
    assert {cell.mean for cell in found.temperature.cells if cell.start_ms >= moved_ms} == {26.0}
    assert found.temperature.probes == ("north-air", "box-s1")
    first, second = found.stays
    assert (first.place, first.from_ms, first.end_ms) == ("north/upper/N1", START_MS, moved_ms)
    assert (second.name, second.end_ms) == ("South cabinet, low shelf, box S1", None)
    assert [(each.kind, each.what, each.why) for each in found.events] == [
        ("set-up", "Set up in North cabinet, upper shelf, box N1", ""),
        ("move", "Moved to South cabinet, low shelf, box S1", "more room"),
    ]
    assert [(each.what, each.who, each.why) for each in found.changes] == [
        ("add", "test", ""),
        ("move", "Ana", "more room"),
    ]


def test_a_closed_clutch_stays_as_it_was_and_has_no_date(kept: Kept) -> None:
    """By hand: 24 h at 15 °C·h each until it was closed; what the shelf had later is not its own."""
    number = kept.enter(a_clutch(START_MS))
    kept.put(steady(AIR, 28.2, START_MS, START_MS + 2 * DAY_MS))
    kept.evaluate(START_MS + 2 * DAY_MS)
    closed_ms = START_MS + DAY_MS
    kept.journal.write(
        lambda conn: register.close_clutch(conn, number, closed_ms, "Ana", "hatched", START_MS + 2 * DAY_MS)
    )
    kept.evaluate(START_MS + 2 * DAY_MS)
    found = record(kept, number, START_MS + 90 * DAY_MS)
    assert found.shown_ms == found.closed_at_ms == closed_ms
    assert found.clutch.degree_hours_ch == pytest.approx(36 * 6.8 + 24 * 15.0)
    assert found.heat[-1].best_ch == pytest.approx(36 * 6.8 + 24 * 15.0)
    assert isinstance(found.clutch.window, NoWindow)
    assert found.temperature.cells[-1].end_ms <= closed_ms
    assert found.limits.high_c == 30.0
    assert (found.events[-1].kind, found.events[-1].why) == ("close", "hatched")
    [other] = records(kept).others(START_MS + 90 * DAY_MS)
    assert (other.clutch.label, other.closed_at_ms, other.place_name) == (
        "Juniper",
        closed_ms,
        "North cabinet, upper shelf, box N1",
    )


def test_alarms_are_those_about_where_it_lay_while_it_lay_there(kept: Kept) -> None:
    number = kept.enter(a_clutch(START_MS))
    its_own = f"clutch-{number}"
    log(
        kept,
        happened("temperature-high", AIR, START_MS - HOUR_MS),
        happened("temperature-high", AIR, START_MS + HOUR_MS, occurrence="a"),
        happened("temperature-high", AIR, START_MS + 2 * HOUR_MS, "cleared", "a"),
        happened("temperature-high", BOX_AIR, START_MS + 3 * HOUR_MS),
        happened("humidity-low", "north-air/rh", START_MS + 4 * HOUR_MS, "raised (explained by another alarm)"),
        happened("exposure", its_own, START_MS + 5 * HOUR_MS),
        happened("exposure", "clutch-77", START_MS + 5 * HOUR_MS),
        happened("round-overdue", "north", START_MS + 6 * HOUR_MS),
    )
    found = record(kept, number, START_MS + DAY_MS)
    alarms = [each for each in found.events if each.kind == "alarm"]
    assert [(each.what, each.end_ms, each.goes_on) for each in alarms] == [
        (f"Alarm: too warm ({AIR})", START_MS + 2 * HOUR_MS, False),
        ("Alarm: outside too long", None, True),
        ("Alarm: round overdue (North cabinet)", None, True),
    ]
    assert found.alarms_left_out == 0
    assert [each.why for each in alarms] == ["31.0 °C, the limit is 30.0 °C", "invented", "invented"]


def test_an_alarm_is_told_in_the_unit_of_the_site(kept: Kept) -> None:
    """31 °C is 87.8 °F and 30 °C is 86 °F."""
    number = kept.enter(a_clutch(START_MS))
    log(kept, happened("temperature-high", AIR, START_MS + HOUR_MS))
    in_f = kept.site.model_copy(update={"temperature_unit": "F"})
    found = ClutchRecords(kept.journal, in_f, kept.profiles, 1800).one(number, START_MS + DAY_MS)
    assert found is not None
    assert found.events[-1].why == "87.8 °F, the limit is 86.0 °F"


def test_of_many_alarms_the_newest_are_listed_and_the_others_counted(kept: Kept) -> None:
    number = kept.enter(a_clutch(START_MS))
    log(kept, *(happened("temperature-high", AIR, START_MS + n * MINUTE_MS) for n in range(1, 71)))
    found = record(kept, number, START_MS + DAY_MS)
    alarms = [each.at_ms for each in found.events if each.kind == "alarm"]
    assert (len(alarms), found.alarms_left_out) == (60, 10)
    assert alarms[-1] == START_MS + 70 * MINUTE_MS


def test_a_round_through_its_incubator_is_among_the_events(kept: Kept) -> None:
    number = kept.enter(a_clutch(START_MS))
    kept.journal.write(lambda conn: rounds.start(conn, "north", "Ana", START_MS + HOUR_MS, 30 * MINUTE_MS))
    kept.journal.write(lambda conn: rounds.start(conn, "south", "Ana", START_MS + HOUR_MS, 30 * MINUTE_MS))
    kept.journal.write(lambda conn: rounds.end(conn, "north", "Ana", "all sound", START_MS + 2 * HOUR_MS))
    [found] = [each for each in record(kept, number, START_MS + DAY_MS).events if each.kind == "round"]
    assert (found.what, found.why) == ("Round in North cabinet, by Ana", "all sound")
    assert (found.end_ms, found.goes_on) == (START_MS + 2 * HOUR_MS, False)


def test_a_place_that_is_gone_from_the_site_leaves_the_rest_of_the_record(kept: Kept) -> None:
    number = kept.enter(replace(a_clutch(START_MS, "Tansy"), place=BOX))
    north = kept.site.incubators[0]
    probes = tuple(each for each in kept.site.probes if each.place.startswith("north"))
    smaller = kept.site.model_copy(update={"incubators": (north,), "probes": probes})
    reader = ClutchRecords(kept.journal, smaller, kept.profiles, 1800)
    found = reader.one(number, START_MS + DAY_MS)
    assert found is not None
    assert (found.place_name, found.limits.high_c, found.temperature.cells) == (BOX, None, ())
    assert "site file has none of the places" in found.temperature.why_empty
    assert [each.clutch.label for each in reader.others(START_MS + DAY_MS)] == ["Tansy"]


def test_a_species_without_a_profile_has_days_and_no_curve(kept: Kept) -> None:
    number = kept.enter(in_box("Stranger", "not-a-species"))
    kept.put(steady(BOX_AIR, 28.0, START_MS, START_MS + DAY_MS))
    found = record(kept, number, START_MS + DAY_MS)
    assert (found.heat, found.clutch.share) == ((), None)
    assert found.temperature.cells
    assert "There is no profile for this species" in found.clutch.reason
