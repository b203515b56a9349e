"""The page by which a successor takes over a duty, over a real journal: who may press what, and what a press does."""

import re
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest

from daemon.alarms.people import on_duty
from daemon.storage import rota_links
from tests.dashboards.asking import ask
from tests.support.called import FORM, PUBLIC_URL, action_of
from tests.support.household import MINUTE_MS
from tests.support.on_duty import DutyHouse, duty_house
from tests.support.secrets import assert_no_secret


@pytest.fixture
def house(tmp_path: Path) -> Iterator[DutyHouse]:
    """Ben was asked to take over half an hour from now, and Ana again a day later."""
    with duty_house(tmp_path) as made:
        made.minutes(5, 28.0)
        made.duty("plan", "ben", "--from", made.at(30), "--until", made.at(1470), "--then", "ana")
        made.minutes(1, 28.0)
        yield made


def press(house: DutyHouse, link: str) -> httpx.Response:
    return house.press(link, answer="take-over")


def first(house: DutyHouse) -> str:
    return on_duty(house.rota, house.now_ms).order[0].id


def test_looking_changes_nothing_and_the_page_says_what_is_asked(house: DutyHouse) -> None:
    link, before = house.link("ben"), house.everything()
    assert re.fullmatch(r"/a/duty/[\w-]{32}", link)
    page = house.look(link)
    assert page.status_code == 200
    assert "<h1>Do you take over, Ben?</h1>" in page.text
    assert "You are to be called first for alarms, from 28 May 2026 23:01 to 29 May 2026 23:01." in page.text
    assert "Ana is called first until you accept." in page.text
    assert action_of(page.text) == link
    assert "<script" not in page.text
    for method in ("HEAD", "GET", "OPTIONS", "PUT", "DELETE"):
        ask(house.app, link, method, headers={"Purpose": "prefetch"})
    assert house.everything() == before


def test_a_press_before_the_duty_begins_is_noted_and_calls_move_then(house: DutyHouse) -> None:
    answer = press(house, house.link("ben"))
    assert "Noted, Ben: you take over 28 May 2026 23:01" in answer.text
    assert "Until then Ana is called first." in answer.text
    assert action_of(answer.text) == ""
    assert first(house) == "ana"
    house.minutes(30, 28.0)
    assert first(house) == "ben"
    assert "Noted, Ben: you are on duty" in house.look(house.link("ben")).text
    assert [headline for who, headline in house.new_messages(0) if who == "ana"] == ["DUTY taken over by Ben"]


def test_a_press_after_the_begin_moves_calls_at_once_and_a_second_press_changes_nothing(house: DutyHouse) -> None:
    early = house.link("ben")
    house.minutes(35, 28.0)
    late = house.link("ben")
    assert late != early
    assert "Noted, Ben: you are on duty" in press(house, late).text
    assert first(house) == "ben"
    before = house.everything()
    for link in (early, late):
        again = press(house, link)
        assert "was accepted already" in again.text
        assert "Noted, Ben: you are on duty" in again.text
    assert house.everything() == before


def test_a_link_of_one_kind_is_good_for_nothing_else(house: DutyHouse) -> None:
    duty = house.link("ben")
    house.minutes(40, 31.5)
    alarm = house.link("ana")
    assert alarm.startswith("/a/")
    assert not alarm.startswith("/a/duty/")
    before = house.everything()
    for swapped in (duty.replace("/a/duty/", "/a/"), alarm.replace("/a/", "/a/duty/")):
        assert house.look(swapped).status_code == 404
        assert press(house, swapped).status_code == 404
        assert house.press(swapped).status_code == 404
    assert house.everything() == before


def test_links_that_are_good_for_nothing_get_one_answer(house: DutyHouse) -> None:
    link = house.link("ben")
    gone, row = rota_links.new_link(1, "carl", house.now_ms)
    house.journal.write(lambda conn: rota_links.store(conn, [row]))
    unknown = [house.look(path) for path in ("/a/duty/", "/a/duty/x/y", f"{link}x", f"/a/duty/{gone}")]
    house.now_ms += 7 * 24 * 60 * MINUTE_MS
    before, house.app = house.everything(), house.pages()
    unknown += [house.look(link), press(house, link)]
    assert {(each.status_code, each.text) for each in unknown} == {(404, unknown[0].text)}
    assert house.everything() == before


def test_a_cancelled_duty_and_one_that_is_over_ask_nothing(house: DutyHouse) -> None:
    ben = house.link("ben")
    house.minutes(1475, 28.0)
    over = press(house, ben)
    assert "This duty is over" in over.text
    assert action_of(over.text) == ""
    ana = house.link("ana")
    assert house.duty("cancel", "2").exit_code == 0
    cancelled = press(house, ana)
    assert "This duty was cancelled" in cancelled.text
    assert "You need not take over." in cancelled.text
    assert action_of(cancelled.text) == ""


def test_a_form_from_elsewhere_or_of_another_kind_does_nothing(house: DutyHouse) -> None:
    link, before = house.link("ben"), house.everything()
    foreign = {"Sec-Fetch-Site": "cross-site", "Origin": "https://evil.example"}
    assert house.send(link, {"answer": "take-over"}, foreign).status_code == 403
    assert house.send(link, {"answer": "take-over"}, {"Origin": "https://evil.example"}).status_code == 403
    json = ask(house.app, link, "POST", b"{}", {"Content-Type": "application/json"})
    assert json.status_code == 415
    large = ask(house.app, link, "POST", b"a=" + b"x" * 70_000, {"Content-Type": FORM, "Sec-Fetch-Site": "same-origin"})
    assert large.status_code == 413
    assert house.everything() == before
    ours = house.send(link, {"answer": "take-over"}, {"Origin": PUBLIC_URL})
    assert ours.status_code == 200


def test_the_token_is_in_the_waiting_message_alone(house: DutyHouse, caplog: pytest.LogCaptureFixture) -> None:
    token = house.link("ben").rpartition("/")[2]
    rows = [row for row in house.everything() if token in row]
    assert len(rows) == 1
    press(house, house.link("ben"))
    # the question that still waited goes no further, and takes its link with it
    assert_no_secret([*house.everything(), caplog.text], [token])
