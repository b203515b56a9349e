"""The page behind the link of a test message: looking changes nothing, a press confirms, once."""

import logging
from collections.abc import Iterator
from pathlib import Path

import pytest

from daemon.storage import alarm_links, outbox
from daemon.storage.journal import Journal
from daemon.trial_desk import TrialDesk
from dashboards.app import create_app
from dashboards.unknown_links import FREE_ATTEMPTS
from tests.dashboards.asking import ask
from tests.support.called import FORM, PUBLIC_URL, CalledHouse, action_of
from tests.support.lettered import TWO_CONTACTS, LetteredHouse, lettered_house, local_ms
from tests.support.secrets import assert_no_secret

OURS = {"Content-Type": FORM, "Sec-Fetch-Site": "same-origin"}


@pytest.fixture
def tested(tmp_path: Path) -> Iterator[LetteredHouse]:
    """Ten minutes after the test of the week."""
    with lettered_house(tmp_path, "2026-11-25T12:00", TWO_CONTACTS) as house:
        house.at("2026-11-29T18:00")
        house.clock.at_ms = local_ms("2026-11-29T18:10")
        yield house


def link(house: LetteredHouse, contact: str = "ana/0") -> str:
    [message] = house.messages("test")[contact]
    return str(message.acknowledge_url).removeprefix(PUBLIC_URL)


def everything(journal: Journal) -> list[str]:
    with journal.read() as conn:
        tables = [name for (name,) in conn.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        return [repr(row) for name in tables for row in conn.execute(f"SELECT * FROM {name}").fetchall()]


def test_looking_changes_nothing_and_asks_for_a_press(tested: LetteredHouse) -> None:
    before = everything(tested.journal)
    page = ask(tested.app, link(tested, "ben/1"))
    assert page.status_code == 200
    assert "<h1>Did the test arrive, Ben (contact 2)?</h1>" in page.text
    assert "It was sent Sun 29 Nov 2026, 18:00." in page.text
    assert action_of(page.text) == link(tested, "ben/1")
    assert "<script" not in page.text
    for method in ("HEAD", "GET", "OPTIONS", "PUT", "DELETE"):
        ask(tested.app, link(tested), method, headers={"Purpose": "prefetch"})
    assert everything(tested.journal) == before


def test_a_press_confirms_that_contact_alone_and_a_second_one_says_when(tested: LetteredHouse) -> None:
    answer = ask(tested.app, link(tested, "ben/1"), "POST", b"answer=arrived", OURS)
    assert "<h1>Noted, Ben (contact 2): it arrived</h1>" in answer.text
    assert "was confirmed just now." in answer.text
    assert action_of(answer.text) == ""
    tested.clock.at_ms += 5 * 60_000
    again = ask(tested.app, link(tested, "ben/1"), "POST", b"answer=arrived", OURS)
    assert "was confirmed 5\N{NO-BREAK SPACE}min ago." in again.text
    with tested.journal.read() as conn:
        rows = conn.execute("SELECT contact, at_ms, who, how FROM trial JOIN trial_confirmed USING (message_id)")
        assert rows.fetchall() == [("ben/1", local_ms("2026-11-29T18:10"), "ben", "link")]
    assert "Did the test arrive, Ana?" in ask(tested.app, link(tested)).text


@pytest.mark.parametrize(
    ("headers", "code"),
    [
        (OURS, 200),
        ({"Content-Type": FORM, "Origin": PUBLIC_URL}, 200),
        ({"Content-Type": FORM, "Sec-Fetch-Site": "cross-site"}, 403),
        ({"Content-Type": FORM, "Origin": "https://evil.example"}, 403),
        ({"Content-Type": "application/json", "Sec-Fetch-Site": "same-origin"}, 415),
    ],
)
def test_only_our_own_form_confirms(tested: LetteredHouse, headers: dict[str, str], code: int) -> None:
    assert ask(tested.app, link(tested), "POST", b"answer=arrived", headers).status_code == code
    with tested.journal.read() as conn:
        (count,) = conn.execute("SELECT count(*) FROM trial_confirmed").fetchone()
    assert count == (code == 200)


def test_links_that_are_good_for_nothing_get_one_answer_and_have_to_wait(tested: LetteredHouse) -> None:
    token, row = alarm_links.new_link("ana", [], tested.clock.at_ms)
    tested.journal.write(lambda conn: alarm_links.store(conn, [row]))
    unknown = [ask(tested.app, f"/a/test/{each}") for each in ("", "x/y", f"{link(tested)}x", token)]
    assert {each.status_code for each in unknown} == {404}
    assert len({each.text for each in unknown}) == 1
    codes = [ask(tested.app, f"/a/test/guess{number}").status_code for number in range(FREE_ATTEMPTS)]
    assert codes[-1] == 429
    assert ask(tested.app, link(tested)).status_code == 200


def test_a_link_is_good_for_a_week_and_for_people_of_the_site(tested: LetteredHouse) -> None:
    path = link(tested)
    tested.clock.at_ms = local_ms("2026-12-06T17:59")
    assert ask(tested.app, path).status_code == 200
    tested.clock.at_ms = local_ms("2026-12-06T18:00")
    assert ask(tested.app, path, "POST", b"answer=arrived", OURS).status_code == 404


def test_it_stands_beside_the_links_of_alarms_and_neither_does_the_work_of_the_other(
    tested: LetteredHouse, house: CalledHouse
) -> None:
    """One app with both: a test's token does not acknowledge, an alarm's does not confirm."""
    desk = TrialDesk(tested.journal, tested.site, tested.clock.now_ms)
    app = create_app(house.overview, answers=house.desk, arrivals=desk)
    house.minutes(40, 31.0)
    alarm = house.link()
    assert "Did the test arrive" in ask(app, link(tested)).text
    assert "Do you see to it" in ask(app, alarm).text
    assert ask(app, f"/a/test/{alarm.removeprefix('/a/')}").status_code == 404
    assert ask(app, link(tested).replace("/a/test/", "/a/")).status_code == 404


def test_the_token_leaves_the_journal_with_the_message_and_is_in_no_log(
    tested: LetteredHouse, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.DEBUG)
    path = link(tested)
    token = path.rpartition("/")[2]
    with tested.journal.read() as conn:
        (message_id,) = conn.execute("SELECT message_id FROM trial WHERE contact = 'ana/0'").fetchone()
    tested.journal.write(lambda conn: outbox.record_attempt(conn, message_id, "delivered", 0, None, ""))
    kept = everything(tested.journal)
    tested.journal.close()
    assert ask(tested.app, path).status_code == 503
    logged = [record.getMessage() for record in caplog.records if record.name != "httpx"]
    assert any("Nobody can confirm a test just now" in each for each in logged)
    assert_no_secret([*kept, *logged], [token])
