"""What the watch over all channels adds to the single conditions: causes, empty places, clocks, whole probes."""

from pathlib import Path

import pytest

from config.check import check_site
from config.words import AlarmKind
from sensors.decoder import Decoder
from sensors.reading import Accepted, Quality
from tests.daemon.watched import AIR, RH, START_MS, Watched, told
from tests.support.household import MINUTE_MS, pack, write_site


@pytest.fixture
def watched(tmp_path: Path) -> Watched:
    return Watched(tmp_path)


def test_a_dead_probe_is_one_message_and_its_return_another(watched: Watched) -> None:
    watched.say_both(range(5))
    assert told(watched.time(30), AIR, RH) == ["no-data north-air/air raised"]
    back = [*watched.say_both(range(30, 34)), *watched.time(34)]
    assert told(back, AIR, RH) == ["no-data north-air/air cleared"]


def test_a_channel_that_stays_silent_when_the_rest_of_its_probe_returns_is_told_after_all(watched: Watched) -> None:
    watched.say(0, 28.5)
    watched.say(0, 70.0, RH)
    assert told(watched.time(10), AIR, RH) == ["no-data north-air/air raised"]
    found = [change for minute in range(10, 30) for change in watched.say(minute, 28.5)]
    assert told(found, AIR, RH) == ["no-data north-air/air cleared", "no-data north-air/rh raised"]
    back = watched.say_both(range(30, 34))
    assert told(back, AIR, RH) == ["no-data north-air/rh cleared"]


def test_an_alarm_ends_with_the_last_clutch_although_the_probe_is_gone_too(watched: Watched) -> None:
    raised = [change for minute in range(10) for change in watched.say(minute, 31.0)]
    assert told(raised) == ["temperature-high north-air/air raised"]
    watched.close(12)
    ended = watched.time(30)
    assert told(ended) == ["temperature-high north-air/air cleared"]
    assert {one.reason for one in ended} == {"no clutch lies here any more"}


def test_silence_in_an_empty_place_is_no_alarm(watched: Watched) -> None:
    watched.say(0, 28.5)
    watched.close(1)
    assert [one for one in watched.time(600) if one.told] == []


def test_a_clock_that_was_a_day_ahead_does_not_blind_the_watch_for_a_day(watched: Watched) -> None:
    day = 24 * 60
    for minute in range(day, day + 10):
        watched.say(minute, 28.5, received=minute)
    found = [change for minute in range(20) for change in watched.say(minute, 45.0, received=minute)]
    assert "temperature-lethal-high north-air/air raised" in told(found)
    assert told(watched.time(40)) == ["no-data north-air/air raised"]


def test_a_warning_below_a_lethal_alarm_is_told_when_it_outlasts_it(watched: Watched) -> None:
    found = [change for minute in range(10) for change in watched.say(minute, 36.0)]
    assert told(found) == ["temperature-lethal-high north-air/air raised"]
    found = [change for minute in range(10, 30) for change in watched.say(minute, 32.0)]
    assert told(found) == ["temperature-lethal-high north-air/air cleared", "temperature-high north-air/air raised"]
    over, goes_on = (one for one in found if one.told)
    assert over.still == (AlarmKind.TEMPERATURE_HIGH,)
    assert (goes_on.at_ms - over.at_ms, goes_on.since_ms) == (5 * MINUTE_MS, START_MS)
    assert (goes_on.limit, goes_on.peak) == (30.0, 36.0)
    # The damped one falls from 32.5 towards 28.5: it passes 29.8 after 10 min * ln(4 / 1.3) = 11 min, and lasts 10.
    found = [change for minute in range(30, 60) for change in watched.say(minute, 28.5)]
    assert told(found) == ["temperature-high north-air/air cleared"]


def test_a_warning_that_ends_soon_after_the_lethal_alarm_is_told_in_no_message_of_its_own(tmp_path: Path) -> None:
    watched = Watched(tmp_path, damping_min=0)
    found = [change for minute in range(60) for change in watched.say(minute, 36.0 if minute < 10 else 29.0)]
    assert told(found) == [
        "temperature-lethal-high north-air/air raised",
        "temperature-lethal-high north-air/air cleared",
    ]
    assert [one.change for one in found if one.kind is AlarmKind.TEMPERATURE_HIGH] == ["raised", "cleared"]


