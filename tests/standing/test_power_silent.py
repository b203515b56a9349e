"""Silence of the site, of an incubator and for long: told once, by the widest word, and ended only by readings.

Probes speak every minute and may be silent for three (three missed intervals). Times are hand calculation.
"""

from collections.abc import Iterable
from pathlib import Path

import pytest

from config.words import AlarmKind
from daemon.clutches import register
from daemon.standing.found import Found
from daemon.standing_sources.silent import LOOKED_AWAY_MS, Silences
from sensors.reading import Quality
from tests.standing.powered import (
    AIR,
    BOX,
    MAINS,
    MINUTE_MS,
    NORTH_MAINS,
    ROOM,
    SECOND_MS,
    SOUTH,
    START_MS,
    THERMOMETERS,
    Powered,
    powered,
)

SITE, LAST, LONG = AlarmKind.SITE_SILENT, AlarmKind.LAST_PROBE_SILENT, AlarmKind.NO_DATA_LONG
CUT_MS = START_MS + 60 * MINUTE_MS
"""the last reading before the silence: 21:26 UTC"""
HOUR_MS = 60 * MINUTE_MS


class Watch:
    """Looks every five seconds, and remembers which alarms are on, as the evaluation does."""

    def __init__(self, house: Powered) -> None:
        self.house, self.source = house, Silences(house.site)
        self.now_ms = START_MS
        self.found: list[Found] = []

    def until(self, end_ms: int, every_ms: int = 5 * SECOND_MS) -> list[tuple[AlarmKind, str]]:
        """Give what began on the way."""
        begun = []
        while self.now_ms < end_ms:
            self.now_ms = min(self.now_ms + every_ms, end_ms)
            self.found = self.house.look(self.source, self.now_ms)
            known = {(each.kind, each.subject) for each in self.found if each.known}
            begun += sorted(known - self.house.on)
            unknown = {(each.kind, each.subject) for each in self.found if not each.known}
            self.house.on = known | (self.house.on & unknown)
        return begun

    def get(self, kind: AlarmKind) -> Found:
        (found,) = (each for each in self.found if each.kind is kind and each.known)
        return found


def speak(house: Powered, channels: Iterable[str], start_ms: int, end_ms: int) -> None:
    for channel in channels:
        house.say(channel, 28.0, start_ms, end_ms, MINUTE_MS)


@pytest.fixture
def watch(house: Powered) -> Watch:
    """All speak until the cut; eggs lie in the box of the north cabinet since the start."""
    house.eggs()
    speak(house, THERMOMETERS, START_MS, CUT_MS)
    watch = Watch(house)
    assert watch.until(CUT_MS, MINUTE_MS) == []
    return watch


def test_all_probes_silent_together_are_one_alarm_after_their_window_and_none_for_incubators(watch: Watch) -> None:
    assert watch.until(CUT_MS + 3 * MINUTE_MS - 1) == []
    assert watch.until(CUT_MS + 3 * MINUTE_MS) == [(SITE, "site")]
    found = watch.get(SITE)
    assert (found.place, found.since_ms) == ("", CUT_MS)
    assert found.reason == ("the last reading was of 21:26, 3 min ago; the mains, the network or the broker is likely")
    assert watch.until(CUT_MS + 2 * HOUR_MS, MINUTE_MS) == [], "also after half an hour no second word of the same"


@pytest.mark.parametrize(
    ("said", "words"),
    [
        (1.0, "a contact says mains present, so the network or the supply of the probes is likely"),
        (0.0, "a contact says mains absent"),
    ],
)
def test_a_contact_on_its_battery_says_whether_it_is_the_mains(watch: Watch, said: float, words: str) -> None:
    watch.house.say(MAINS, said, CUT_MS, CUT_MS + 4 * MINUTE_MS, 10 * SECOND_MS)
    assert watch.until(CUT_MS + 4 * MINUTE_MS) == [(SITE, "site")]
    assert watch.get(SITE).reason.endswith(words)


