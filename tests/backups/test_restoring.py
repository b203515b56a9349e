"""What comes out of a backup is what went in, and nothing that was there is ever overwritten."""

import shutil
from pathlib import Path

import pytest

from config.check import check_site
from config.settings import load_settings
from daemon import backup_check, backup_restore
from daemon.backup_contents import contents_text, read_contents
from daemon.backup_task import BackupTask
from daemon.backups.errors import BackupError
from daemon.backups.manifest import from_json, to_json
from daemon.backups.names import JOURNAL, MANIFEST
from tests.backups.house import PHOTO, READINGS, BackedUp, add_photo, rows


@pytest.fixture
def place(house: BackedUp) -> Path:
    add_photo(house.journal)
    return house.backups / house.back_up().name


def restore(place: Path, target: Path) -> backup_restore.Restored:
    return backup_restore.restore(place, target, BackupTask())


def test_every_row_and_photo_comes_back(house: BackedUp, place: Path, tmp_path: Path) -> None:
    before = rows(house.journal.path)
    done = restore(place, tmp_path / "again")
    assert (done.lost, done.warnings) == ("", ())
    assert done.journal == tmp_path / "again" / "data" / "journal.sqlite3"
    assert rows(done.journal) == before
    assert (done.journal.parent / "photos" / "2026" / "one.jpg").read_bytes() == PHOTO
    assert load_settings(done.folder).storage.journal == done.journal
    checked = check_site(done.folder)
    assert checked.site is None or checked.site.name == "Test house"


def test_it_says_what_is_in_it(place: Path, tmp_path: Path) -> None:
    found = read_contents(restore(place, tmp_path / "again").journal)
    assert (found.readings, found.photos, list(found.open_clutches), found.closed_clutches) == (
        READINGS,
        1,
        ["Juniper"],
        0,
    )
    from zoneinfo import ZoneInfo

    # The newest reading is 499 s after 1,790,000,000 s, which is 21 September 2026, 14:13:20 UTC.
    assert contents_text(found, ZoneInfo("Europe/Madrid")) == (
        "500 readings, the newest of 2026-09-21 16:21; 1 open clutch, 0 closed; 1 photo"
    )


@pytest.mark.parametrize("what", ["file", "full folder"])
def test_nothing_is_overwritten(place: Path, tmp_path: Path, what: str) -> None:
    target = tmp_path / "taken"
    if what == "file":
        target.write_text("mine")
    else:
        target.mkdir()
        (target / "mine").write_text("mine")
    with pytest.raises(BackupError, match="nothing was restored") as caught:
        restore(place, target)
    assert caught.value.given
    assert (target if what == "file" else target / "mine").read_text() == "mine"


def test_an_empty_folder_may_be_filled(place: Path, tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    assert restore(place, tmp_path / "empty").journal.exists()


def _a_byte(place: Path) -> None:
    path = place / JOURNAL
    data = bytearray(path.read_bytes())
    data[len(data) // 2] ^= 1
    path.write_bytes(data)


def _shorter(place: Path) -> None:
    (place / JOURNAL).write_bytes((place / JOURNAL).read_bytes()[:-4096])


def _no_manifest(place: Path) -> None:
    (place / MANIFEST).unlink()


def _no_journal(place: Path) -> None:
    (place / JOURNAL).unlink()


def _half_a_manifest(place: Path) -> None:
    (place / MANIFEST).write_text((place / MANIFEST).read_text()[:200])


@pytest.mark.parametrize("damage", [_a_byte, _shorter, _no_manifest, _no_journal, _half_a_manifest])
def test_a_damaged_backup_is_told_and_leaves_nothing(place: Path, tmp_path: Path, damage: object) -> None:
    damage(place)  # type: ignore[operator]
    with pytest.raises(BackupError) as caught:
        restore(place, tmp_path / "again")
    assert not caught.value.given
    assert "older backup" in caught.value.hint
    assert [each.name for each in tmp_path.iterdir() if "again" in each.name] == []


def test_a_byte_that_changed_is_found_by_a_check_as_well(place: Path) -> None:
    _a_byte(place)
    found = backup_check.check(place, BackupTask())
    assert found.wrong[0] == "its file journal.sqlite3 is not as it was written"


def test_one_of_a_newer_version_is_refused_with_what_to_do(place: Path, tmp_path: Path) -> None:
    from dataclasses import replace

    manifest = from_json((place / MANIFEST).read_text())
    (place / MANIFEST).write_text(to_json(replace(manifest, schema=99)))
    with pytest.raises(BackupError, match=r"newer version of clutchwarden made it \(schema 99") as caught:
        restore(place, tmp_path / "again")
    assert "Install that version" in caught.value.hint


def test_photos_that_are_gone_do_not_keep_the_record_from_coming_back(place: Path, tmp_path: Path) -> None:
    shutil.rmtree(place.parent / "photos")
    done = restore(place, tmp_path / "again")
    assert read_contents(done.journal).readings == READINGS
    assert "1 of 1 photos are missing" in done.lost


def test_a_journal_outside_of_the_site_folder_comes_back_into_the_folder(house: BackedUp, tmp_path: Path) -> None:
    """Else a restored site would write into the old journal."""
    settings = house.site / "settings.toml"
    settings.write_text(settings.read_text() + f'[storage]\njournal = "{house.journal.path}"\n')
    done = restore(house.backups / house.back_up().name, tmp_path / "again")
    assert load_settings(done.folder).storage.journal == done.journal
    assert done.journal.is_relative_to(tmp_path / "again")
    assert any("outside of the site folder" in each for each in done.warnings)


def test_a_restored_journal_goes_on_with_the_same_backups(house: BackedUp, place: Path, tmp_path: Path) -> None:
    from daemon.backup_maker import Source, make
    from daemon.storage.journal import Journal

    done = restore(place, tmp_path / "again")
    with Journal.open(done.journal) as journal:
        made = make(
            journal, Source(done.folder, "Test house", "0.1.0"), house.backups, house.now_ms + 1000, BackupTask()
        )
    assert made.name.endswith(place.name[-8:])
    assert made.counts["sample"] == READINGS