def test_of_air_that_is_right_again_no_warning_is_told_though_the_eggs_are_warm_still(watched: Watched) -> None:
    """The damped one is at 33 °C after ten minutes of 36; the air is right from then on, and wrong again later."""
    heat = [28.5] * 5 + [36.0] * 10 + [29.0] * 14
    found = [change for minute, value in enumerate(heat) for change in watched.say(minute, value)]
    lethal = ["temperature-lethal-high north-air/air raised", "temperature-lethal-high north-air/air cleared"]
    assert told(found) == lethal
    again = watched.say(29, 30.5)
    assert told(again) == ["temperature-high north-air/air raised"]
    assert [one.value for one in again] == [30.5]


def test_a_lethal_alarm_that_comes_back_explains_its_warning_again(watched: Watched) -> None:
    heat = [36.0] * 10 + [32.0] * 8 + [36.0] * 10 + [32.0] * 20
    found = [change for minute, value in enumerate(heat) for change in watched.say(minute, value)]
    lethal = ["temperature-lethal-high north-air/air raised", "temperature-lethal-high north-air/air cleared"]
    assert told(found) == [*lethal, *lethal, "temperature-high north-air/air raised"]


def test_a_fault_that_outlasts_the_silence_that_explained_it_is_told(watched: Watched) -> None:
    """Suspect readings are silence first; then every second one is good, which ends the silence and not the fault."""
    watched.say_both([0])
    found = [change for minute in range(1, 15) for change in watched.say(minute, -127.0, quality=Quality.FAULT_VALUE)]
    assert told(found) == ["no-data north-air/air raised"]
    loose = [
        change
        for minute in range(15, 40)
        for change in watched.say(minute, 28.5, quality=Quality.GOOD if minute % 2 else Quality.FAULT_VALUE)
    ]
    assert told(loose) == ["no-data north-air/air cleared", "probe-fault north-air/air raised"]


def test_what_was_to_be_told_later_is_not_put_off_by_a_clock_that_was_set_back(watched: Watched) -> None:
    day = 24 * 60
    for minute, value in enumerate([36.0] * 10 + [32.0] * 8):
        watched.say(day + minute, value)
    found = [change for minute in range(12) for change in watched.say(minute, 32.0)]
    assert "temperature-high north-air/air raised" in told(found)


def test_humidity_is_watched_in_boxes_only_and_a_wet_element_is_saturated_air(watched: Watched) -> None:
    shelf = [change for minute in range(90) for change in watched.say(minute, 40.0, RH)]
    assert [one for one in shelf if one.kind.startswith("humidity")] == []
    wet = [change for minute in range(90) for change in watched.say(minute, 101.5, "box/rh")]
    assert [one for one in wet if one.kind.startswith("humidity")] == []
    dry = [change for minute in range(90, 180) for change in watched.say(minute, 60.0, "box/rh")]
    assert told(dry, "box/rh") == ["humidity-low box/rh raised"]


def test_time_in_which_nobody_watched_is_not_silence(tmp_path: Path, watched: Watched) -> None:
    watched.say(0, 28.5)
    stored = watched.watch.take_changed()
    later = Watched(tmp_path / "again")
    later.watch.restore(stored, START_MS + 600 * MINUTE_MS)
    assert told(later.time(602)) == []
    assert told(later.time(604)) == ["no-data north-air/air raised"]


def test_a_stored_state_that_cannot_be_read_starts_that_alarm_anew_and_says_so(watched: Watched) -> None:
    assert watched.watch.restore({AIR: "not JSON"}, START_MS)
    assert watched.watch.restore({AIR: '{"temperature-high": {"state": "{}"}}'}, START_MS)


def test_a_restart_does_not_believe_a_probe_that_was_known_to_be_stuck(tmp_path: Path) -> None:
    """An all-zero frame of a 1-wire line stuck low reads as a valid 0.0; only what came before shows that it is not."""
    checked = check_site(write_site(tmp_path, 1883))
    assert checked.site is not None
    before = Decoder(checked.site)
    said = [(START_MS + minute * MINUTE_MS, 28.5 if minute < 5 else 0.0) for minute in range(10)]

    def quality(decoder: Decoder, at_ms: int, value: float) -> int:
        decoded = decoder.decode("clutchwarden/north-air/measure", pack(at_ms, {"air": value}), False, at_ms)
        assert isinstance(decoded, Accepted)
        return decoded.readings[0].quality

    assert quality(before, *said[0]) == Quality.GOOD
    for at_ms, value in said[1:]:
        quality(before, at_ms, value)
    again = Decoder(checked.site)
    again.recall((AIR, at_ms, value) for at_ms, value in said)
    after_ms = START_MS + 10 * MINUTE_MS
    assert quality(again, after_ms, 0.0) == quality(before, after_ms, 0.0) == Quality.FAULT_VALUE
