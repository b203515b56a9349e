"""The page behind the link of a message, over a real journal: who may press what, and what a press does.

X-28 of the checks in tests/alarms/README.md.
"""

import logging
import re

import pytest

from daemon.alarm_desk_values import Seen
from daemon.alarms.delivery import MessageKind
from daemon.storage import alarm_links
from dashboards.unknown_links import FREE_ATTEMPTS
from tests.dashboards.asking import ask
from tests.support.called import FORM, HIGH, LETHAL, PUBLIC_URL, CalledHouse, action_of
from tests.support.household import MINUTE_MS
from tests.support.secrets import assert_no_secret

HERE = {"Host": "127.0.0.1:8330", "Sec-Fetch-Site": "same-origin"}


def test_calls_and_reminders_have_a_link_of_their_own_and_nothing_else_has_one(drifted: CalledHouse) -> None:
    drifted.minutes(30, 31.0)
    drifted.press(drifted.link("ben"))
    drifted.minutes(40, 28.0)
    with_link = [each for each in drifted.messages() if each.acknowledge_url]
    assert {each.kind for each in with_link} == {MessageKind.ALARM, MessageKind.REMINDER}
    assert all(each.body.splitlines()[-1] == each.acknowledge_url for each in with_link)
    assert len({each.acknowledge_url for each in with_link}) == len(with_link) >= 3
    without = [each for each in drifted.messages() if not each.acknowledge_url]
    assert {each.headline.split()[0] for each in without} == {"ACKNOWLEDGED", "CLEARED"}
    assert not any(PUBLIC_URL in each.body for each in without)


def test_looking_changes_nothing(drifted: CalledHouse) -> None:
    link, before = drifted.link(), drifted.everything()
    page = drifted.look(link)
    assert page.status_code == 200
    assert "URGENT North cabinet, upper shelf: 31.0 °C, too warm" in page.text
    assert "Do you see to it, Ana?" in page.text
    assert "Unacknowledged." in page.text
    assert re.search(r"Since \d\d:\d\d \(\d+", page.text)
    assert action_of(page.text) == link
    assert "<script" not in page.text
    for method in ("HEAD", "GET", "OPTIONS", "PUT", "DELETE"):
        ask(drifted.app, link, method, headers={"Purpose": "prefetch"})
    assert drifted.everything() == before


def test_a_press_acknowledges_as_the_person_of_the_link_and_stops_the_calls(drifted: CalledHouse) -> None:
    answer = drifted.press(drifted.link("ana"), note="  door was\n open ")
    assert answer.status_code == 200
    assert "Noted, Ana: you see to it" in answer.text
    assert "Acknowledged by Ana." in answer.text
    assert action_of(answer.text) == ""
    assert drifted.shown(HIGH) == "acknowledged"
    [record] = drifted.records("acknowledge")
    assert (record.who, record.accepted) == ("ana", True)
    assert record.reason.endswith("note: door was open")
    before = len(drifted.messages())
    drifted.minutes(60, 31.0)
    assert len(drifted.messages()) == before


def test_pressing_twice_says_so_and_who_it_was(drifted: CalledHouse) -> None:
    drifted.minutes(15, 31.0)
    first, second = drifted.link("ana"), drifted.link("ben")
    drifted.press(second)
    for link in (first, second):
        answer = drifted.press(link)
        assert "Ben has acknowledged it already." in answer.text
        assert action_of(answer.text) == ""
    assert [each.accepted for each in drifted.records("acknowledge")] == [True, False, False]


def test_a_note_to_what_another_has_acknowledged_is_kept_and_takes_nothing_over(drifted: CalledHouse) -> None:
    drifted.minutes(15, 31.0)
    drifted.press(drifted.link("ana"))
    answer = drifted.press(drifted.link("ben"), note="I am on my way too")
    assert "<h1>Noted, Ben</h1>" in answer.text
    assert "The note is kept with it; it is acknowledged by Ana." in answer.text
    assert "you see to it" not in answer.text
    assert drifted.records("acknowledge")[-1].reason == "note: I am on my way too"


def test_an_old_version_is_refused_shown_as_it_is_now_and_can_be_answered_then(drifted: CalledHouse) -> None:
    old = drifted.link()
    drifted.press(old)
    drifted.minutes(125, 31.5)
    assert drifted.shown(HIGH) == "unacknowledged"
    assert "Things have changed since the message that you opened." in drifted.look(old).text
    refused = drifted.press(old)
    assert "Not noted: read this first" in refused.text
    assert "That was an older call; the alarm is unacknowledged now." in refused.text
    assert drifted.shown(HIGH) == "unacknowledged"
    newer = action_of(refused.text)
    assert newer != old
    assert "Noted, Ana: you see to it" in drifted.press(newer).text
    assert drifted.shown(HIGH) == "acknowledged"


def test_what_came_up_after_the_message_is_not_acknowledged_with_it(drifted: CalledHouse) -> None:
    old = drifted.link()
    drifted.minutes(12, 35.5)
    answer = drifted.press(old)
    assert drifted.shown(LETHAL) == "unacknowledged"
    assert not [each for each in drifted.records("acknowledge") if each.alarm_key == LETHAL]
    assert "CRITICAL North cabinet" in drifted.look(drifted.link()).text
    assert answer.status_code == 200