def test_of_two_contacts_the_one_that_misses_the_mains_is_named(watch: Watch) -> None:
    for channel, said in ((MAINS, 1.0), (NORTH_MAINS, 0.0)):
        watch.house.say(channel, said, CUT_MS, CUT_MS + 4 * MINUTE_MS, 10 * SECOND_MS)
    assert watch.until(CUT_MS + 4 * MINUTE_MS) == [(SITE, "site")]
    assert watch.get(SITE).reason.endswith("; a contact says mains absent")


def test_an_incubator_that_is_silent_alone_is_told_as_such(watch: Watch) -> None:
    speak(watch.house, (SOUTH, ROOM), CUT_MS + MINUTE_MS, CUT_MS + 2 * HOUR_MS)
    assert watch.until(CUT_MS + 3 * MINUTE_MS) == [(LAST, "north")]
    found = watch.get(LAST)
    assert (found.place, found.since_ms) == ("north", CUT_MS)
    assert found.reason == "all its 2 thermometers are silent; the last reading was of 21:26, 3 min ago"
    assert watch.until(CUT_MS + 2 * HOUR_MS, MINUTE_MS) == [], "its channels are not told on top"


def test_a_single_thermometer_is_the_last_one(tmp_path: Path) -> None:
    with powered(tmp_path, frozenset({"north-box"})) as house:
        house.eggs()
        speak(house, (AIR, SOUTH, ROOM), START_MS, CUT_MS)
        speak(house, (SOUTH, ROOM), CUT_MS + MINUTE_MS, CUT_MS + HOUR_MS)
        watch = Watch(house)
        watch.until(CUT_MS, MINUTE_MS)
        assert watch.until(CUT_MS + 4 * MINUTE_MS) == [(LAST, "north")]
        assert watch.get(LAST).reason.startswith("its only thermometer is silent; ")


def test_a_site_of_one_probe_has_no_together(tmp_path: Path) -> None:
    """It may be the mains as well as the probe; what is certain is that nothing watches the eggs."""
    with powered(tmp_path, frozenset({"north-box", "south-air", "room-air"})) as house:
        house.eggs()
        speak(house, (AIR,), START_MS, CUT_MS)
        watch = Watch(house)
        watch.until(CUT_MS, MINUTE_MS)
        assert watch.until(CUT_MS + 3 * MINUTE_MS) == [(LAST, "north")]


def test_a_probe_that_was_dead_before_does_not_hide_that_the_rest_stopped_together(house: Powered) -> None:
    house.eggs()
    speak(house, (SOUTH,), START_MS, START_MS + MINUTE_MS)
    speak(house, (AIR, BOX, ROOM), START_MS, CUT_MS)
    watch = Watch(house)
    assert watch.until(CUT_MS, MINUTE_MS) == [], "no eggs lie in the south cabinet"
    assert watch.until(CUT_MS + 3 * MINUTE_MS) == [(SITE, "site")]


def test_probes_that_stop_one_after_another_are_no_power_cut(house: Powered) -> None:
    """Ten minutes apart each; the last one, in the north cabinet, is then told as the last probe there."""
    house.eggs()
    for number, channel in enumerate((SOUTH, ROOM, BOX, AIR)):
        speak(house, (channel,), START_MS, START_MS + (20 + 10 * number) * MINUTE_MS)
    begun = Watch(house).until(START_MS + 60 * MINUTE_MS, 20 * SECOND_MS)
    assert begun == [(LAST, "north")]


def test_an_incubator_waits_for_the_others_so_that_a_power_cut_is_one_alarm(house: Powered) -> None:
    """Its probes stop 50 s before the last word of the others: a cut in between the two. All are one alarm."""
    house.eggs()
    speak(house, (AIR, BOX), START_MS, CUT_MS)
    speak(house, (SOUTH, ROOM), START_MS + 50 * SECOND_MS, CUT_MS + 50 * SECOND_MS)
    watch = Watch(house)
    watch.until(CUT_MS, MINUTE_MS)
    assert watch.until(CUT_MS + 3 * MINUTE_MS + 45 * SECOND_MS) == []
    assert watch.until(CUT_MS + 3 * MINUTE_MS + 50 * SECOND_MS) == [(SITE, "site")]


