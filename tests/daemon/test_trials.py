"""The test of the week: to whom, once, late, over restarts and changes of the clock; and what follows from silence.

X-43 of the checks in tests/alarms/README.md.
"""

from collections.abc import Iterator
from pathlib import Path

import pytest

from daemon.alarms.delivery import MessageKind, as_sent
from tests.dashboards.asking import ask
from tests.support.called import FORM, PUBLIC_URL
from tests.support.journals import new_journal
from tests.support.lettered import ON_CALL, TWO_CONTACTS, LetteredHouse, lettered_house, local_ms

NO_DIGEST = "\n[messages]\ndigest = false\n"
HOUR_MS = 3_600_000


@pytest.fixture
def house(tmp_path: Path) -> Iterator[LetteredHouse]:
    """On a Wednesday; the next test is on Sunday 29 November 2026 at 18:00."""
    with lettered_house(tmp_path, "2026-11-25T12:00", TWO_CONTACTS + ON_CALL + NO_DIGEST) as made:
        yield made


def sent_to(house: LetteredHouse) -> dict[str, int]:
    return {contact: len(found) for contact, found in house.messages("test").items()}


def press(house: LetteredHouse, url: str | None) -> int:
    assert url is not None
    path = url.removeprefix(PUBLIC_URL)
    headers = {"Content-Type": FORM, "Sec-Fetch-Site": "same-origin"}
    return ask(house.app, path, "POST", b"answer=arrived", headers).status_code


def test_every_contact_of_everybody_gets_one_with_a_link_of_its_own_and_its_first_word_is_test(
    house: LetteredHouse,
) -> None:
    assert not house.at("2026-11-29T17:59")
    assert house.at("2026-11-29T18:00")
    assert house.woken == 1
    found = house.messages("test")
    assert set(found) == {"ana/0", "ben/0", "ben/1", "vet/0"}
    links = [one.acknowledge_url for [one] in found.values()]
    assert len(set(links)) == 4
    for [message] in found.values():
        assert as_sent(message, 0).headline.split()[0] == "TEST:"
        assert message.kind is MessageKind.TEST
        assert "Nothing is wrong" in message.body
        assert str(message.acknowledge_url).startswith(f"{PUBLIC_URL}/a/test/")
        assert message.body.splitlines()[-1] == message.acknowledge_url


def test_without_a_public_url_it_says_what_to_run_on_the_machine(tmp_path: Path) -> None:
    with lettered_house(tmp_path, "2026-11-25T12:00", TWO_CONTACTS + NO_DIGEST, linked=False) as house:
        house.at("2026-11-29T18:00")
        found = house.messages("test")
    assert all(one.acknowledge_url is None for [one] in found.values())
    assert "clutchwarden contacts confirm ana\n" in found["ana/0"][0].body
    assert "clutchwarden contacts confirm ben --contact 2\n" in found["ben/1"][0].body


def test_each_week_has_one_also_where_the_clocks_change_and_the_service_starts_anew_all_the_time(
    tmp_path: Path,
) -> None:
    times = '\n[messages]\ndigest = false\ntest_time = "02:30"\n'
    with lettered_house(tmp_path, "2026-03-16T12:00", times) as house:
        end_ms = local_ms("2026-04-13T12:00")
        while house.clock.at_ms < end_ms:
            house.clock.at_ms += HOUR_MS
            house.start()
            house.letters.look()
        with house.journal.read() as conn:
            rows = conn.execute("SELECT occasion, sent_at_ms FROM trial ORDER BY sent_at_ms").fetchall()
    # Four Sundays; on 29 March 2026 in Madrid 02:30 is left out. It looks on the hour.
    assert [week for week, _ in rows] == ["2026-W12", "2026-W13", "2026-W14", "2026-W15"]
    assert rows[1][1] == local_ms("2026-03-29T04:00")


@pytest.mark.parametrize(("back", "sent"), [("2026-12-02T17:59", True), ("2026-12-02T18:01", False)])
def test_one_that_fell_into_a_pause_is_sent_up_to_three_days_late(house: LetteredHouse, back: str, sent: bool) -> None:
    house.clock.at_ms = local_ms(back)
    house.start()
    assert house.letters.look() is sent
    assert house.at("2026-12-06T18:00")
    assert sent_to(house)["ana/0"] == (2 if sent else 1)


def test_what_fell_before_the_first_start_is_not_sent_late(tmp_path: Path) -> None:
    with lettered_house(tmp_path, "2026-11-30T09:00", NO_DIGEST) as house:
        assert not house.letters.look()
        assert house.at("2026-12-06T18:00")


def test_a_first_start_with_a_clock_far_ahead_holds_nothing_up(tmp_path: Path) -> None:
    with lettered_house(tmp_path, "2036-01-01T00:00", NO_DIGEST) as house:
        assert not house.at("2026-11-27T12:00")
        assert house.at("2026-11-29T18:00")
        house.start()
        assert not house.at("2026-11-29T18:01")
        house.clock.at_ms = local_ms("2026-12-04T00:00")
        house.start()
        assert not house.at("2026-12-04T00:01")
        assert house.at("2026-12-06T18:00")


