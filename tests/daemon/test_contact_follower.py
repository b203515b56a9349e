"""What is known of an address stays with the address: by which page or editor, and to which place, it was moved."""

import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest

from config.site import Site, load_site
from daemon.alarms.delivery import MessageStatus
from daemon.contact_changes import Way, contact_changes
from daemon.contact_follower import follow_contacts
from daemon.duty_work import DutyWork
from daemon.people_desk import PeopleDesk
from daemon.people_values import ContactNow
from daemon.rota import Rotas
from daemon.storage import deliveries, outbox, trials
from daemon.storage.journal import Journal
from daemon.storage.outbox import OutboxMessage
from daemon.storage.trials import Trial
from daemon.undelivered import dead_contacts, try_what_failed
from tests.support.household import SITE
from tests.support.journals import new_journal

NOW_MS = 1_780_000_000_000
DAY_MS, HOUR_MS = 86_400_000, 3_600_000
FIRST, SECOND, THIRD = (f"https://alerts.example.org/{name}" for name in ("first", "second", "third"))


class House:
    """A site with one person, whose contacts change, and its journal. Each start of the daemon follows."""

    def __init__(self, folder: Path, journal: Journal) -> None:
        self.folder, self.journal = folder, journal

    def start(self, *addresses: str) -> frozenset[str]:
        contacts = "".join(f'[[person.contact]]\nkind = "webhook"\nurl = "{each}"\n' for each in addresses)
        person = f'[[person]]\nid = "ana"\nname = "Ana"\n{contacts}'
        (self.folder / "site.toml").write_text(f"{SITE}\n{person}", encoding="utf-8")
        return follow_contacts(self.journal, self.site, self.folder)

    @property
    def site(self) -> Site:
        return load_site(self.folder)

    def desk(self, now_ms: int = NOW_MS) -> PeopleDesk:
        work = DutyWork(self.site, Rotas(self.site), MessageStatus.ACTUAL)
        return PeopleDesk(self.journal, self.site, work, lambda: now_ms, lambda: None)

    def contacts(self) -> tuple[ContactNow, ...]:
        return self.desk().look().people[0].contacts

    def confirmed(self, contact: str) -> None:
        def write(conn: sqlite3.Connection) -> None:
            trials.add(conn, Trial(f"test of {contact}", contact, "ana", "2026-W20", NOW_MS - DAY_MS), "")
            trials.confirm(conn, f"test of {contact}", NOW_MS - HOUR_MS, "ana", "link")

        self.journal.write(write)

    def gone(self, contact: str) -> None:
        self.journal.write(lambda conn: deliveries.note_failed(conn, contact, NOW_MS, "410 gone", gone=True))

    def dead(self) -> frozenset[str]:
        with self.journal.read() as conn:
            return dead_contacts(conn, self.site)

    def waits(self, message_id: str, contact: str) -> None:
        self.journal.write(lambda conn: outbox.enqueue(conn, [OutboxMessage(message_id, contact, 1, NOW_MS, "{}")]))

    def waiting(self) -> dict[str, str]:
        with self.journal.read() as conn:
            return {row.message_id: row.contact for row in outbox.due(conn, NOW_MS)}


@pytest.fixture
def house(tmp_path: Path) -> Iterator[House]:
    with new_journal(tmp_path / "journal.sqlite3") as journal:
        yield House(tmp_path, journal)


def test_nothing_of_an_old_address_is_told_of_a_new_one(house: House) -> None:
    house.start(FIRST, SECOND)
    house.confirmed("ana/0")
    house.gone("ana/0")
    [before, _] = house.contacts()
    assert (before.confirmed_ms, before.tested_ms, before.gone) == (NOW_MS - HOUR_MS, NOW_MS - DAY_MS, True)
    assert house.start(THIRD, SECOND) == {"ana/0"}
    [after, _] = house.contacts()
    assert (after.confirmed_ms, after.tested_ms, after.gone, after.error) == (None, None, False, "")
    assert house.dead() == frozenset()


