"""X-42 with the real journal, evaluator and outbox: calls move at the acceptance, and a substitute is asked and tested.

UK HSE, human factors: shift handover - two-way, and finished by the person who takes over.
"""

from collections.abc import Iterator
from pathlib import Path

import pytest

from config.site import load_site
from daemon.alarms.courier import Courier
from daemon.alarms.delivery import MessageKind
from daemon.alarms.people import on_duty
from daemon.contacts import channels
from daemon.rota import Rotas
from daemon.storage import duties
from daemon.storage.journal import Journal
from tests.support.called import HIGH, LETHAL, PUBLIC_URL
from tests.support.household import MINUTE_MS
from tests.support.on_duty import DutyHouse, duty_house
from tests.support.processes import wait_until
from tests.support.receiver import Receiver
from tests.support.secrets import assert_no_secret

ASK = "DUTY from"
NOT_TAKEN = "DUTY not taken over: you are still called first"


@pytest.fixture
def house(tmp_path: Path) -> Iterator[DutyHouse]:
    with duty_house(tmp_path) as made:
        made.minutes(5, 28.0)
        yield made


def called(house: DutyHouse) -> list[str]:
    return [each.id for each in on_duty(house.rota, house.now_ms).order]


def about_duty(house: DutyHouse) -> list[str]:
    """Who was told something of a hand-over; the silence of the probes is told as well."""
    return [who for who, headline in house.new_messages(0) if headline.startswith("DUTY")]


def away(house: DutyHouse, begins_min: float) -> None:
    """Ben is to take over in so many minutes, and Ana again a day later."""
    done = house.duty("plan", "ben", "--from", house.at(begins_min), "--until", house.at(1440), "--then", "ana")
    assert done.exit_code == 0, done.output


def test_calls_move_when_the_successor_has_accepted_and_not_before(house: DutyHouse) -> None:
    away(house, -1)
    since = len(house.messages())
    house.minutes(40, 31.5)
    told = house.new_messages(since)
    assert told[0][0] == "ben"
    assert told[0][1].startswith(ASK)
    alarms = [who for who, headline in told if "URGENT" in headline]
    assert alarms[0] == "ana"
    house.journal.write(lambda conn: house.work.acknowledge(conn, [HIGH], "kim", "", house.now_ms))
    house.minutes(40, 28.0)
    assert house.duty("accept", "ben").exit_code == 0
    since = len(house.messages())
    house.minutes(25, 31.5)
    alarms = [who for who, headline in house.new_messages(since) if "URGENT" in headline]
    assert alarms
    assert alarms[0] == "ben"


def test_an_alarm_that_is_on_follows_the_acceptance_on_its_next_rung(house: DutyHouse) -> None:
    away(house, -1)
    house.minutes(45, 36.0)
    assert house.shown(LETHAL) == "unacknowledged"
    house.duty("accept", "ben")
    since = len(house.messages())
    house.minutes(2, 36.0)
    everybody = [who for who, headline in house.new_messages(since) if "CRITICAL" in headline]
    house.minutes(6, 36.0)
    everybody = [who for who, headline in house.new_messages(since) if "CRITICAL" in headline]
    assert everybody[:2] == ["ben", "ana"]


def test_the_successor_is_asked_an_hour_before_and_whoever_is_on_duty_hears_once_that_it_was_not_accepted(
    house: DutyHouse,
) -> None:
    away(house, 90)
    house.minutes(29, 28.0)
    assert house.messages() == []
    house.minutes(2, 28.0)
    [asked] = house.messages()
    assert asked.headline.startswith(ASK)
    assert asked.kind is MessageKind.REMINDER
    assert asked.acknowledge_url is not None
    assert asked.acknowledge_url.startswith(f"{PUBLIC_URL}/a/duty/")
    assert "Until you accept, Ana is called first." in asked.body
    house.minutes(58, 28.0)
    assert len(house.messages()) == 1
    house.minutes(3, 28.0)
    late = house.new_messages(1)
    assert [who for who, _ in late] == ["ben", "ana"]
    assert late[0][1].startswith("DUTY not accepted, it began")
    assert late[1][1] == NOT_TAKEN
    house.minutes(600, 28.0)
    assert len(house.messages()) == 3


def test_a_duty_that_begins_soon_is_asked_for_at_once_with_time_to_answer(house: DutyHouse) -> None:
    away(house, 5)
    house.minutes(1, 28.0)
    assert [who for who, _ in house.new_messages(0)] == ["ben"]
    house.minutes(13, 28.0)
    assert len(house.messages()) == 1
    house.minutes(3, 28.0)
    assert [who for who, _ in house.new_messages(1)] == ["ben", "ana"]


def test_after_an_acceptance_nobody_is_asked_and_the_one_before_is_told(house: DutyHouse) -> None:
    away(house, 90)
    accepted = house.duty("accept", "ben")
    assert "Ben has accepted the duty from" in accepted.stdout
    assert "is called first from then on" in accepted.stdout
    assert called(house) == ["ana", "ben"]
    house.minutes(95, 28.0)
    assert called(house) == ["ben", "ana"]
    assert house.new_messages(0) == [("ana", "DUTY taken over by Ben")]
    assert "Until then you are." in house.messages()[0].body


def test_a_duty_that_nobody_takes_over_goes_on_past_its_end(house: DutyHouse) -> None:
    away(house, -1)
    house.duty("accept", "ben")
    house.minutes(1500, 28.0)
    assert called(house)[0] == "ben"
    asked = [each for each in house.messages("ana") if each.headline.startswith(ASK)]
    assert len(asked) == 1
    house.duty("accept", "ana")
    assert called(house) == ["ana", "ben"]