def test_a_clock_that_is_set_back_gives_no_second_one(house: LetteredHouse) -> None:
    house.at("2026-11-29T18:00")
    assert not house.at("2026-11-29T17:00")
    house.start()
    assert not house.at("2026-11-29T18:00")
    assert sent_to(house)["ana/0"] == 1


def test_a_contact_that_is_added_after_it_gets_its_own(tmp_path: Path) -> None:
    with lettered_house(tmp_path, "2026-11-25T12:00", NO_DIGEST) as house:
        house.at("2026-11-29T18:00")
    site = tmp_path / "site" / "site.toml"
    site.write_text(site.read_text(encoding="utf-8") + TWO_CONTACTS, encoding="utf-8")
    with new_journal(tmp_path / "site" / "data" / "journal.sqlite3") as journal:
        house = LetteredHouse(journal, tmp_path / "site", local_ms("2026-11-30T09:00"))
        assert house.letters.look()
        assert sent_to(house) == {"ana/0": 1, "ben/0": 1, "ben/1": 1}


def test_where_it_is_switched_off_there_is_none(tmp_path: Path) -> None:
    with lettered_house(tmp_path, "2026-11-25T12:00", "\n[messages]\ntest = false\ndigest = false\n") as house:
        assert not house.at("2026-11-29T18:00")


def test_in_the_first_minute_of_a_demo_nothing_is_sent(tmp_path: Path) -> None:
    """At 300 times the pace a minute is five hours; after it the test comes, and is no demo of one."""
    with lettered_house(tmp_path, "2026-11-29T14:00", rate=300.0) as house:
        assert not house.at("2026-11-29T18:59")
        assert house.at("2026-11-29T19:00")
        assert [one.status for one in house.messages("test")["ana/0"]] == ["test"]


def test_a_day_without_a_confirmation_is_an_alarm_for_each_contact_until_somebody_confirms(
    house: LetteredHouse,
) -> None:
    house.at("2026-11-29T18:00")
    [first], [second] = house.messages("test")["ana/0"], house.messages("test")["ben/1"]
    assert press(house, first.acknowledge_url) == 200
    house.at("2026-11-30T17:58")
    house.evaluate()
    assert house.unconfirmed() == set()
    house.at("2026-11-30T18:01")
    house.evaluate()
    assert house.unconfirmed() == {"ben/0", "ben/1", "vet/0"}
    told = [one for found in house.messages("alarm").values() for one in found]
    assert any("Ben (contact 2) test not confirmed" in f"{one.headline} {one.body}" for one in told)
    house.clock.at_ms += 60_000
    assert press(house, second.acknowledge_url) == 200
    house.evaluate()
    assert house.unconfirmed() == {"ben/0", "vet/0"}


def test_a_new_test_ends_nothing_by_itself_and_its_confirmation_ends_all_before(house: LetteredHouse) -> None:
    house.at("2026-11-29T18:00")
    house.at("2026-11-30T18:01")
    house.evaluate()
    house.at("2026-12-06T18:00")
    house.evaluate()
    assert "ana/0" in house.unconfirmed()
    newer = house.messages("test")["ana/0"][1]
    house.clock.at_ms += 120_000
    assert press(house, newer.acknowledge_url) == 200
    house.evaluate()
    assert "ana/0" not in house.unconfirmed()
    assert "ben/0" in house.unconfirmed()


def test_it_is_over_where_the_contact_leaves_the_site_file(tmp_path: Path) -> None:
    with lettered_house(tmp_path, "2026-11-25T12:00", TWO_CONTACTS + NO_DIGEST) as house:
        house.at("2026-11-29T18:00")
        house.at("2026-11-30T18:01")
        house.evaluate()
        assert house.unconfirmed() == {"ana/0", "ben/0", "ben/1"}
    site = tmp_path / "site" / "site.toml"
    text = site.read_text(encoding="utf-8")
    site.write_text(text.replace(TWO_CONTACTS, ""), encoding="utf-8")
    with new_journal(tmp_path / "site" / "data" / "journal.sqlite3") as journal:
        house = LetteredHouse(journal, tmp_path / "site", local_ms("2026-11-30T18:05"))
        house.evaluate()
        assert house.unconfirmed() == {"ana/0"}


def test_an_alarm_that_was_on_when_the_service_stopped_is_not_told_again(house: LetteredHouse) -> None:
    house.at("2026-11-29T18:00")
    house.at("2026-11-30T18:01")
    house.evaluate()
    before = sum(map(len, house.messages("alarm").values()))
    assert before
    again = LetteredHouse(house.journal, house.folder, local_ms("2026-11-30T18:10"))
    again.evaluate()
    assert "ana/0" in again.unconfirmed()
    assert sum(map(len, again.messages("alarm").values())) == before