def test_a_critical_alarm_that_is_back_in_range_is_closed_only_by_latch_rules_and_over_is_over(
    drifted: CalledHouse,
) -> None:
    old = drifted.link()
    drifted.minutes(40, 28.0)
    assert drifted.shown(HIGH) == "returned to normal unacknowledged"
    page = drifted.look(old).text
    assert "CLEARED North cabinet, upper shelf: 28.0 °C, was too warm" in page
    assert "Returned to normal unacknowledged." in page
    assert "I cannot go" not in page
    assert "Noted, Ana: you see to it" in drifted.press(old).text
    assert drifted.shown(HIGH) == "normal"
    again = drifted.press(old)
    assert "It is over; nothing is left to acknowledge." in again.text
    assert "North cabinet, upper shelf: was too warm" in again.text


def test_whoever_cannot_go_is_written_down_and_the_next_is_called_at_once(drifted: CalledHouse) -> None:
    before = len(drifted.messages("ben"))
    answer = drifted.press(drifted.link("ana"), answer="cannot")
    assert "Noted, Ana: you cannot go" in answer.text
    assert len(drifted.messages("ben")) == before + 1
    assert drifted.shown(HIGH) == "unacknowledged"
    [record] = drifted.records("cannot go")
    assert (record.who, record.alarm_key, record.accepted) == ("ana", HIGH, True)
    known = drifted.press(drifted.link("ana"), answer="cannot")
    assert "Nobody is being called for this any more, or it is known already." in known.text
    assert len(drifted.messages("ben")) == before + 1
    assert "Noted, Ana: you see to it" in drifted.press(drifted.link("ana")).text


def test_links_that_are_good_for_nothing_get_one_answer_and_no_hint(drifted: CalledHouse) -> None:
    link = drifted.link()
    gone, row = alarm_links.new_link("carl", [Seen(HIGH, "x", 1)], drifted.now_ms)
    drifted.journal.write(lambda conn: alarm_links.store(conn, [row]))
    unknown = [drifted.look(path) for path in ("/a/", "/a/x/y", f"{link}x", f"/a/{gone}")]
    drifted.now_ms += 7 * 24 * 60 * MINUTE_MS
    before, drifted.app = drifted.everything(), drifted.pages()
    expired = [drifted.look(link), drifted.press(link)]
    answers = {(each.status_code, each.text) for each in (*unknown, *expired)}
    assert len(answers) == 1
    assert answers.pop()[0] == 404
    assert drifted.everything() == before


def test_many_unknown_links_have_to_wait_and_a_good_one_never_has(drifted: CalledHouse) -> None:
    codes = [drifted.look(f"/a/guess{number}").status_code for number in range(FREE_ATTEMPTS + 3)]
    assert codes[:FREE_ATTEMPTS] == [404] * FREE_ATTEMPTS
    assert codes[-1] == 429
    assert int(drifted.look("/a/guess").headers["Retry-After"]) >= 1
    assert drifted.look(drifted.link()).status_code == 200
    assert drifted.press(drifted.link()).status_code == 200


@pytest.mark.parametrize(
    ("headers", "done"),
    [
        ({"Sec-Fetch-Site": "same-origin", "Origin": "null"}, True),
        ({"Sec-Fetch-Site": "cross-site"}, False),
        ({"Sec-Fetch-Site": "same-site", "Origin": PUBLIC_URL}, False),
        ({"Origin": "http://pages"}, True),
        ({"Origin": PUBLIC_URL}, True),
        ({"Origin": "null"}, True),
        ({"Origin": "https://evil.example"}, False),
        ({"Origin": "https://[broken"}, False),
        ({}, True),
    ],
)
def test_a_form_of_another_site_does_nothing(drifted: CalledHouse, headers: dict[str, str], done: bool) -> None:
    answer = drifted.send(drifted.link(), {"answer": "acknowledge"}, headers)
    assert answer.status_code == (200 if done else 403)
    assert drifted.shown(HIGH) == ("acknowledged" if done else "unacknowledged")


def test_what_is_no_form_of_ours_does_nothing(drifted: CalledHouse) -> None:
    link, before = drifted.link(), drifted.everything()
    form = {"Content-Type": FORM}
    assert ask(drifted.app, link, "POST", b"{}", {"Content-Type": "application/json"}).status_code == 415
    assert ask(drifted.app, link, "POST", b"note=" + b"x" * 70_000, form).status_code == 413
    assert ask(drifted.app, link, "POST", b"a=1&" * 50, form).status_code == 400
    assert drifted.everything() == before


def test_nothing_is_kept_by_a_browser_or_told_to_another_site(drifted: CalledHouse) -> None:
    for page in (drifted.look(drifted.link()), drifted.look("/a/x"), drifted.press(drifted.link())):
        assert page.headers["Cache-Control"] == "no-store"
        assert page.headers["Referrer-Policy"] == "no-referrer"
        assert "frame-ancestors 'none'" in page.headers["Content-Security-Policy"]


def test_a_note_with_markup_is_text_and_a_long_one_is_cut(drifted: CalledHouse) -> None:
    answer = drifted.press(drifted.link(), note="<script>alert(1)</script>" + "x" * 5000)
    assert "<script" not in answer.text
    [record] = drifted.records("acknowledge")
    assert len(record.reason) < 600


def test_tokens_are_on_no_other_page_and_in_no_log(drifted: CalledHouse, caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.DEBUG)
    token = drifted.link().removeprefix("/a/")
    drifted.press(f"/a/{token}")
    drifted.journal.close()
    assert drifted.look(f"/a/{token}").status_code == 503
    texts = [ask(drifted.app, path).text for path in ("/", "/health", "/api/overview")]
    # The library that asks in this test writes down what it asks for.
    logged = [record.getMessage() for record in caplog.records if record.name != "httpx"]
    assert any("Nobody can acknowledge just now" in each for each in logged)
    assert_no_secret([*texts, *logged], [token])
