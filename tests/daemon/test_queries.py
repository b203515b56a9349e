"""What a page is given: from readings, clutches and heat in the journal to the values of the overview."""

from dataclasses import replace

import pytest

from config.words import AlarmKind, Quantity
from daemon.alarms.definitions import DEFINITIONS
from daemon.clutches import register
from daemon.development.window import HatchWindow, NoWindow
from daemon.storage import alarm_log, messages
from daemon.storage.messages import KeptMessage
from sensors.reading import Outcome, Quality
from tests.daemon.kept import AIR, BOX, HOUR_MS, START_MS, Kept, at, in_box, steady
from tests.support.household import DAY_MS, MINUTE_MS, a_clutch

MEASURED = {each for each in Quantity if not each.is_contact}


def test_the_newest_reading_is_the_one_measured_last_whatever_came_in_last(kept: Kept) -> None:
    kept.put(at(START_MS + MINUTE_MS, {AIR: 27.5}))
    kept.put(at(START_MS, {AIR: 26.0}))
    now = kept.channels(START_MS + 2 * MINUTE_MS)
    assert (now[AIR].value, now[AIR].measured_at_ms, now[AIR].place) == (27.5, START_MS + MINUTE_MS, "north/upper")
    assert (now["north-air/rh"].value, now["north-air/rh"].measured_at_ms) == (None, None)
    assert list(now) == [AIR, "north-air/rh", "box-s1/air", "box-s1/rh", "box-s1/lid"]


def test_a_suspect_reading_is_given_with_its_quality(kept: Kept) -> None:
    kept.put(at(START_MS, {AIR: 85.0}, Quality.FAULT_VALUE))
    assert kept.channels(START_MS)[AIR].quality == Quality.FAULT_VALUE


def test_limits_are_those_of_the_clutches_there_and_humidity_is_limited_in_a_box_only(kept: Kept) -> None:
    """Limits of Elaphe taeniura: 24 to 30 °C after Du and Ji (2008); 34 °C and 80 to 100 % are common practice."""
    kept.enter(a_clutch(START_MS))
    kept.enter(replace(a_clutch(START_MS, "Tansy"), place=BOX))
    now = kept.channels(START_MS)
    for channel in (AIR, "box-s1/air"):
        assert (now[channel].low, now[channel].high) == (24.0, 30.0)
        assert (now[channel].lethal_low, now[channel].lethal_high) == (None, 34.0)
    assert (now["box-s1/rh"].low, now["box-s1/rh"].high) == (80.0, 100.0)
    assert (now["north-air/rh"].low, now["north-air/rh"].high) == (None, None)
    assert (now["box-s1/lid"].low, now["box-s1/lid"].lethal_high) == (None, None)


def test_a_place_without_clutches_has_no_limits(kept: Kept) -> None:
    kept.enter(a_clutch(START_MS))
    assert kept.channels(START_MS - 1)[AIR].high is None
    assert kept.channels(START_MS)[AIR].high == 30.0


def test_a_reading_counts_as_fresh_for_three_intervals_of_its_probe(kept: Kept) -> None:
    now = kept.channels(START_MS)
    assert now[AIR].old_after_ms == 3 * MINUTE_MS
    assert now["box-s1/air"].old_after_ms == 15 * MINUTE_MS


