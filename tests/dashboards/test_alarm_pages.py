"""The pages of alarms on a real journal: what they show, and what their forms do."""

import re
from html import unescape

import httpx
import pytest

from daemon.access.values import Role
from daemon.storage import rounds
from tests.dashboards.asking import ask
from tests.support.called import HIGH, LETHAL, CalledHouse
from tests.support.doors import open_to
from tests.support.household import MINUTE_MS

HERE = {"Host": "127.0.0.1:8330", "Sec-Fetch-Site": "same-origin"}
HOUR_MS = 60 * MINUTE_MS


def page(house: CalledHouse, path: str = "/alarms") -> str:
    """The text of a page, without markup."""
    return words(ask(house.app, path).text)


def words(html: str) -> str:
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", html)).replace("\N{NO-BREAK SPACE}", " ").split())


def hidden(house: CalledHouse, key: str = HIGH) -> dict[str, str]:
    """The fields that a form of the alarm's page carries."""
    found = ask(house.app, f"/alarms/of/{key}").text
    return dict(re.findall(r'<input type="hidden" name="(\w+)" value="([^"]*)">', found))


def send(house: CalledHouse, wanted: str, key: str = HIGH, **fields: str) -> httpx.Response:
    return house.send(f"/alarms/of/{key}", {**hidden(house, key), "wanted": wanted, **fields}, HERE)


def acknowledged(house: CalledHouse, key: str = HIGH) -> None:
    assert send(house, "acknowledge", key, note="seen", who="ana").status_code == 303


def test_an_alarm_stands_under_its_state_with_all_that_a_person_needs(drifted: CalledHouse) -> None:
    text = page(drifted)
    assert "1 alarm waits for somebody" in text
    assert "Unacknowledged (1)" in text
    assert "North cabinet, upper shelf: too warm" in text
    assert re.search(r"Unacknowledged\. On since \d\d:\d\d \(\d+ min ago\)\.", text)
    assert "Newest 31.0 °C, limit 30.0 °C." in text
    assert re.search(r"Called: Ana \d\d:\d\d", text)
    assert "Open the door" in text or "thermostat" in text


def test_a_button_of_the_list_acknowledges_and_leads_back_to_it(drifted: CalledHouse) -> None:
    fields = {**hidden(drifted), "wanted": "acknowledge", "back": "all"}
    answer = drifted.send(f"/alarms/of/{HIGH}", fields, HERE)
    assert (answer.status_code, answer.headers["Location"]) == (303, "/alarms")
    text = page(drifted)
    assert "Acknowledged (1)" in text
    assert re.search(r"Acknowledged by somebody at the page at \d\d:\d\d\.", text)
    # It is still too warm: the head of the page has the word of that alarm, and not that of nothing.
    assert "No alarm waits for anybody; 1 is still on URGENT alarm" in text


def test_who_acknowledged_and_the_note_are_kept(drifted: CalledHouse) -> None:
    answer = send(drifted, "acknowledge", note="  door was\n open ", who="ana")
    assert (answer.status_code, answer.headers["Location"]) == (303, f"/alarms/of/{HIGH}")
    [record] = drifted.records("acknowledge")
    assert (record.who, record.accepted) == ("ana", True)
    assert "door was open" in record.reason
    text = page(drifted, f"/alarms/of/{HIGH}")
    assert "Acknowledged by Ana at" in text
    assert "door was open" in text


def test_a_shelf_without_a_reason_is_refused_beside_the_field_and_keeps_what_was_typed(drifted: CalledHouse) -> None:
    answer = send(drifted, "shelve", why=" ", long="120", second="<b>Ben</b> agrees", once="yes")
    assert answer.status_code == 422
    [error] = re.findall(r'<p class="error" id="shelve-why-error">.*?</p>', answer.text)
    assert "Say why nobody is to be told" in error
    assert re.search(r'id="shelve-why"[^>]*aria-invalid="true"[^>]*aria-describedby="shelve-why-error"', answer.text)
    assert '<option value="120" selected>' in answer.text
    assert 'value="&lt;b&gt;Ben&lt;/b&gt; agrees"' in answer.text
    assert re.search(r'id="shelve-once"[^>]* checked', answer.text)
    assert '<details class="act" id="act-shelve" open>' in answer.text
    assert drifted.shown(HIGH) == "unacknowledged"
    assert drifted.records("shelve") == []


# Longest shelf of priority 2: 4 h (project choice, daemon/alarms/classes).
@pytest.mark.parametrize("long", ["241", "1440", "0", "-5", "", "1h", "9" * 400, "²"])
def test_a_shelf_longer_than_the_longest_of_its_priority_is_refused(drifted: CalledHouse, long: str) -> None:
    answer = send(drifted, "shelve", why="new lid", long=long)
    assert answer.status_code == 422
    assert "at this priority the longest is 4 h" in answer.text
    assert drifted.shown(HIGH) == "unacknowledged"


