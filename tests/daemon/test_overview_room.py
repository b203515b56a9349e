"""The room around the incubators, from its probe to the overview, and what it does to the water on a lid."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from config.words import AlarmKind, Priority
from daemon.alarms.definitions import DEFINITIONS
from daemon.alarms.room_probe import of_room
from daemon.overview import ClimateNow, IncubatorNow
from tests.daemon.cooled import ROOM_PROBE
from tests.daemon.kept import AIR, HOUR_MS, SOUTH, START_MS, Kept, at
from tests.support.household import DAY_MS, MINUTE_MS, a_clutch, write_site
from tests.support.journals import new_journal

SHELF = "north/upper"
ROOM, HUMIDITY = "room-air/t", "north-air/rh"


@pytest.fixture
def housed(tmp_path: Path) -> Iterator[Kept]:
    """The small site with a probe in its room. Its north cabinet states 20 °C of the room and a factor of 0.9."""
    folder = write_site(tmp_path / "site", 1883, "http://127.0.0.1:9/phone", SOUTH + ROOM_PROBE)
    with new_journal(tmp_path / "journal.sqlite3") as journal:
        yield Kept(journal, folder)


def room(kept: Kept, now_ms: int) -> IncubatorNow:
    found = kept.overview(now_ms).room
    assert found is not None
    return found


def shelf(kept: Kept, now_ms: int) -> ClimateNow:
    return kept.climates(now_ms)[SHELF]


def test_the_room_has_its_reading_and_neither_limits_nor_clutches(housed: Kept) -> None:
    housed.enter(a_clutch(START_MS))
    housed.put(at(START_MS, {ROOM: 18.5, AIR: 28.0}))
    here = room(housed, START_MS + MINUTE_MS)
    [channel] = here.channels
    assert (channel.channel, channel.place, channel.value) == (ROOM, "room", 18.5)
    assert (channel.measured_at_ms, channel.old_after_ms) == (START_MS, 3 * MINUTE_MS)
    assert {channel.low, channel.high, channel.lethal_low, channel.lethal_high} == {None}
    assert (here.name, here.clutches, here.climates, here.alarms) == ("Room", (), (), ())
    assert ROOM not in housed.channels(START_MS)


def test_a_site_without_a_probe_in_the_room_has_none(kept: Kept) -> None:
    overview = kept.overview(START_MS)
    assert overview.room is None
    assert overview.watched == overview.incubators


def test_a_room_that_fell_silent_has_its_alarm_in_the_words_for_a_room(housed: Kept) -> None:
    housed.enter(a_clutch(START_MS))
    for minute in range(10):
        housed.put(at(START_MS + minute * MINUTE_MS, {ROOM: 18.5, AIR: 28.0}))
    housed.evaluate(START_MS + 9 * MINUTE_MS)
    assert room(housed, START_MS + 9 * MINUTE_MS).alarms == ()
    now_ms = START_MS + 40 * MINUTE_MS
    housed.evaluate(now_ms)
    [alarm] = room(housed, now_ms).alarms
    assert (alarm.kind, alarm.priority, alarm.place) == (AlarmKind.NO_DATA, Priority.LOW, "room")
    assert alarm.body == of_room(DEFINITIONS[AlarmKind.NO_DATA]).first_action
    assert "too hot or too cold" not in alarm.background


def test_a_lid_stands_between_the_box_and_the_measured_room(housed: Kept) -> None:
    """ISO 13788 by hand: 10 + 0.9 (30 - 10) = 28 °C; the dew point is 27.1986 °C (CoolProp, IAPWS-95; 30 °C, 85 %).

    u² = (0.9 - 0.9791)² 0.5²/3 + (0.2007 * 3)²/3 + 0.1² 0.5²/3 + 20² 0.05²/3 (slopes of dewpoint-uncertainty-check.csv,
    usual accuracies ±0.5 K and ±3 %, factor ±0.05, rectangles), so u = 0.675 K; 0.8014 K is 1.187 u: 11.8 % below.
    """
    housed.put(at(START_MS, {AIR: 30.0, HUMIDITY: 85.0, ROOM: 10.0}))
    found = shelf(housed, START_MS + MINUTE_MS)
    assert found.surface_temperature_c == pytest.approx(28.0)
    assert found.margin_k == pytest.approx(28.0 - 27.1986, abs=0.002)
    assert found.condensation_probability == pytest.approx(0.118, abs=0.003)
    assert "The room around it is measured." in found.reason


@pytest.mark.parametrize("late_ms", [30 * MINUTE_MS, 30 * MINUTE_MS + 1])
def test_a_room_that_has_not_spoken_for_half_an_hour_is_as_it_is_stated(housed: Kept, late_ms: int) -> None:
    """Stated are 20 °C: 20 + 0.9 (30 - 20) = 29 °C."""
    housed.put(at(START_MS, {ROOM: 10.0}))
    housed.put(at(START_MS + late_ms, {AIR: 30.0, HUMIDITY: 85.0}))
    found = shelf(housed, START_MS + late_ms)
    is_old = late_ms > 30 * MINUTE_MS
    assert found.surface_temperature_c == pytest.approx(29.0 if is_old else 28.0)
    assert f"The room around it is {'stated' if is_old else 'measured'}." in found.reason


def test_hours_with_water_follow_the_room_as_it_was(housed: Kept) -> None:
    """A day at 30 °C and 85 % with a room of 20 °C, and of 0 °C for 6 h.

    At 20 °C the lid has 29 °C: 1.80 K, u = 0.453 K, no chance. At 0 °C it has 27 °C: -0.199 K with
    u² = 0.1222 + 30² 0.05²/3, so u = 0.934 K and a chance of 58.4 %: 3.5 h of the 6. At the stated 20 °C: none.
    """
    now_ms = START_MS + DAY_MS
    for moment_ms in range(START_MS, now_ms + 1, 5 * MINUTE_MS):
        cold = START_MS + 6 * HOUR_MS <= moment_ms < START_MS + 12 * HOUR_MS
        housed.put(at(moment_ms, {AIR: 30.0, HUMIDITY: 85.0, ROOM: 0.0 if cold else 20.0}))
    hours = shelf(housed, now_ms).condensation_hours_24h
    assert hours == pytest.approx(3.5, abs=0.15)


def test_without_a_measured_room_the_same_day_is_dry(housed: Kept) -> None:
    now_ms = START_MS + DAY_MS
    for moment_ms in range(START_MS, now_ms + 1, 5 * MINUTE_MS):
        housed.put(at(moment_ms, {AIR: 30.0, HUMIDITY: 85.0}))
    hours = shelf(housed, now_ms).condensation_hours_24h
    assert hours is not None
    assert hours < 0.5