def test_heat_share_and_missing_hours_of_a_clutch(kept: Kept) -> None:
    """By hand, with the zero of 13.2 °C (fit to Du and Ji 2008).

    From the middle of the laying window 36 h at the room's 20 °C give 36 x 6.8, then 25 h at 28.2 °C give 25 x 15.0, of
    which 3 h are taken from the readings around a gap and before now.
    """
    kept.enter(a_clutch(START_MS))
    kept.put(steady(AIR, 28.2, START_MS, START_MS + 10 * HOUR_MS))
    kept.put(steady(AIR, 28.2, START_MS + 12 * HOUR_MS, START_MS + DAY_MS))
    kept.evaluate(START_MS + DAY_MS)
    clutch = kept.clutches(START_MS + DAY_MS + HOUR_MS)["Juniper"]
    expected_ch = 36 * 6.8 + 25 * 15.0
    assert clutch.degree_hours_ch == pytest.approx(expected_ch)
    assert clutch.share == pytest.approx(expected_ch / 21_788)
    assert clutch.thermal_constant_ch == 21_788
    assert clutch.recent_rate_k == pytest.approx(15.0)
    # the newest reading is an hour old, and says nothing of now
    assert clutch.rate_now_k is None
    assert kept.clutches(START_MS + DAY_MS)["Juniper"].rate_now_k == pytest.approx(15.0)
    assert clutch.recent_mean_c == pytest.approx(28.2)
    # two hours of a gap, and one since the last reading
    assert clutch.hours_missing == pytest.approx(3.0)
    assert (clutch.place, clutch.set_up_ms, clutch.egg_count) == ("north/upper/N1", START_MS, 8)
    fit = kept.profiles["elaphe-taeniura"].development
    assert fit is not None
    assert clutch.counted == (
        f"Heat counts above 13.2 °C, and above {fit.cap_c:g} °C no faster. "
        f"From a line through published durations. Known from {fit.fit_low_c:g} to {fit.fit_high_c:g} °C."
    )
    assert (clutch.reason, clutch.caution) == ("", "")


def test_the_interval_of_the_heat_holds_what_is_not_known(kept: Kept) -> None:
    """By hand: 24 h measured at 28.2 °C, so nothing is open but the room before, the day of laying and the probe.

    The room of 20 °C may be 6 K off (two standard uncertainties of 3 K): 36 h at 14 °C or at 26 °C. The laying window
    is half a day to each side, at 6.8 K. The probe of a shelf may be 0.5 K off either way (data sheet of the usual
    1-wire thermometer, rectangular: 0.289 K) and stands in for the box (0.5 K): 0.577 K over 24 h.
    """
    kept.enter(a_clutch(START_MS))
    kept.put(steady(AIR, 28.2, START_MS, START_MS + DAY_MS))
    kept.evaluate(START_MS + DAY_MS)
    clutch = kept.clutches(START_MS + DAY_MS)["Juniper"]
    best_ch = 36 * 6.8 + 24 * 15.0
    laying_ch, probe_ch = 12 * 6.8, 2 * 24 * (0.25 / 3 + 0.25) ** 0.5
    half_ch = ((36 * 6) ** 2 + laying_ch**2 + probe_ch**2) ** 0.5
    assert clutch.degree_hours_high_ch == pytest.approx(best_ch + half_ch, rel=1e-4)
    assert clutch.degree_hours_low_ch == pytest.approx(best_ch - half_ch, rel=1e-4)


def test_hours_above_the_cap_and_below_the_zero_are_told_as_exposure(kept: Kept) -> None:
    kept.enter(a_clutch(START_MS))
    kept.put(steady(AIR, 32.0, START_MS, START_MS + 5 * HOUR_MS))
    kept.put(steady(AIR, 12.0, START_MS + 5 * HOUR_MS + 1000, START_MS + 12 * HOUR_MS))
    kept.evaluate(START_MS + 12 * HOUR_MS)
    clutch = kept.clutches(START_MS + 12 * HOUR_MS)["Juniper"]
    assert clutch.hours_above_cap == pytest.approx(5.0, abs=0.01)
    assert clutch.hours_below_zero == pytest.approx(7.0, abs=0.1)


def test_a_clutch_has_a_window_with_its_reason(kept: Kept) -> None:
    kept.enter(a_clutch(START_MS))
    kept.put(steady(AIR, 28.2, START_MS, START_MS + DAY_MS))
    kept.evaluate(START_MS + DAY_MS)
    window = kept.clutches(START_MS + DAY_MS)["Juniper"].window
    assert isinstance(window, HatchWindow)
    to_go_days = (21_788 - 36 * 6.8 - 24 * 15.0) / 15.0 / 24
    assert (window.likely_ms - START_MS - DAY_MS) / DAY_MS == pytest.approx(to_go_days, abs=0.01)
    assert window.earliest_ms < window.likely_ms < window.latest_ms
    assert window.reason