def test_only_lengths_up_to_the_longest_are_offered(drifted: CalledHouse) -> None:
    select = re.findall(
        r'<select id="shelve-long".*?</select>', ask(drifted.app, f"/alarms/of/{HIGH}").text, re.DOTALL
    )[0]
    assert re.findall(r'value="(\d+)"', select) == ["20", "60", "120", "240"]


def test_a_shelf_counts_down_on_both_pages_until_somebody_ends_it(drifted: CalledHouse) -> None:
    assert send(drifted, "shelve", why="new thermostat", long="60", who="ben").status_code == 303
    drifted.minutes(12, 31.0)
    assert "Shelved (1)" in page(drifted)
    assert re.search(r"Shelved by Ben until \d\d:\d\d \(48 min left\): new thermostat\.", page(drifted))
    first = page(drifted, "/")
    assert "Not told at present" in first
    assert re.search(r"Shelved by Ben until \d\d:\d\d \(48 min left\)\. new thermostat\.", first)
    before = len(drifted.messages())
    assert send(drifted, "unshelve").status_code == 303
    assert drifted.shown(HIGH) == "unacknowledged"
    assert len(drifted.messages()) > before
    assert "Not told at present" not in page(drifted, "/")


def test_a_form_of_an_older_page_is_refused_and_shows_the_newer_state_with_what_was_typed(
    drifted: CalledHouse,
) -> None:
    older = hidden(drifted)
    acknowledged(drifted)
    asked = {**older, "wanted": "shelve", "why": "typed long ago", "long": "60"}
    answer = drifted.send(f"/alarms/of/{HIGH}", asked, HERE)
    assert answer.status_code == 409
    assert "Nothing was done: it has changed since this page was made" in answer.text
    assert "Acknowledged by Ana" in answer.text
    assert 'value="typed long ago"' in answer.text
    assert drifted.shown(HIGH) == "acknowledged"
    newer = dict(re.findall(r'<input type="hidden" name="(\w+)" value="([^"]*)">', answer.text))
    assert newer["mark"] != older["mark"]
    assert drifted.send(f"/alarms/of/{HIGH}", {**asked, **newer}, HERE).status_code == 303
    assert drifted.shown(HIGH) == "shelved"


def test_an_acknowledgement_of_an_older_call_is_refused(drifted: CalledHouse) -> None:
    asked = {**hidden(drifted), "wanted": "acknowledge", "version": "7", "note": "was there"}
    answer = drifted.send(f"/alarms/of/{HIGH}", asked, HERE)
    assert answer.status_code == 409
    assert "that was an older call" in answer.text
    assert 'value="was there"' in answer.text
    assert drifted.shown(HIGH) == "unacknowledged"


def test_a_lethal_limit_has_no_shelf_and_leaves_service_for_a_day_at_most(house: CalledHouse) -> None:
    house.minutes(20, 41.0)
    acknowledged(house, LETHAL)
    text = page(house, f"/alarms/of/{LETHAL}")
    assert "An alarm of the class lethal limit is never shelved." in text
    assert "act-shelve" not in ask(house.app, f"/alarms/of/{LETHAL}").text
    forged = send(house, "shelve", LETHAL, why="no", long="20", second="ben")
    assert forged.status_code == 422
    late = send(house, "out-of-service", LETHAL, why="probe broken", meanwhile="Ben looks", until="2030-01-01T10:00")
    assert late.status_code == 422
    # 24 h with eggs: project choice, daemon/alarms/classes.
    assert "The review has to lie ahead, by 1 d at most while eggs lie there." in late.text
    nothing = send(house, "out-of-service", LETHAL, why="", meanwhile="", until="soon")
    assert re.findall(r'id="out-of-service-(\w+)-error"', nothing.text) == ["why", "meanwhile", "until"]
    assert house.shown(LETHAL) == "acknowledged"


def test_out_of_service_shows_its_review_and_comes_back_with_a_test(drifted: CalledHouse) -> None:
    proposed = re.findall(r'name="until" value="([^"]+)"', ask(drifted.app, f"/alarms/of/{HIGH}").text)[0]
    answer = send(
        drifted, "out-of-service", why="probe broken", meanwhile="Ben looks every hour", until=proposed, who="ana"
    )
    assert answer.status_code == 303
    text = page(drifted)
    assert "Out of service (1)" in text
    assert re.search(r"Out of service, by Ana: probe broken\. Review .* \(2[23] h( \d+ min)? left\)\.", text)
    assert "Meanwhile: Ben looks every hour." in text
    assert "Taken out of service by Ana. Review" in page(drifted, "/")
    assert send(drifted, "in-service", tested=" ").status_code == 422
    assert drifted.shown(HIGH) == "out of service"
    assert send(drifted, "in-service", tested="warmed it in the hand").status_code == 303
    assert drifted.shown(HIGH) == "unacknowledged"