def test_it_does_not_wait_for_ever_for_a_probe_that_speaks_seldom(tmp_path: Path) -> None:
    """Of a probe with one reading an hour nothing can be known for long: two minutes are waited."""
    hourly = '[[probe]]\nid = "slow"\nplace = "south"\ninterval_s = 3600\n'
    channel = '[[probe.channel]]\nname = "t"\nquantity = "surface_temperature"\n'
    with powered(tmp_path, frozenset({"south-air", "room-air"}), hourly + channel) as house:
        house.eggs()
        speak(house, (AIR, BOX), START_MS, CUT_MS)
        house.say("slow/t", 25.0, START_MS, START_MS + 50 * MINUTE_MS, 50 * MINUTE_MS)
        watch = Watch(house)
        watch.until(CUT_MS, MINUTE_MS)
        assert watch.until(CUT_MS + 5 * MINUTE_MS - 1) == []
        assert watch.until(CUT_MS + 5 * MINUTE_MS) == [(LAST, "north")]


def test_a_channel_that_is_silent_for_half_an_hour_above_eggs_is_told_while_others_speak(watch: Watch) -> None:
    speak(watch.house, (AIR, SOUTH, ROOM), CUT_MS + MINUTE_MS, CUT_MS + HOUR_MS)
    assert watch.until(CUT_MS + 30 * MINUTE_MS - 1, MINUTE_MS) == []
    assert watch.until(CUT_MS + 30 * MINUTE_MS) == [(LONG, BOX)]
    found = watch.get(LONG)
    assert (found.place, found.since_ms) == ("north/upper/N1", CUT_MS)
    assert found.channel is not None
    assert found.channel.channel == BOX
    assert found.reason == "north-box/t is silent; the last reading was of 21:26, 30 min ago"


def test_only_silence_above_eggs_counts(house: Powered) -> None:
    """A box whose probe has been dead since long gets its eggs now: half an hour from then."""
    speak(house, THERMOMETERS, START_MS, START_MS + MINUTE_MS)
    speak(house, (AIR, SOUTH, ROOM), START_MS, CUT_MS + 2 * HOUR_MS)
    house.eggs(from_ms=CUT_MS)
    watch = Watch(house)
    assert watch.until(CUT_MS + 29 * MINUTE_MS, MINUTE_MS) == []
    assert watch.until(CUT_MS + 30 * MINUTE_MS) == [(LONG, BOX)]


def test_the_room_is_no_place_of_eggs(watch: Watch) -> None:
    speak(watch.house, (AIR, BOX, SOUTH), CUT_MS + MINUTE_MS, CUT_MS + 2 * HOUR_MS)
    assert watch.until(CUT_MS + 2 * HOUR_MS, MINUTE_MS) == []


def test_without_eggs_nothing_is_found_and_what_was_on_ends_with_them(watch: Watch) -> None:
    assert watch.until(CUT_MS + 4 * MINUTE_MS) == [(SITE, "site")]
    (clutch,) = watch.house.journal.write(register.clutches)
    ended_ms = watch.now_ms
    watch.house.journal.write(
        lambda conn: register.close_clutch(conn, clutch.clutch_id, ended_ms, "test", "hatched", ended_ms)
    )
    assert watch.until(CUT_MS + 5 * MINUTE_MS) == []
    assert watch.found == []


def test_three_readings_without_a_gap_end_it_and_one_does_not(watch: Watch) -> None:
    back_ms = CUT_MS + 10 * MINUTE_MS
    speak(watch.house, (AIR,), back_ms, back_ms)
    watch.until(back_ms + 2 * MINUTE_MS)
    assert watch.house.on == {(SITE, "site")}, "one reading: back, perhaps"
    watch.until(back_ms + 5 * MINUTE_MS)
    assert watch.house.on == {(SITE, "site")}, "it was one reading"
    speak(watch.house, (AIR,), back_ms + 6 * MINUTE_MS, back_ms + 7 * MINUTE_MS)
    watch.until(back_ms + 7 * MINUTE_MS)
    assert watch.house.on == {(SITE, "site")}, "two, after a gap"
    speak(watch.house, (AIR,), back_ms + 8 * MINUTE_MS, back_ms + 8 * MINUTE_MS)
    watch.until(back_ms + 8 * MINUTE_MS)
    assert watch.house.on == set()