def test_a_clutch_that_nobody_measured_has_no_window_and_says_so(kept: Kept) -> None:
    kept.enter(a_clutch(START_MS))
    window = kept.clutches(START_MS + HOUR_MS)["Juniper"].window
    assert isinstance(window, NoWindow)
    assert "no probe" in window.reason


def test_a_species_whose_development_pauses_has_heat_and_no_share(kept: Kept) -> None:
    """Zero 14.1 °C (fit to Ewert et al. 2004): 36 h at 20 °C and 10 h at 29.1 °C."""
    kept.enter(in_box("Pancake", "malacochersus-tornieri"))
    kept.put(steady("box-s1/air", 29.1, START_MS, START_MS + 10 * HOUR_MS))
    kept.evaluate(START_MS + 10 * HOUR_MS)
    clutch = kept.clutches(START_MS + 10 * HOUR_MS)["Pancake"]
    assert clutch.degree_hours_ch == pytest.approx(36 * 5.9 + 150.0)
    assert clutch.share is None
    assert isinstance(clutch.window, NoWindow)
    assert clutch.reason == "Development of this species pauses (arrest): heat, but no share and no date."


def test_a_species_with_one_usual_duration_has_heat_and_a_window_marked_as_that(kept: Kept) -> None:
    kept.enter(in_box("Gecko", "correlophus-ciliatus"))
    kept.put(steady("box-s1/air", 24.0, START_MS, START_MS + 10 * HOUR_MS))
    kept.evaluate(START_MS + 10 * HOUR_MS)
    clutch = kept.clutches(START_MS + 10 * HOUR_MS)["Gecko"]
    assert clutch.degree_hours_ch is not None
    assert isinstance(clutch.window, HatchWindow)
    assert "one usual duration" in clutch.counted
    assert "one usual duration" in clutch.window.reason


def test_a_species_of_which_nothing_is_known_has_no_heat_and_nothing_missing(kept: Kept) -> None:
    kept.enter(a_clutch(START_MS))
    clutch = kept.with_profile("elaphe-taeniura", development=None, usual_duration=None)
    assert (clutch.degree_hours_ch, clutch.share, clutch.thermal_constant_ch) == (None, None, None)
    assert (clutch.hours_missing, clutch.counted) == (0.0, "")
    assert clutch.reason == "Nothing is known of how fast this species develops: days only."
    assert isinstance(clutch.window, NoWindow)


def test_a_species_without_a_profile_says_that_nothing_is_watched_for_it(kept: Kept) -> None:
    kept.enter(in_box("Riddle", "genus-unknown"))
    clutch = kept.clutches(START_MS)["Riddle"]
    assert clutch.species_name == "genus-unknown"
    assert (clutch.degree_hours_ch, clutch.share) == (None, None)
    assert "no limits are watched" in clutch.reason


def test_a_clutch_that_no_reading_reached_has_no_heat_rather_than_none_needed(kept: Kept) -> None:
    kept.enter(a_clutch(START_MS))
    clutch = kept.clutches(START_MS + 2 * HOUR_MS)["Juniper"]
    assert (clutch.degree_hours_ch, clutch.share) == (None, None)
    assert clutch.hours_missing == pytest.approx(2.0)
    assert clutch.reason == "No reading counts for this clutch yet."


def test_a_clutch_is_shown_where_it_lies_at_that_moment(kept: Kept) -> None:
    clutch = kept.enter(a_clutch(START_MS))
    move_ms = START_MS + HOUR_MS
    kept.journal.write(lambda conn: register.move_clutch(conn, clutch, BOX, move_ms, "test", "", move_ms))
    before, after = kept.overview(move_ms - 1), kept.overview(move_ms)
    assert [[each.place for each in incubator.clutches] for incubator in before.incubators] == [["north/upper/N1"], []]
    assert [[each.place for each in incubator.clutches] for incubator in after.incubators] == [[], [BOX]]


