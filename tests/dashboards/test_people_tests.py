"""Tests that somebody asks for at the page of people: to whom, once, and what becomes of them."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from daemon.access.values import Role, Visitor
from daemon.storage import outbox, trials
from daemon.storage.duties import NewEntry
from daemon.storage.trials import Trial
from tests.dashboards.asking import ask
from tests.dashboards.rota_pages import ANA, VIEWER, press, waiting
from tests.support.called import FORM, PUBLIC_URL
from tests.support.household import DAY_MS, MINUTE_MS
from tests.support.upkept import KEEPER, UpkeptHouse, error_beside, upkept_house, words

BEN = Visitor("ben", Role.RESPONDER, KEEPER.guard, session=5)


@pytest.fixture
def house(tmp_path: Path) -> Iterator[UpkeptHouse]:
    """Monday 4 May 2026, 14:00 in Madrid."""
    with upkept_house(tmp_path) as made:
        yield made


@pytest.mark.parametrize(
    ("to", "contacts"),
    [("ana", ["ana/0"]), ("ben", ["ben/0", "ben/1"]), ("ben/1", ["ben/1"]), ("vet", ["vet/0"])],
)
def test_a_test_goes_to_one_way_or_to_every_way_of_a_person(house: UpkeptHouse, to: str, contacts: list[str]) -> None:
    assert press(house, "test", ANA, to=to)[0] == 303
    found = waiting(house)
    assert [contact for contact, _ in found] == contacts
    assert house.woken == 1
    for _, message in found:
        assert message.status == "test"
        assert "Ana asked for this message" in message.body
        assert str(message.acknowledge_url).startswith(f"{PUBLIC_URL}/a/test/")
    assert "on its way" in house.words("/people")


def test_what_becomes_of_a_test_is_told_step_by_step_until_somebody_says_that_it_arrived(house: UpkeptHouse) -> None:
    press(house, "test", to="ana")
    [(_, message)] = waiting(house)
    number = message.message_id

    def note(state: str, next_ms: int | None, error: str) -> None:
        house.journal.write(
            lambda conn: outbox.record_attempt(conn, number, state, house.now_ms, next_ms, error)  # type: ignore[arg-type]
        )

    note("waiting", house.now_ms + 2 * MINUTE_MS, "no answer in 10 s")
    assert "not accepted: no answer in 10 s. Tried again 4 May 2026 14:02." in house.words("/people")
    note("delivered", None, "")
    assert "its receiver accepted it. Open the link in it and press" in house.words("/people")
    house.now_ms += MINUTE_MS
    link = str(message.acknowledge_url).removeprefix(PUBLIC_URL)
    headers = {"Content-Type": FORM, "Sec-Fetch-Site": "same-origin"}
    assert ask(house.app, link, "POST", b"answer=arrived", headers).status_code == 200
    text = house.words("/people")
    assert "Test of 14:00: it arrived, as somebody said at 14:01." in text
    assert "Last confirmed 4 May 2026 14:01" in text


def test_a_second_press_within_a_minute_sends_nothing(house: UpkeptHouse) -> None:
    press(house, "test", to="ben/0")
    status, html = press(house, "test", to="ben")
    assert status == 422
    assert "less than a minute ago" in error_beside(html, "test-to")
    assert len(waiting(house)) == 1
    house.now_ms += MINUTE_MS + 1
    assert press(house, "test", to="ben")[0] == 303
    assert len(waiting(house)) == 3


def test_a_test_that_was_asked_for_raises_no_alarm_and_ends_that_of_a_weekly_one(house: UpkeptHouse) -> None:
    week_ms = house.now_ms - 2 * DAY_MS
    house.journal.write(lambda conn: trials.add(conn, Trial("w", "ana/0", "ana", "2026-W18", week_ms), ""))
    press(house, "test", to="ana")
    with house.journal.read() as conn:
        assert trials.unconfirmed(conn, "ana/0", 0, house.now_ms) == [week_ms]
    [(_, message)] = waiting(house)
    house.journal.write(lambda conn: trials.confirm(conn, message.message_id, house.now_ms, "ana", "link"))
    with house.journal.read() as conn:
        assert trials.unconfirmed(conn, "ana/0", 0, house.now_ms) == []


def accepted(house: UpkeptHouse, to: str, who: Visitor = ANA) -> str:
    """Ask for a test that its receiver accepts; gives its number."""
    press(house, "test", who, to=to)
    message = waiting(house)[-1][1]
    house.journal.write(
        lambda conn: outbox.record_attempt(conn, message.message_id, "delivered", house.now_ms, None, "")
    )
    return message.message_id


def test_without_links_whoever_is_signed_in_says_at_the_page_that_a_test_to_them_arrived(tmp_path: Path) -> None:
    with upkept_house(tmp_path, linked=False) as house:
        week_ms = house.now_ms - 2 * DAY_MS
        house.journal.write(lambda conn: trials.add(conn, Trial("w", "ana/0", "ana", "2026-W18", week_ms), ""))
        number = accepted(house, "ana")
        page = house.look("/people", house.pages(ANA)).text
        assert "Does your phone show the test of 14:00? Press when it does." in words(page)
        assert f'name="message" value="{number}"' in page
        house.now_ms += MINUTE_MS
        assert press(house, "arrived", ANA, contact="ana/0", message=number)[0] == 303
        text = house.words("/people", house.pages(ANA))
        assert "Test of 14:00: it arrived, as somebody said at 14:01." in text
        assert "Does your phone" not in text
        with house.journal.read() as conn:
            assert trials.unconfirmed(conn, "ana/0", 0, house.now_ms) == []


def test_nobody_says_for_another_person_that_a_test_arrived(house: UpkeptHouse) -> None:
    number = accepted(house, "ana")
    assert "It arrived" not in house.look("/people").text
    for who in (KEEPER, BEN):
        status, html = press(house, "arrived", who, contact="ana/0", message=number)
        assert status == 422
        assert "not the newest test that was sent to you" in words(html)
    with house.journal.read() as conn:
        assert trials.last_confirmed_ms(conn, "ana/0") is None


@pytest.mark.parametrize("message", ["", "another"])
def test_only_the_newest_test_is_confirmed_at_the_page_and_only_once(house: UpkeptHouse, message: str) -> None:
    number = accepted(house, "ana")
    assert press(house, "arrived", ANA, contact="ana/0", message=message)[0] == 422
    assert press(house, "arrived", ANA, contact="ana/0", message=number)[0] == 303
    assert press(house, "arrived", ANA, contact="ana/0", message=number)[0] == 422


def test_an_open_page_of_people_is_the_same_for_everybody_as_long_as_nothing_changes(house: UpkeptHouse) -> None:
    # Else the page of whoever has buttons is fetched anew with every word of the stream.
    accepted(house, "ana")
    house.people.plan([NewEntry("ben", house.now_ms + DAY_MS, None, house.now_ms, "ana", "")])
    versions = {
        re.search(r'data-version="([^"]*)"', house.look("/people", house.pages(who)).text)[1]  # type: ignore[index]
        for who in (ANA, KEEPER, VIEWER)
    }
    assert len(versions) == 1