def test_a_restart_asks_nobody_twice(house: DutyHouse) -> None:
    away(house, 30)
    house.minutes(1, 28.0)
    before = house.messages()
    house.restart()
    house.minutes(10, 28.0)
    assert house.messages() == before
    house.minutes(25, 28.0)
    late = len(house.messages())
    house.restart()
    house.minutes(30, 28.0)
    assert len(house.messages()) == late == 3


def test_what_became_due_while_the_service_was_off_is_asked_first_and_told_later(house: DutyHouse) -> None:
    away(house, 90)
    house.now_ms += 300 * MINUTE_MS
    house.restart()
    house.minutes(2, 28.0)
    assert about_duty(house) == ["ben"]
    house.minutes(16, 28.0)
    assert about_duty(house) == ["ben", "ben", "ana"]


def test_a_cancelled_duty_is_told_to_whoever_was_asked_and_its_question_is_not_sent_any_more(house: DutyHouse) -> None:
    away(house, 30)
    house.minutes(1, 28.0)
    assert house.duty("plan", "ana", "--from", house.at(29)).exit_code == 0
    done = house.duty("cancel", "1", "--why", "stays at home")
    assert done.exit_code == 0, done.output
    house.minutes(60, 28.0)
    to_ben = [each.headline for each in house.messages("ben")]
    assert to_ben[-1] == "DUTY cancelled: you need not take over"
    assert len(to_ben) == 2
    with house.journal.read() as conn:
        states = conn.execute("SELECT state FROM outbox WHERE contact = 'ben/0' ORDER BY rowid").fetchall()
    assert states == [("superseded",), ("waiting",)]


def test_somebody_who_is_away_is_passed_over_at_once(house: DutyHouse) -> None:
    assert house.duty("absent", "ana", "--from", house.at(-1), "--until", house.at(600)).exit_code == 0
    assert called(house) == ["ben"]
    since = len(house.messages())
    house.minutes(25, 31.5)
    assert {who for who, _ in house.new_messages(since)} == {"ben"}


def test_the_rota_is_read_anew_only_after_a_change(house: DutyHouse) -> None:
    rotas = Rotas(load_site(house.folder))
    with house.journal.read() as conn:
        first = rotas.of(conn)
        assert rotas.of(conn) is first
    away(house, 90)
    with house.journal.read() as conn:
        assert rotas.of(conn) is not first
        assert [each.duty.person for each in rotas.of(conn).duties] == ["ben", "ana"]


def test_dead_contacts_are_passed_over_unless_nobody_is_left(house: DutyHouse) -> None:
    site = load_site(house.folder)
    with house.journal.read() as conn:
        one = Rotas(site, lambda *_: frozenset({"ana/0"})).of(conn).rota
        everybody = Rotas(site, lambda *_: frozenset({"ana/0", "ben/0"})).of(conn).rota
    assert [each.id for each in on_duty(one, house.now_ms).order] == ["ben"]
    assert [each.id for each in on_duty(everybody, house.now_ms).order] == ["ana", "ben"]


def test_a_duty_of_somebody_who_has_left_the_site_file_calls_nobody_wrong(house: DutyHouse) -> None:
    away(house, -1)
    house.duty("accept", "ben")
    file = house.folder / "site.toml"
    file.write_text(file.read_text(encoding="utf-8").replace('id = "ben"', 'id = "carla"'), encoding="utf-8")
    assert called(house) == ["ana", "carla"]
    assert "ben (not in site.toml any more)" in house.duty("list").stdout
    checked = house.command("check")
    assert "ben is on duty from 28 May 2026" in " ".join(checked.output.split())
    assert checked.exit_code == 0


def test_a_substitute_gets_a_test_message_and_takes_over_by_the_link_that_really_arrived(tmp_path: Path) -> None:
    with Receiver() as receiver, duty_house(tmp_path, base=receiver.url("").rstrip("/")) as house:
        tested = house.command("contacts", "test", "ben")
        assert tested.exit_code == 0, tested.output
        [trial] = receiver.wait_for(1)
        assert (trial.path, trial.json()["headline"].split(":")[0]) == ("/ben", "TEST")
        house.minutes(5, 28.0)
        away(house, 5)
        house.minutes(1, 28.0)
        site = load_site(house.folder)
        courier = Courier(house.journal, channels(site, house.folder, 5.0), lambda: house.now_ms)
        courier.start()
        try:
            asked = receiver.wait_for(2)[1].json()
            assert asked["body"].splitlines()[-1] == asked["acknowledge_url"]
            wait_until(lambda: _delivered(house.journal) == 1, "the record of the delivery")
            page = house.press(str(asked["acknowledge_url"]).removeprefix(PUBLIC_URL), answer="take-over")
            assert "Noted, Ben: you take over" in page.text
            courier.wake()
            taken = receiver.wait_for(3)[2]
            assert (taken.path, taken.json()["headline"]) == ("/ana", "DUTY taken over by Ben")
        finally:
            assert courier.stop()
        assert_no_secret(house.everything(), [str(asked["acknowledge_url"]).rpartition("/")[2]])
        with house.journal.read() as conn:
            [first, _] = duties.entries(conn).duties
        assert first.duty.accepted_ms == house.now_ms


def _delivered(journal: Journal) -> int:
    with journal.read() as conn:
        (count,) = conn.execute("SELECT count(*) FROM outbox WHERE state = 'delivered'").fetchone()
    return int(count)