def test_a_new_address_gets_a_test_at_the_start_where_the_old_one_took_nothing(house: House) -> None:
    house.start(FIRST)
    house.gone("ana/0")
    readdressed = house.start(SECOND)
    house.journal.write(lambda conn: try_what_failed(conn, house.site, NOW_MS, readdressed))
    assert list(house.waiting().values()) == ["ana/0"]


def test_what_is_known_goes_with_an_address_to_its_new_place(house: House) -> None:
    house.start(FIRST, SECOND, THIRD)
    house.gone("ana/0")
    house.confirmed("ana/1")
    house.waits("for the first", "ana/0")
    house.waits("for the second", "ana/1")
    house.start(SECOND, THIRD)
    second, third = house.contacts()
    assert (second.gone, second.confirmed_ms) == (False, NOW_MS - HOUR_MS)
    assert (third.gone, third.confirmed_ms) == (False, None)
    waiting = house.waiting()
    assert waiting["for the second"] == "ana/0", "it must not be given up"
    assert waiting["for the first"] not in ("ana/0", "ana/1"), "nobody has this address any more"


def test_two_contacts_may_change_places(house: House) -> None:
    house.start(FIRST, SECOND)
    house.gone("ana/0")
    house.confirmed("ana/1")
    house.waits("for the first", "ana/0")
    house.waits("for the second", "ana/1")
    house.start(SECOND, FIRST)
    second, first = house.contacts()
    assert (second.gone, second.confirmed_ms, first.gone, first.confirmed_ms) == (False, NOW_MS - HOUR_MS, True, None)
    assert house.waiting() == {"for the first": "ana/1", "for the second": "ana/0"}


def test_what_waits_for_somebody_goes_to_their_new_address(house: House) -> None:
    house.start(FIRST)
    house.waits("an alarm", "ana/0")
    house.start(SECOND)
    assert house.waiting() == {"an alarm": "ana/0"}


def test_an_address_that_takes_a_place_that_was_free_for_a_while_is_a_new_one(house: House) -> None:
    house.start(FIRST)
    house.confirmed("ana/0")
    house.start()
    house.start(SECOND)
    [contact] = house.contacts()
    assert contact.confirmed_ms is None


def test_the_link_of_a_test_is_of_the_contact_that_has_its_address_now(house: House) -> None:
    house.start(FIRST, SECOND)
    token = trials.new_token()
    house.journal.write(lambda conn: trials.add(conn, Trial("m", "ana/1", "ana", "2026-W20", NOW_MS), token))
    house.start(SECOND)
    with house.journal.read() as conn:
        found = trials.find(conn, token, NOW_MS)
    assert found is not None
    assert found.contact == "ana/0"


def test_a_start_with_the_same_addresses_changes_nothing(house: House) -> None:
    house.start(FIRST, SECOND)
    house.confirmed("ana/0")
    house.gone("ana/1")
    before = house.contacts()
    assert house.start(FIRST, SECOND) == frozenset()
    assert house.contacts() == before


def test_what_was_kept_before_anybody_looked_is_taken_for_the_contacts_own(house: House) -> None:
    house.confirmed("ana/0")
    house.start(FIRST)
    [contact] = house.contacts()
    assert contact.confirmed_ms == NOW_MS - HOUR_MS


def test_no_address_stands_in_the_journal(house: House) -> None:
    house.start(FIRST)
    kept = b"".join(path.read_bytes() for path in house.folder.glob("journal.sqlite3*"))
    assert b"contact_way" in kept, "this would find it"
    assert b"alerts.example.org" not in kept


def test_one_address_of_two_contacts_stays_two_contacts() -> None:
    keys = iter("xyz")
    before = {"ana/0": Way("a", "same"), "ana/1": Way("b", "same")}
    found = contact_changes(before, {"ana/0": "same", "ana/1": "same", "ana/2": "same"}, lambda: next(keys))
    assert found.ways == {**before, "ana/2": Way("x", "same")}
    assert not found.are_any


def test_the_clock_set_back_does_not_hold_a_test_up(house: House) -> None:
    house.start(FIRST)
    house.desk(NOW_MS + DAY_MS).send_test("ana", "mara")
    house.desk(NOW_MS).send_test("ana", "mara")
    assert len(house.waiting()) == 2
