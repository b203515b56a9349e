"""The button of the first page, for the machine itself, and how alarms stand there."""

import re

import pytest

from daemon.alarms.events import Shelve
from tests.dashboards.asking import ask
from tests.support.called import HIGH, CalledHouse
from tests.support.household import MINUTE_MS

HERE = {"Host": "127.0.0.1:8330", "Sec-Fetch-Site": "same-origin"}


def test_the_first_page_has_a_button_on_this_machine_and_says_how_people_stand_to_an_alarm(
    drifted: CalledHouse,
) -> None:
    page = ask(drifted.app, "/").text
    assert "Unacknowledged." in page
    fields = dict(re.findall(r'<input type="hidden" name="(\w+)" value="([^"]*)">', page))
    assert fields["key"] == HIGH
    assert "<form" not in ask(drifted.pages(here=False), "/").text
    assert drifted.send("/alarms/acknowledge", fields, HERE, drifted.pages(here=False)).status_code == 404
    answer = drifted.send("/alarms/acknowledge", fields, HERE)
    assert (answer.status_code, answer.headers["Location"]) == (303, "/")
    [record] = drifted.records("acknowledge")
    assert (record.who, record.accepted) == ("page", True)
    after = ask(drifted.app, "/").text
    assert "Acknowledged by somebody at the page." in after
    assert "<form" not in after
    told = [each.headline for each in drifted.messages()][-1]
    assert told.startswith("ACKNOWLEDGED")
    assert "Somebody at the page has acknowledged it" in drifted.messages()[-1].body
    again = drifted.send("/alarms/acknowledge", fields, HERE)
    assert "Somebody at the page has acknowledged it already." in again.text


@pytest.mark.parametrize(
    "headers",
    [
        {"Host": "evil.example:8330", "Sec-Fetch-Site": "same-origin"},
        {"Host": "127.0.0.1:8330", "Sec-Fetch-Site": "cross-site"},
        {"Host": "127.0.0.1:8330", "Origin": "null"},
        {"Host": "127.0.0.1:8330"},
        {"Host": "127.0.0.1:8330", "Sec-Fetch-Site": "same-origin", "X-Forwarded-For": "192.0.2.7"},
        {"Host": "127.0.0.1:8330", "Origin": "http://127.0.0.1:9999"},
    ],
)
def test_the_button_of_the_first_page_works_from_our_own_page_on_this_machine_alone(
    drifted: CalledHouse, headers: dict[str, str]
) -> None:
    fields = first_alarm(drifted)
    assert drifted.send("/alarms/acknowledge", fields, headers).status_code == 403
    assert drifted.shown(HIGH) == "unacknowledged"


def test_an_old_button_of_the_first_page_is_refused_with_the_newer_state(drifted: CalledHouse) -> None:
    fields = first_alarm(drifted)
    answer = drifted.send("/alarms/acknowledge", {**fields, "version": "7"}, HERE)
    assert "That was an older call" in answer.text
    newer = dict(re.findall(r'<input type="hidden" name="(\w+)" value="([^"]*)">', answer.text))
    assert newer == fields
    assert drifted.send("/alarms/acknowledge", newer, HERE).status_code == 303
    nonsense = {"key": "<b>x", "occurrence": "", "version": "-1"}
    assert drifted.send("/alarms/acknowledge", nonsense, HERE).status_code == 200


def test_what_is_back_in_range_or_silenced_stays_on_the_first_page(drifted: CalledHouse) -> None:
    until_ms = drifted.now_ms + 60 * MINUTE_MS
    drifted.journal.write(
        lambda conn: drifted.work.do(conn, {HIGH: Shelve("ben", "new thermostat", until_ms)}, drifted.now_ms)
    )
    assert "Shelved until " in ask(drifted.app, "/").text
    drifted.minutes(90, 28.0)
    page = ask(drifted.app, "/").text
    assert "Returned to normal unacknowledged." in page
    assert "was too warm" in page
    assert [each.is_on for each in drifted.overview().incubators[0].alarms] == [False]


def first_alarm(house: CalledHouse) -> dict[str, str]:
    [alarm] = house.overview().incubators[0].alarms
    return {"key": alarm.key, "occurrence": alarm.occurrence, "version": str(alarm.version)}