def test_what_stays_silent_when_the_site_is_back_is_told_then(watch: Watch) -> None:
    """The south cabinet comes back, the north does not: it becomes the incubator that nothing watches."""
    watch.until(CUT_MS + 10 * MINUTE_MS)
    speak(watch.house, (SOUTH, ROOM), CUT_MS + 10 * MINUTE_MS, CUT_MS + 20 * MINUTE_MS)
    assert watch.until(CUT_MS + 13 * MINUTE_MS) == [(LAST, "north")]
    assert watch.house.on == {(LAST, "north")}


def test_a_faulty_probe_does_not_watch_its_incubator_but_proves_that_the_power_is_there(watch: Watch) -> None:
    watch.house.say(AIR, 85.0, CUT_MS + MINUTE_MS, CUT_MS + 10 * MINUTE_MS, MINUTE_MS, Quality.FAULT_VALUE)
    assert watch.until(CUT_MS + 10 * MINUTE_MS) == [(LAST, "north")]


def test_readings_of_the_past_from_a_spool_end_nothing(watch: Watch) -> None:
    watch.until(CUT_MS + HOUR_MS, MINUTE_MS)
    speak(watch.house, THERMOMETERS, CUT_MS + MINUTE_MS, CUT_MS + 30 * MINUTE_MS)
    watch.until(CUT_MS + 90 * MINUTE_MS, MINUTE_MS)
    assert watch.house.on == {(SITE, "site")}
    assert "the last reading was of 21:56" in watch.get(SITE).reason


def test_after_a_start_a_probe_gets_its_time_and_what_was_on_stays_on(watch: Watch) -> None:
    """The service was down for an hour. Nothing begins before the window has passed, and nothing ends."""
    start_ms = CUT_MS + HOUR_MS
    began = Watch(watch.house)
    began.now_ms = start_ms
    assert began.until(start_ms + 5 * SECOND_MS + 3 * MINUTE_MS - 1) == []
    assert began.until(start_ms + 10 * SECOND_MS + 3 * MINUTE_MS) == [(SITE, "site")]
    again = Watch(watch.house)
    again.now_ms = start_ms + HOUR_MS
    again.until(start_ms + HOUR_MS + MINUTE_MS)
    assert watch.house.on == {(SITE, "site")}


def test_a_jump_of_the_clock_or_a_sleep_of_the_machine_is_no_silence(watch: Watch) -> None:
    watch.now_ms = CUT_MS + LOOKED_AWAY_MS
    assert watch.until(watch.now_ms + 3 * MINUTE_MS) == []
    speak(watch.house, THERMOMETERS, watch.now_ms, watch.now_ms + 10 * MINUTE_MS)
    assert watch.until(watch.now_ms + 10 * MINUTE_MS) == []


def test_a_clock_that_is_set_back_begins_anew(watch: Watch) -> None:
    watch.until(CUT_MS + 2 * MINUTE_MS)
    watch.now_ms = START_MS + 30 * MINUTE_MS + 500
    assert watch.until(START_MS + 59 * MINUTE_MS, MINUTE_MS) == [], "readings of these minutes are there"
    assert watch.house.on == set()


def test_an_incubator_with_eggs_that_was_never_heard_is_told_once_somebody_has_listened(house: Powered) -> None:
    house.eggs("south")
    speak(house, (AIR, BOX, ROOM), START_MS, CUT_MS)
    watch = Watch(house)
    assert watch.until(START_MS + 5 * SECOND_MS + 3 * MINUTE_MS - 1) == []
    assert watch.until(START_MS + 5 * SECOND_MS + 3 * MINUTE_MS) == [(LAST, "south")]
    assert watch.get(LAST).reason == "its only thermometer is silent; nothing was heard of it lately"
