"""The button of the first page, for the machine itself, and how alarms stand there."""

import re

import pytest

from daemon.access.values import Role
from daemon.alarms.events import Shelve
from tests.dashboards.asking import ask
from tests.support.called import HIGH, CalledHouse
from tests.support.doors import GUARD, as_in_the_demo, open_to
from tests.support.household import MINUTE_MS

HERE = {"Host": "127.0.0.1:8330", "Sec-Fetch-Site": "same-origin"}
FIELD = re.compile(r'<input type="hidden" name="(\w+)" value="([^"]*)">')


def test_the_first_page_has_a_button_on_this_machine_and_says_how_people_stand_to_an_alarm(
    drifted: CalledHouse,
) -> None:
    page = ask(drifted.app, "/").text
    assert "Unacknowledged." in page
    fields = dict(FIELD.findall(page))
    assert fields["key"] == HIGH
    for_reading = drifted.pages(open_to(Role.VIEWER, "vera"))
    assert "<form" not in ask(for_reading, "/").text
    assert drifted.send("/alarms/acknowledge", fields, HERE, for_reading).status_code == 403
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
    ("headers", "guard", "status"),
    [
        ({"Host": "evil.example:8330", "Sec-Fetch-Site": "same-origin"}, GUARD, 421),
        ({"Host": "192.0.2.7:8330", "Sec-Fetch-Site": "same-origin"}, GUARD, 421),
        ({"Host": "127.0.0.1:8330", "Sec-Fetch-Site": "cross-site"}, GUARD, 403),
        ({"Host": "127.0.0.1:8330", "Origin": "http://127.0.0.1:9999"}, GUARD, 403),
        ({"Host": "127.0.0.1:8330", "Origin": "null"}, "", 403),
        ({"Host": "127.0.0.1:8330"}, "another", 403),
        ({"Host": "127.0.0.1:8330", "Sec-Fetch-Site": "same-origin"}, "", 403),
        # Somebody who comes through a proxy is not on this machine, and has to sign in.
        ({"Host": "127.0.0.1:8330", "Sec-Fetch-Site": "same-origin", "X-Forwarded-For": "192.0.2.7"}, GUARD, 403),
    ],
)
def test_in_the_demo_the_button_works_from_our_own_page_on_this_machine_alone(
    drifted: CalledHouse, headers: dict[str, str], guard: str, status: int
) -> None:
    demo, fields = drifted.pages(as_in_the_demo()), first_alarm(drifted)
    answer = drifted.send("/alarms/acknowledge", {**fields, "guard": guard}, headers, demo)
    assert answer.status_code == status
    assert ("Sign in" in answer.text) == ("X-Forwarded-For" in headers)
    assert drifted.shown(HIGH) == "unacknowledged"
    page = ask(demo, "/", headers={"Host": "127.0.0.1:8330"}).text
    assert dict(FIELD.findall(page)) == {**fields, "guard": GUARD}
    assert drifted.send("/alarms/acknowledge", {**fields, "guard": GUARD}, HERE, demo).status_code == 303
    assert drifted.shown(HIGH) == "acknowledged"


def test_whoever_has_signed_in_acknowledges_by_their_own_name(drifted: CalledHouse) -> None:
    app = drifted.pages(open_to(Role.RESPONDER, "ben"))
    assert drifted.send("/alarms/acknowledge", first_alarm(drifted), HERE, app).status_code == 303
    assert drifted.records("acknowledge")[-1].who == "ben"
    assert "Acknowledged by Ben." in ask(app, "/").text


def test_an_old_button_of_the_first_page_is_refused_with_the_newer_state(drifted: CalledHouse) -> None:
    fields = first_alarm(drifted)
    answer = drifted.send("/alarms/acknowledge", {**fields, "version": "7"}, HERE)
    assert "That was an older call" in answer.text
    newer = dict(FIELD.findall(answer.text))
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
