"""The air around the incubators on the page."""

import re
from dataclasses import replace

from config.words import AlarmKind, Priority
from daemon.overview import IncubatorNow, Overview
from dashboards.standing import Tone
from dashboards.view import page_view
from tests.dashboards import samples
from tests.dashboards.asking import ask, pages

NBSP = "\N{NO-BREAK SPACE}"


def with_room(room: IncubatorNow) -> Overview:
    return replace(samples.overview(), room=room)


def silent() -> IncubatorNow:
    told = samples.alarm(AlarmKind.NO_DATA, Priority.LOW, "No readings", channel="room-air/t")
    return samples.room(age_ms=samples.DAY_MS, alarms=(replace(told, place="room"),))


def test_the_room_is_shown_with_its_age_and_without_limits() -> None:
    page = page_view(with_room(samples.room()))
    assert page.room is not None
    [reading] = page.room.readings
    assert (reading.value, reading.age.replace(NBSP, " "), reading.band) == (("19.4", "°C"), "20 s ago", None)
    assert (page.room.mark, reading.mark.word) == (None, "measured, no limits here")
    assert page.banner.heading == "All incubators are in range"


def test_a_site_without_a_probe_in_the_room_has_no_room_on_its_page() -> None:
    app = pages(samples.overview())
    assert "place-room" not in ask(app, "/").text
    assert ask(app, "/api/overview").json()["room"] is None


def test_an_alarm_of_the_room_is_in_the_banner_like_any_other_and_leads_to_the_room() -> None:
    page = page_view(with_room(silent()))
    assert page.banner.heading == "Room: no readings"
    assert page.banner.mark.tone is Tone.LOW
    assert page.first_alarm is not None
    assert page.first_alarm.measured.startswith("Room: 19.4")
    assert page.room is not None
    assert page.room.mark is not None
    assert page.room.mark.word == "CHECK alarm"
    text = ask(pages(with_room(silent())), "/").text
    target = re.search(r'<a id="to-place" href="#([^"]+)">Room: no readings</a>', text)
    assert target is not None
    assert f'id="{target[1]}"' in text


def test_an_alarm_of_the_room_comes_after_a_more_urgent_one() -> None:
    hot = samples.alarm()
    page = page_view(replace(samples.overview(samples.incubator(alarms=(hot,))), room=silent()))
    assert page.banner.heading == "North cabinet: too warm"
    assert [alarm.headline for alarm in page.other_alarms] == ["Room: no readings"]


def test_an_old_reading_of_the_room_is_told_before_it_is_an_alarm() -> None:
    old = samples.room(age_ms=samples.OLD_AFTER_MS + 1)
    page = page_view(with_room(old))
    assert page.banner.heading == "Room: with an old reading"
    assert page.room is not None
    assert page.room.readings[0].mark.word == "old reading"


def test_a_room_that_speaks_does_not_make_a_silent_incubator_healthy() -> None:
    quiet = samples.incubator(samples.temperature(age_ms=samples.DAY_MS))
    assert ask(pages(replace(samples.overview(quiet), room=samples.room())), "/health").status_code == 503


def test_the_api_has_the_room_with_its_alarms() -> None:
    room = ask(pages(with_room(silent())), "/api/overview").json()["room"]
    [channel], [alarm] = room["channels"], room["alarms"]
    assert (channel["place"], channel["temperature_c"], channel["low_c"]) == ("room", 19.4, None)
    assert (alarm["kind"], alarm["place"]) == ("no-data", "room")