def test_what_is_latched_is_released_by_a_reset_after_the_acknowledgement(house: CalledHouse) -> None:
    house.minutes(20, 41.0)
    house.minutes(60, 28.0)
    assert "Latched (1)" in page(house)
    assert "Latched unacknowledged. Began" in page(house)
    refused = send(house, "reset", LETHAL)
    assert refused.status_code == 422
    assert "acknowledge it first" in refused.text
    no_note = send(house, "acknowledge", LETHAL, note="")
    assert "acknowledge-note-error" in no_note.text
    acknowledged(house, LETHAL)
    assert house.shown(LETHAL) == "latched acknowledged"
    answer = send(house, "reset", LETHAL, who="ana")
    assert answer.status_code == 303
    after = ask(house.app, answer.headers["Location"])
    assert after.status_code == 200
    assert "This alarm is over" in after.text
    assert "reset" in words(after.text)


def test_a_viewer_reads_who_may_answer_and_has_no_forms(drifted: CalledHouse) -> None:
    for_reading = drifted.pages(open_to(Role.VIEWER, "vera"))
    for path in ("/alarms", f"/alarms/of/{HIGH}"):
        answer = ask(for_reading, path)
        assert answer.status_code == 200
        assert "too warm" in answer.text
        assert "Alarms are answered by those who are responders or keepers here." in answer.text
        assert "<form" not in answer.text
    fields = {**hidden(drifted), "wanted": "acknowledge"}
    refused = drifted.send(f"/alarms/of/{HIGH}", fields, HERE, for_reading)
    assert refused.status_code == 403
    assert "This needs the role responder; vera is viewer" in words(refused.text)
    assert drifted.shown(HIGH) == "unacknowledged"


def test_whoever_has_signed_in_is_not_asked_who_they_are(drifted: CalledHouse) -> None:
    """A person of the site has their name there; an account that is no such person stands for itself."""
    for who, shown in (("ben", "Ben"), ("night-shift", "night-shift")):
        app = drifted.pages(open_to(Role.RESPONDER, who))
        assert "Who are you?" not in ask(app, f"/alarms/of/{HIGH}").text
        fields = {**hidden(drifted), "wanted": "acknowledge", "note": "seen", "who": "ana"}
        assert drifted.send(f"/alarms/of/{HIGH}", fields, HERE, app).status_code == 303
        assert drifted.records("acknowledge")[-1].who == who
        assert f"{shown}" in words(ask(app, f"/alarms/of/{HIGH}").text)


@pytest.mark.parametrize("wanted", ["", "delete", "Acknowledge"])
def test_a_button_that_there_is_not_does_nothing(drifted: CalledHouse, wanted: str) -> None:
    assert send(drifted, wanted).status_code == 400
    assert send(drifted, "shelve", why="x", long="20", who="nobody").status_code == 422
    assert drifted.shown(HIGH) == "unacknowledged"


def test_what_there_never_was_is_not_found_and_leads_back(drifted: CalledHouse) -> None:
    never = ("/alarms/of/humidity-low:none", "/alarms/of/<b>x", "/alarms/journal?before=x", "/alarms/metrics?days=0")
    for path in never:
        answer = ask(drifted.app, path)
        assert answer.status_code == 404
        assert 'href="/alarms' in answer.text
        assert "<b>x" not in answer.text
    fields = {"wanted": "acknowledge"}
    assert drifted.send("/alarms/of/humidity-low:none", fields, HERE).status_code == 404


def test_a_reason_with_markup_is_shown_as_text(drifted: CalledHouse) -> None:
    assert send(drifted, "shelve", why="<script>alert(1)</script>", long="20").status_code == 303
    for path in ("/", "/alarms", f"/alarms/of/{HIGH}", "/alarms/journal"):
        text = ask(drifted.app, path).text
        assert "<script>alert" not in text
        assert "&lt;script&gt;alert(1)&lt;/script&gt;" in text


def test_looking_changes_nothing(drifted: CalledHouse) -> None:
    before = drifted.everything()
    paths = (
        "/",
        "/alarms",
        f"/alarms/of/{HIGH}",
        "/alarms/journal",
        "/alarms/metrics",
        f"/alarms/journal?alarm={HIGH}",
    )
    for path in paths:
        assert ask(drifted.app, path).status_code == 200
        assert ask(drifted.app, path, "HEAD").status_code == 200
    assert drifted.everything() == before


def test_a_running_round_is_told_with_who_and_until_when(drifted: CalledHouse) -> None:
    until_ms = 20 * MINUTE_MS
    drifted.journal.write(lambda conn: rounds.start(conn, "north", "ana", drifted.now_ms, until_ms))
    drifted.minutes(5, 31.0)
    for path in ("/", "/alarms"):
        text = page(drifted, path)
        assert "North cabinet" in text
        assert re.search(r"[Bb]y Ana[.;] [Cc]old, damp, dry and the open door", text)
        assert re.search(r"\d\d:\d\d \(15 min left\)", text)
    drifted.minutes(16, 31.0)
    assert "was to end 1 min ago" in page(drifted, "/")
    drifted.journal.write(lambda conn: rounds.end(conn, "north", "ana", "", drifted.now_ms))
    assert "was to end" not in page(drifted, "/")
