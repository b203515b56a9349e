"""What the watch over all channels adds to the single conditions: causes, empty places, clocks, whole probes."""

from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

import pytest

from config.check import check_site
from config.places import Places
from config.site import Site
from config.species import SpeciesProfile
from daemon.alarm_transition import Transition
from daemon.alarm_watch import AlarmWatch
from daemon.clutches.register import Clutch, Placement
from daemon.occupancy import Occupancy
from daemon.storage.samples import StoredReading
from sensors.decoder import Decoder
from sensors.reading import Accepted, Quality
from tests.support.household import DAY_MS, MINUTE_MS, pack, write_site

START_MS = 1_780_000_000_000
AIR, RH = "north-air/air", "north-air/rh"
BOX = """
[[probe]]
id = "box"
place = "north/upper/N1"
[[probe.channel]]
name = "rh"
quantity = "relative_humidity"
"""


class Watched:
    """A watch over the test household, fed by minutes after the start."""

    def __init__(self, folder: Path) -> None:
        checked = check_site(write_site(folder, 1883, extra=BOX))
        assert checked.site is not None
        self.site: Site = checked.site
        self.profiles: dict[str, SpeciesProfile] = dict(checked.profiles)
        self.places = Places(self.site)
        self.watch = AlarmWatch(self.site, self.places, Decoder(self.site).channels, START_MS)
        self.clutch = Clutch(
            1, "Juniper", "elaphe-taeniura", None, 0, 0, 8, "", None, (Placement("north/upper/N1", START_MS - DAY_MS),)
        )
        self.occupancy = Occupancy([self.clutch], self.places, self.profiles)
        self.seq = 0

    def close(self, minute: float) -> None:
        closed = replace(self.clutch, closed_at_ms=START_MS + round(minute * MINUTE_MS))
        self.occupancy = Occupancy([closed], self.places, self.profiles)
        self.watch.look_at_all()

    def say(
        self, minute: float, value: float, channel: str = AIR, quality: int = 0, *, received: float | None = None
    ) -> list[Transition]:
        self.seq += 1
        at_ms = START_MS + round(minute * MINUTE_MS)
        received_ms = at_ms if received is None else START_MS + round(received * MINUTE_MS)
        row = StoredReading(self.seq, channel, at_ms, received_ms, value, quality)
        return [*self.watch.reading(row, self.occupancy), *self.watch.settle()]

    def say_both(self, minutes: Iterable[int]) -> list[Transition]:
        return [
            change
            for minute in minutes
            for value, channel in ((28.5, AIR), (70.0, RH))
            for change in self.say(minute, value, channel)
        ]

    def time(self, minute: float) -> list[Transition]:
        return self.watch.time_passed(START_MS + round(minute * MINUTE_MS), self.occupancy)


@pytest.fixture
def watched(tmp_path: Path) -> Watched:
    return Watched(tmp_path)


def told(transitions: list[Transition], *channels: str) -> list[str]:
    """What people are told of these channels; of air where none is named."""
    return [
        f"{one.kind} {one.channel.channel} {one.change}"
        for one in transitions
        if one.told and one.channel.channel in (channels or (AIR,))
    ]


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


def test_a_warning_below_a_lethal_alarm_is_not_told_and_its_end_is_when_it_outlasts_it(watched: Watched) -> None:
    found = [change for minute in range(10) for change in watched.say(minute, 36.0)]
    assert told(found) == ["temperature-lethal-high north-air/air raised"]
    found = [change for minute in range(10, 30) for change in watched.say(minute, 32.0)]
    assert told(found) == ["temperature-lethal-high north-air/air cleared"]
    assert [kind.value for change in found if change.told for kind in change.still] == ["temperature-high"]
    found = [change for minute in range(30, 50) for change in watched.say(minute, 28.5)]
    assert told(found) == ["temperature-high north-air/air cleared"]


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