def test_an_alarm_that_another_explains_is_not_shown(kept: Kept) -> None:
    """A probe falls silent: its temperature speaks for it, and its humidity is not told a second time."""
    kept.enter(a_clutch(START_MS))
    for minute in range(10):
        kept.put(at(START_MS + minute * MINUTE_MS, {AIR: 28.0, "north-air/rh": 70.0}))
    kept.evaluate(START_MS + 9 * MINUTE_MS)
    assert kept.incubator("north", START_MS + 9 * MINUTE_MS).alarms == ()
    now_ms = START_MS + 30 * MINUTE_MS
    kept.evaluate(now_ms)
    with kept.journal.read() as conn:
        raised = {event.alarm_key for event in alarm_log.events(conn, 100) if event.event.startswith("raised")}
    assert raised == {f"no-data:{AIR}", "no-data:north-air/rh"}
    [alarm] = kept.incubator("north", now_ms).alarms
    assert (alarm.kind, alarm.channel, alarm.place) == (AlarmKind.NO_DATA, AIR, "north/upper")
    assert (alarm.headline, alarm.state) == ("No readings", "unacknowledged")
    # the last reading, and three intervals of a minute
    assert alarm.since_ms == START_MS + (9 + 3) * MINUTE_MS
    definition = DEFINITIONS[AlarmKind.NO_DATA]
    assert alarm.body == definition.first_action
    assert alarm.background == (
        "Likely: a probe, its power, its network or the broker has stopped. If nothing is done: "
        f"nobody would be told if the eggs became too hot or too cold. Time left: {definition.time_available}."
    )


def test_what_a_fit_is_worth_is_told_in_words_and_a_caution_is_passed_on(kept: Kept) -> None:
    fit = kept.profiles["elaphe-taeniura"].development
    assert fit is not None
    kept.enter(a_clutch(START_MS))
    for flag, words in {"weak": "weak", "two-point": "through two temperatures only"}.items():
        changed = fit.model_copy(update={"flag": flag})
        assert words in kept.with_profile("elaphe-taeniura", development=changed).counted
    pooled = kept.with_profile("elaphe-taeniura", development=fit.model_copy(update={"pooled": True}), caution="Bites.")
    assert "several studies" in pooled.counted
    assert pooled.caution == "Bites."


def test_messages_are_counted_by_outcome_and_the_newest_rejected_ones_are_given(kept: Kept) -> None:
    rejected = [KeptMessage(f"t/{n}", b"?", False, START_MS + n, Outcome.MALFORMED, "not JSON") for n in range(3)]
    kept.journal.write(lambda conn: messages.record(conn, {Outcome.STORED: 5, Outcome.MALFORMED: 3}, rejected))
    found = kept.queries.messages(2)
    assert (found.time_zone, found.counts) == ("Europe/Madrid", {Outcome.STORED: 5, Outcome.MALFORMED: 3})
    assert found.kept == (rejected[2], rejected[1])


def test_names_of_places_do_not_repeat_the_incubator(kept: Kept) -> None:
    assert kept.incubator("south", START_MS).place_names == {
        "south": "whole incubator",
        "south/low": "low shelf",
        "south/low/S1": "low shelf, box S1",
        "south/low/S2": "low shelf, the blue box",
    }


def test_clutches_that_do_not_suit_each_other_are_told_of_their_incubator(kept: Kept) -> None:
    kept.enter(in_box("Cool", "correlophus-ciliatus"))
    assert kept.incubator("south", START_MS).conflicts == ()
    kept.enter(in_box("Warm", "python-regius", "south/low/S2"))
    conflicts = kept.incubator("south", START_MS).conflicts
    assert conflicts
    assert all("Cool" in reason and "Warm" in reason for reason in conflicts)
    assert "no temperature suits both" in conflicts[0]
    assert kept.incubator("north", START_MS).conflicts == ()


def test_the_service_and_the_counts_are_passed_on(kept: Kept) -> None:
    kept.put(at(START_MS, {AIR: 28.0, "north-air/rh": 70.0}))
    now = kept.overview(START_MS + 1, ("The disk is full.",))
    assert now.troubles == ("The disk is full.",)
    assert (now.samples_stored, now.alerts_waiting, now.alerts_delivered) == (2, 0, 0)
    assert (now.site_name, now.time_zone, now.now_ms) == ("Test house", "Europe/Madrid", START_MS + 1)
    assert (now.broker_connected, now.broker_detail) == (True, "connected to a test")
    assert kept.overview(START_MS).troubles == ()
    assert {each.quantity for each in now.incubators[1].channels} == MEASURED
