"""`clutchwarden contacts confirm`, and the whole way of a test: outbox, a real receiver, a press on the real page."""

from pathlib import Path

import httpx
import pytest
from typer.testing import CliRunner, Result

from daemon import cli
from daemon.alarms.courier import Courier
from daemon.contacts import channels
from daemon.storage import outbox, trials
from daemon.storage.journal import Journal
from daemon.trial_desk import TrialDesk
from dashboards.app import create_app
from dashboards.server import PageServer
from tests.support.household import write_site
from tests.support.journals import new_journal
from tests.support.lettered import TWO_CONTACTS, LetteredHouse, lettered_house, local_ms
from tests.support.processes import free_port, wait_until
from tests.support.receiver import Receiver


@pytest.fixture
def site(tmp_path: Path) -> Path:
    """Tests were sent to Ana and to both contacts of Ben."""
    with lettered_house(tmp_path, "2026-11-25T12:00", TWO_CONTACTS, linked=False) as house:
        house.at("2026-11-29T18:00")
    return tmp_path / "site"


def confirm(site: Path, *arguments: str) -> Result:
    return CliRunner().invoke(cli.app, ["contacts", "confirm", *arguments, "--site", str(site)])


def confirmed(site: Path) -> set[tuple[str, str, str]]:
    with new_journal(site / "data" / "journal.sqlite3") as journal, journal.read() as conn:
        rows = conn.execute("SELECT contact, who, how FROM trial JOIN trial_confirmed USING (message_id)")
        return set(rows.fetchall())


@pytest.mark.parametrize("named", ["ana", "Ana", "ANA"])
def test_a_person_with_one_contact_is_confirmed_by_name_once(site: Path, named: str) -> None:
    done = confirm(site, named, "--who", "kim")
    assert done.exit_code == 0
    assert done.stdout.startswith("Ana, contact 1 (webhook): the test of ")
    assert done.stdout.endswith(" is confirmed.\n")
    assert confirmed(site) == {("ana/0", "kim", "command")}
    again = confirm(site, named)
    assert again.exit_code == 2
    assert "No test to Ana waits for a confirmation." in again.stderr


def test_of_several_contacts_somebody_says_which(site: Path) -> None:
    asked = confirm(site, "ben")
    assert asked.exit_code == 2
    assert "1 (webhook), 2 (webhook)" in asked.stderr
    assert "--contact 1 --contact 2" in asked.stderr
    assert confirmed(site) == set()
    assert confirm(site, "ben", "--contact", "2", "--who", "kim").exit_code == 0
    assert confirmed(site) == {("ben/1", "kim", "command")}
    # One is left, so it is clear which is meant.
    assert confirm(site, "ben", "--who", "kim").exit_code == 0
    assert len(confirmed(site)) == 2


def test_a_number_or_a_person_that_is_not_there_is_refused(site: Path) -> None:
    assert "has no contact 3 in site.toml, but 2 in all" in confirm(site, "ben", "--contact", "3").stderr
    assert 'Did you mean "ben"?' in confirm(site, "bem").stderr
    assert confirmed(site) == set()


def test_where_tests_are_switched_off_it_says_so(tmp_path: Path) -> None:
    site = write_site(tmp_path, free_port(), "http://127.0.0.1:9/ana", "\n[messages]\ntest = false\n")
    refused = confirm(site, "ana")
    assert refused.exit_code == 2
    assert "switched off" in refused.stderr


def test_the_whole_way_from_the_calendar_over_a_receiver_to_a_press(tmp_path: Path) -> None:
    """Real outbox, courier, HTTP receiver and page server; only the time is the test's own."""
    port = free_port()
    with Receiver() as receiver:
        folder = write_site(tmp_path / "site", 1883, receiver.url("/ana"))
        with (folder / "settings.toml").open("a", encoding="utf-8") as settings:
            settings.write(f'public_url = "http://127.0.0.1:{port}"\n')
        with new_journal(folder / "data" / "journal.sqlite3") as journal:
            house = LetteredHouse(journal, folder, local_ms("2026-11-25T12:00"))
            desk = TrialDesk(journal, house.site, house.clock.now_ms)
            server = PageServer(create_app(house.overview, arrivals=desk), "127.0.0.1", port)
            courier = Courier(journal, channels(house.site, folder, 5.0), house.clock.now_ms)
            server.start()
            courier.start()
            try:
                house.at("2026-11-29T18:00")
                courier.wake()
                wait_until(lambda: len(receiver.received) == 2 and nothing_waits(journal), "test and digest", 20)
                sent = next(each.json() for each in receiver.received if each.json()["kind"] == "test")
                assert sent["headline"].split()[0] == "TEST:"
                assert sent["body"].splitlines()[-1] == sent["acknowledge_url"]
                assert "It arrived" in httpx.get(sent["acknowledge_url"], timeout=60).text
                assert trials_confirmed(journal) == [None]
                house.clock.at_ms += 60_000
                pressed = httpx.post(sent["acknowledge_url"], data={"answer": "arrived"}, timeout=60)
                assert "Noted, Ana: it arrived" in pressed.text
                assert trials_confirmed(journal) == [house.clock.at_ms]
            finally:
                courier.stop()
                server.stop()


def nothing_waits(journal: Journal) -> bool:
    with journal.read() as conn:
        return outbox.totals(conn)["waiting"] == 0


def trials_confirmed(journal: Journal) -> list[int | None]:
    with journal.read() as conn:
        newest = trials.newest(conn, "ana/0")
    return [] if newest is None else [newest.confirmed_at_ms]
