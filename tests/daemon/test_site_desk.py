"""Changes of site.toml by a page: checked, whole, on record, and never with an address in the open."""

import stat
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from config.site_edit import NewContact, NewProbe, add_contact, add_probe, change_probe, remove_probe
from config.words import Quantity
from daemon.site_desk import NOTHING_IN_THE_DEMO, Changed, NotChanged
from daemon.storage import samples
from daemon.storage.journal import Journal
from sensors.reading import ChannelKey
from tests.daemon.site_desked import ADDRESS, BOX, NOW_MS, TOKEN, Desked, reasons
from tests.support.journals import new_journal


@pytest.fixture
def journal(tmp_path: Path) -> Iterator[Journal]:
    with new_journal(tmp_path / "journal.sqlite3") as opened:
        yield opened


@pytest.fixture
def desked(tmp_path: Path, journal: Journal) -> Desked:
    return Desked(tmp_path / "site", journal)


def test_a_change_is_in_the_file_on_record_and_taken_up(desked: Desked) -> None:
    before = desked.text
    done = desked.add()
    assert isinstance(done, Changed)
    assert desked.text == add_probe(before, BOX)
    assert done.mark == desked.desk.mark()
    assert desked.starts == 1
    assert desked.left_over() == []
    [event] = desked.record()
    change = event.change
    assert (change.who, change.from_where, change.what, change.about) == ("mara", "192.0.2.7", "site", "probe added")
    assert (change.why, event.at_ms) == ("new box", NOW_MS)
    assert "box-n1" in change.new["text"]
    assert "box-n1" not in change.old["text"]
    assert TOKEN not in repr(event)


def test_the_mode_of_the_file_stays_and_a_link_stays_a_link(desked: Desked) -> None:
    real = desked.folder.parent / "real.toml"
    (desked.folder / "site.toml").rename(real)
    (desked.folder / "site.toml").symlink_to(real)
    real.chmod(0o640)
    assert isinstance(desked.add(), Changed)
    assert (desked.folder / "site.toml").is_symlink()
    assert "box-n1" in real.read_text(encoding="utf-8")
    assert stat.S_IMODE(real.stat().st_mode) == 0o640


def test_what_the_rules_of_the_file_refuse_changes_nothing(desked: Desked) -> None:
    before = desked.text
    done = desked.add(probe=NewProbe("north-air", "nowhere", 60.0, BOX.channels))
    assert "stands here 2 times" in reasons(done)
    assert "there is no place" in reasons(done)
    assert (desked.text, desked.starts, desked.record(), desked.left_over()) == (before, 0, [], [])


def test_a_file_that_somebody_changed_meanwhile_is_left_to_them(desked: Desked) -> None:
    seen = desked.desk.mark()
    with (desked.folder / "site.toml").open("a", encoding="utf-8") as file:
        file.write("# by hand\n")
    done = desked.add(seen)
    assert isinstance(done, NotChanged)
    assert done.outdated
    assert "changed since this page was made" in reasons(done)
    assert "box-n1" not in desked.text
    assert isinstance(desked.add(), Changed)
    assert "# by hand" in desked.text


def test_of_two_changes_made_from_one_page_at_once_one_is_done(desked: Desked) -> None:
    seen = desked.desk.mark()
    done: list[Changed | NotChanged] = []
    probes = [NewProbe(f"box-{name}", place, 60.0, BOX.channels) for name, place in (("a", "north"), ("b", "room"))]
    threads = [threading.Thread(target=lambda p=probe: done.append(desked.add(seen, p))) for probe in probes]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(isinstance(each, Changed) for each in done) == [False, True]
    assert desked.text.count('id = "box-') == 1


def test_a_channel_that_the_journal_holds_as_something_else_is_refused_before_it_stops_the_daemon(
    desked: Desked,
) -> None:
    humid = ChannelKey("box-n1/t", "box-n1", "t", Quantity.RELATIVE_HUMIDITY)
    desked.journal.write(lambda conn: samples.channel_ids(conn, [humid]))
    assert "the journal holds box-n1/t as relative_humidity" in reasons(desked.add())
    assert desked.starts == 0


def test_mistakes_in_the_other_files_are_told_before_they_keep_it_from_starting(desked: Desked) -> None:
    (desked.folder / "settings.toml").write_text("[broker]\nport = 0\n", encoding="utf-8")
    before = desked.text
    assert isinstance(desked.add(), NotChanged)
    assert desked.text == before


def test_an_address_goes_into_a_file_for_us_alone_and_nowhere_else(desked: Desked) -> None:
    name = desked.desk.free_secret("ana")
    assert name == "secrets/ana-1"
    contact = NewContact("webhook", name)
    done = desked.desk.change(
        "mara",
        "host",
        "a contact for ana",
        lambda text: add_contact(text, "ana", contact),
        "",
        desked.desk.mark(),
        {name: f"  {ADDRESS}\n"},
    )
    assert isinstance(done, Changed)
    kept = desked.folder / name
    assert kept.read_text(encoding="utf-8").strip() == ADDRESS
    assert stat.S_IMODE(kept.stat().st_mode) == 0o600
    assert stat.S_IMODE(kept.parent.stat().st_mode) == 0o700
    assert TOKEN not in repr(desked.record())
    assert ADDRESS not in desked.text
    assert desked.desk.free_secret("ana") == "secrets/ana-2"


@pytest.mark.parametrize("address", ["no address", "", f"ftp://x/{TOKEN}"])
def test_an_address_that_cannot_be_used_is_not_kept_and_not_repeated(desked: Desked, address: str) -> None:
    name = desked.desk.free_secret("ana")
    done = desked.desk.change(
        "mara",
        "host",
        "a contact",
        lambda text: add_contact(text, "ana", NewContact("webhook", name)),
        "",
        desked.desk.mark(),
        {name: address},
    )
    assert TOKEN not in reasons(done)
    assert not (desked.folder / name).exists()


def test_in_the_demo_nothing_is_changed(tmp_path: Path, journal: Journal) -> None:
    desked = Desked(tmp_path / "site", journal, NOTHING_IN_THE_DEMO)
    before = desked.text
    assert "demo" in reasons(desked.add())
    assert (desked.text, desked.starts) == (before, 0)


def test_a_change_and_its_opposite_leave_the_file_as_somebody_wrote_it(desked: Desked) -> None:
    before = desked.text
    edits = (
        lambda text: change_probe(text, "north-air", interval_s=30),
        lambda text: change_probe(text, "north-air", interval_s=60),
        lambda text: add_probe(text, BOX),
        lambda text: remove_probe(text, BOX.id),
    )
    for edit in edits:
        assert isinstance(desked.desk.change("m", "host", "x", edit, "", desked.desk.mark()), Changed)
    assert desked.text == before
    assert len(desked.record()) == 4


def test_a_long_id_of_a_person_makes_no_name_that_a_file_system_refuses(desked: Desked) -> None:
    name = desked.desk.free_secret("a" * 300)
    assert len(Path(name).name) < 64


def test_a_form_that_is_saved_as_it_was_interrupts_nothing(desked: Desked) -> None:
    before = desked.text
    done = desked.desk.change(
        "mara", "host", "x", lambda text: change_probe(text, "north-air", interval_s=60), "", desked.desk.mark()
    )
    assert isinstance(done, Changed)
    assert (desked.text, desked.record(), desked.starts) == (before, [], 0)
