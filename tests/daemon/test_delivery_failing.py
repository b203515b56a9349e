"""A contact that takes nothing: seen by the courier, kept by the journal, told by the evaluation."""

import json
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from pydantic import SecretStr

from config.site import Site
from config.words import Priority
from daemon.alarms.courier import Courier
from daemon.alarms.delivery import MessageKind, MessageStatus
from daemon.alarms.webhook import WebhookChannel
from daemon.commands.site_folder import read_site
from daemon.evaluate import Evaluator
from daemon.standing_sources.delivery import DeliverySource
from daemon.storage import alarm_log, deliveries
from daemon.undelivered import dead_contacts, try_what_failed
from sensors.decoder import Decoder
from tests.alarms.outboxes import put, rows
from tests.support.called import SECOND_PERSON
from tests.support.household import MINUTE_MS, write_site
from tests.support.journals import new_journal
from tests.support.receiver import Answer, Receiver

START_MS = 1_780_000_000_000


class House:
    """Ana, whose phone is a real receiver, and Ben, whose phone nobody asks; one journal that restarts survive."""

    def __init__(self, folder: Path, url: str) -> None:
        site = read_site(write_site(folder / "site", 1883, url, SECOND_PERSON))
        self.site: Site = site.site
        self._whole = site
        self.url = url
        self.now_ms = START_MS
        self.journal = new_journal(folder / "journal.sqlite3")
        self.restart()

    def restart(self) -> None:
        """As a daemon that was started again with the address that stands in the site file now."""
        channel = WebhookChannel(SecretStr(self.url), 5.0)
        courier = Courier(self.journal, {"ana/0": channel}, lambda: self.now_ms, jitter=lambda: 0.0)
        self.turn: Callable[[], float] = courier._workers[0]._step
        channels = dict(Decoder(self.site).channels)
        self.evaluator = Evaluator(
            self.journal,
            self.site,
            self._whole.settings,
            self._whole.profiles,
            channels,
            START_MS,
            sources=(DeliverySource(self.site),),
        )

    def minutes(self, count: int) -> None:
        """A minute at a time: what is due is sent, and then everything is looked at."""
        for _ in range(count):
            self.now_ms += MINUTE_MS
            while self.turn() == 0.0:
                pass
            self.evaluator.step(lambda: self.now_ms)

    def told(self) -> list[tuple[str, int]]:
        """What happened to alarms about delivery, with the minute."""
        with self.journal.read() as conn:
            events = alarm_log.events(conn, 1000)[::-1]
        wanted = [each for each in events if each.alarm_key.startswith("delivery-failing")]
        return [(f"{each.alarm_key} {each.event}", (each.recorded_at_ms - START_MS) // MINUTE_MS) for each in wanted]

    def failing(self) -> list[deliveries.Failing]:
        with self.journal.read() as conn:
            return deliveries.failing(conn)

    def dead(self) -> frozenset[str]:
        with self.journal.read() as conn:
            return dead_contacts(conn, self.site)

    def messages(self, contact: str) -> list[dict[str, str]]:
        with self.journal.read() as conn:
            found = conn.execute("SELECT body FROM outbox WHERE contact = ? ORDER BY rowid", (contact,))
            return [json.loads(body) for (body,) in found]


@pytest.fixture
def receiver() -> Iterator[Receiver]:
    with Receiver() as started:
        yield started


@pytest.fixture
def house(tmp_path: Path, receiver: Receiver) -> Iterator[House]:
    made = House(tmp_path, receiver.url("/hooks/T0pS3cret"))
    yield made
    made.journal.close()


def test_a_receiver_that_refuses_for_ten_minutes_is_an_alarm_and_one_that_takes_again_ends_it(
    house: House, receiver: Receiver
) -> None:
    receiver.answer_with(Answer(503))
    put(house.journal, "m", "ana/0", Priority.CRITICAL, START_MS)
    house.minutes(9)
    assert house.told() == []
    house.minutes(4)
    assert house.told() == [("delivery-failing:ana/0 raised", 11)]  # ten minutes after the first attempt
    receiver.answer_with(Answer(200))
    house.minutes(8)
    assert rows(house.journal)["m"].state == "delivered"
    assert [what for what, _ in house.told()] == ["delivery-failing:ana/0 raised", "delivery-failing:ana/0 cleared"]
    assert house.failing() == []


def test_410_is_told_at_once_without_the_address_and_a_restart_knows_it(house: House, receiver: Receiver) -> None:
    receiver.answer_with(Answer(410))
    put(house.journal, "m", "ana/0", Priority.LOW, START_MS)
    house.minutes(1)
    assert house.told() == [("delivery-failing:ana/0 raised", 1)]
    assert house.dead() == {"ana/0"}
    house.restart()
    house.minutes(20)
    assert house.told() == [("delivery-failing:ana/0 raised", 1)]
    assert house.dead() == {"ana/0"}
    with house.journal.read() as conn:
        everything = repr(conn.execute("SELECT * FROM contact_failing").fetchall())
    assert "410" in everything
    assert "T0pS3cret" not in everything + "".join(json.dumps(each) for each in house.messages("ben/0"))


def test_the_second_person_hears_that_the_first_is_not_reached(house: House, receiver: Receiver) -> None:
    receiver.answer_with(Answer(410))
    put(house.journal, "m", "ana/0", Priority.LOW, START_MS)
    house.minutes(60)
    first, *_ = house.messages("ben/0")
    assert first["alarm"] == "delivery-failing"
    assert "Ana" in first["headline"]
    assert "the receiver answered 410" in first["body"]


def test_what_was_never_sent_says_nothing_of_the_contact(house: House, receiver: Receiver) -> None:
    receiver.answer_with(Answer(410))
    put(house.journal, "m", "ana/0", Priority.LOW, START_MS)
    put(house.journal, "unsent", "ana/0", Priority.LOW, START_MS + 1)
    put(house.journal, "unreadable", "ana/0", Priority.LOW, START_MS + 2, stored="{}")
    house.minutes(1)
    assert rows(house.journal)["unsent"].state == "abandoned"
    assert [each.failures for each in house.failing() if each.contact == "ana/0"] == [len(receiver.received)]


def test_a_test_gets_through_to_a_contact_that_was_gone_and_ends_it(house: House, receiver: Receiver) -> None:
    receiver.answer_with(Answer(410))
    put(house.journal, "m", "ana/0", Priority.LOW, START_MS)
    house.minutes(1)
    receiver.answer_with(Answer(200))
    put(house.journal, "t", "ana/0", Priority.LOW, START_MS, kind=MessageKind.TEST, status=MessageStatus.TEST)
    house.minutes(3)
    assert rows(house.journal)["t"].state == "delivered"
    assert house.dead() == frozenset()
    assert [what for what, _ in house.told()][-1] == "delivery-failing:ana/0 cleared"


def test_the_next_start_tries_with_a_test_whether_another_address_works(house: House, receiver: Receiver) -> None:
    receiver.answer_with(Answer(410))
    put(house.journal, "m", "ana/0", Priority.LOW, START_MS)
    house.minutes(1)
    with Receiver() as moved:
        house.url = moved.url("/new")
        assert house.journal.write(lambda conn: try_what_failed(conn, house.site, house.now_ms)) == 1
        house.restart()
        house.minutes(3)
        [came] = moved.received
        assert came.json()["headline"].startswith("TEST: ")
        assert came.json()["kind"] == "test"
    assert house.dead() == frozenset()


def test_a_contact_with_something_waiting_needs_no_test(house: House, receiver: Receiver) -> None:
    receiver.answer_with(Answer(503))
    put(house.journal, "m", "ana/0", Priority.CRITICAL, START_MS)
    house.minutes(1)
    assert [each.contact for each in house.failing()] == ["ana/0"]
    assert house.journal.write(lambda conn: try_what_failed(conn, house.site, house.now_ms)) == 0


def test_where_every_address_is_dead_all_of_them_are_tried_all_the_same(house: House) -> None:
    for contact in ("ana/0", "ben/0"):
        house.journal.write(lambda conn, contact=contact: deliveries.note_failed(conn, contact, 1, "410", gone=True))  # type: ignore[misc]
        assert house.dead() == ({"ana/0"} if contact == "ana/0" else frozenset())


def test_a_contact_that_left_the_site_file_is_nobodys_concern(house: House) -> None:
    house.journal.write(lambda conn: deliveries.note_failed(conn, "gone/0", 1, "410", gone=True))
    house.minutes(2)
    assert house.told() == []
    assert house.dead() == frozenset()


def test_a_clock_that_was_set_back_lets_failures_count_from_then(house: House) -> None:
    for at_ms in (START_MS + 7_200_000, START_MS, START_MS + MINUTE_MS):
        house.journal.write(lambda conn, at_ms=at_ms: deliveries.note_failed(conn, "ana/0", at_ms, "503", gone=False))  # type: ignore[misc]
    assert house.failing() == [deliveries.Failing("ana/0", 3, START_MS, False, "503")]
