"""A backup is the journal as it was at one moment, with what the keeper stated and no secret."""

import json
import os
import resource
import shutil
import sqlite3
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from daemon import backup_check, backup_folder, backup_maker
from daemon.backup_folder import Seen
from daemon.backup_maker import Source, one_at_a_time
from daemon.backup_task import BackupTask
from daemon.backups.errors import BackupError, BackupStoppedError
from daemon.backups.names import JOURNAL, MANIFEST, MARKER
from daemon.storage.backup import open_copy
from daemon.storage.journal import Journal
from daemon.storage.migrations import MIGRATIONS
from tests.backups.house import PHOTO, READINGS, START_MS, BackedUp, add_photo, rows


def test_a_backup_holds_every_row_and_says_how_many(house: BackedUp) -> None:
    made = house.back_up()
    place = house.backups / made.name
    assert made.counts["sample"] == READINGS
    assert made.counts["clutch"] == 1
    assert made.newest_reading_ms == START_MS + 1000 * (READINGS - 1)
    assert made.schema == MIGRATIONS[-1].number
    assert backup_check.check(place, BackupTask())[1:] == ((), ())
    assert rows(Path(shutil.copy(place / JOURNAL, house.folder / "copy"))) == rows(house.journal.path)


def test_one_file_is_enough_to_read_it(house: BackedUp) -> None:
    """Bytes 18 and 19 say whether a write-ahead log belongs to it: https://www.sqlite.org/fileformat2.html, 1.3.2."""
    place = house.backups / house.back_up().name
    assert (place / JOURNAL).read_bytes()[18:20] == b"\x01\x01"
    assert sorted(each.name for each in place.iterdir()) == [JOURNAL, MANIFEST, "settings.toml", "site.toml"]


def test_nobody_else_may_read_it(house: BackedUp) -> None:
    place = house.backups / house.back_up().name
    assert place.stat().st_mode & 0o077 == 0
    assert {each.name for each in place.iterdir() if each.stat().st_mode & 0o077} == set()


def test_no_secret_is_in_what_the_keeper_stated(house: BackedUp) -> None:
    settings = house.site / "settings.toml"
    stated = settings.read_text().replace("[broker]\n", '[broker]\nusername = "x"\npassword = "S3CRET-PASSWORD"\n')
    settings.write_text(stated + '[heartbeat]\nurl = "http://x.example/S3CRET-BEAT"\n# password = "S3CRET-OLD"\n')
    (house.site / "profiles" / "mine.toml").write_text("id = 'mine'\n")
    place = house.backups / house.back_up().name
    texts = [each.read_text() for each in place.rglob("*") if each.suffix in (".toml", ".json")]
    assert len(texts) == 4
    assert not [text for text in texts if "S3CRET" in text]
    assert 'username = "x"' in (place / "settings.toml").read_text()
    assert "North cabinet" in (place / "site.toml").read_text()
    assert (place / "profiles" / "mine.toml").read_text() == "id = 'mine'\n"


def test_what_is_stored_while_the_copy_goes_on_is_in_the_next_one(house: BackedUp) -> None:
    """All counts are of one moment, and the copy holds exactly these."""
    stored: list[int] = []

    def store_meanwhile(what: str, _share: float) -> None:
        if what == "Copying the journal":
            house.store(READINGS + 100 * len(stored), 100)
            stored.append(1)

    made = house.back_up(BackupTask(store_meanwhile))
    assert len(stored) > 1
    assert made.counts["sample"] == READINGS
    with open_copy(house.backups / made.name / JOURNAL) as conn:
        assert conn.execute("SELECT count(*) FROM sample").fetchone() == (READINGS,)
    assert house.back_up().counts["sample"] == READINGS + 100 * len(stored)


def test_writers_that_never_rest_neither_end_nor_tear_it(house: BackedUp) -> None:
    ending = threading.Event()

    def write() -> None:
        number = READINGS
        while not ending.is_set():
            house.store(number, 50)
            number += 50

    thread = threading.Thread(target=write)
    thread.start()
    try:
        made = [house.back_up() for _ in range(3)]
    finally:
        ending.set()
        thread.join()
    for each in made:
        assert each.counts["sample"] % 50 == 0
        assert backup_check.check(house.backups / each.name, BackupTask()).wrong == ()


def test_a_photo_is_kept_once_for_all_backups(house: BackedUp) -> None:
    add_photo(house.journal)
    first = house.back_up()
    there = house.backups / "photos" / "2026" / "one.jpg"
    assert there.read_bytes() == PHOTO
    number = there.stat().st_ino
    second = house.back_up()
    assert (first.photos, second.photos) == (1, 1)
    assert there.stat().st_ino == number
    assert not list((house.backups / second.name).rglob("*.jpg"))


def test_a_photo_that_is_damaged_beside_the_journal_is_told_and_the_rest_is_there(house: BackedUp) -> None:
    add_photo(house.journal)
    (house.journal.path.parent / "photos" / "2026" / "one.jpg").write_bytes(b"x")
    made = house.back_up()
    assert any("2026/one.jpg" in each for each in made.warnings)
    assert not (house.backups / "photos" / "2026" / "one.jpg").exists()
    found = backup_check.check(house.backups / made.name, BackupTask())
    assert (found.wrong, found.photos_wrong) == ((), ("2026/one.jpg",))


def test_a_share_that_is_not_mounted_is_not_filled(house: BackedUp) -> None:
    (house.backups / MARKER).unlink()
    with pytest.raises(BackupError, match="without clutchwarden-backups") as caught:
        house.back_up()
    assert "backup --set-up" in caught.value.hint
    assert house.names() == []
    shutil.rmtree(house.backups)
    with pytest.raises(BackupError, match="is not there"):
        house.back_up()
    assert not house.backups.exists()


def test_a_folder_is_set_up_once_and_not_below_one_that_is_missing(tmp_path: Path) -> None:
    assert backup_folder.set_up(tmp_path / "new", "Test house")
    assert not backup_folder.set_up(tmp_path / "new", "Test house")
    with pytest.raises(BackupError, match="the folder above it is not there") as caught:
        backup_folder.set_up(tmp_path / "slip" / "new", "Test house")
    assert caught.value.given


def test_a_folder_that_may_not_be_written_is_told() -> None:
    """Nobody can make a folder there, the administrator neither."""
    with pytest.raises(BackupError, match="nothing may be written there"):
        backup_folder.set_up(Path("/sys/clutchwarden-backups"), "Test house")


def test_a_prepared_folder_that_the_service_may_not_write_to_is_not_to_be_prepared_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As below ProtectSystem=strict of systemd.exec(5), where access(2) says no to root too."""
    backup_folder.set_up(tmp_path / "new", "Test house")
    monkeypatch.setattr(os, "access", lambda _path, _mode: False)
    with pytest.raises(BackupError, match="nothing may be written into") as caught:
        backup_folder.ready(tmp_path / "new", tmp_path / "journal.sqlite3")
    assert "ReadWritePaths=" in caught.value.hint
    assert "--set-up" not in caught.value.hint


def test_too_little_room_is_told_before_anything_is_written() -> None:
    with pytest.raises(BackupError, match=r"it needs 216 MB, and 100 MB are free"):
        backup_maker._refuse_full(Seen("", free_bytes=100_000_000), 200_000_000, Path("/backups"))
    backup_maker._refuse_full(Seen("", free_bytes=216_000_000), 200_000_000, Path("/backups"))


def child_has_a_disk_that_takes_no_more(folder: Path) -> None:
    """Let the system refuse what goes beyond a size, as a full share does."""
    with Journal.open(folder / "site" / "data" / "journal.sqlite3") as journal:
        resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, resource.getrlimit(resource.RLIMIT_FSIZE)[1]))
        source = Source(folder / "site", "Test house", "0.1.0")
        try:
            backup_maker.make(journal, source, folder / "backups", START_MS, BackupTask())
        except BackupError as error:
            sys.stdout.write(str(error))


def test_a_disk_that_fills_up_meanwhile_is_told_and_nothing_half_made_stays(house: BackedUp) -> None:
    house.journal.close()
    done = subprocess.run(
        [sys.executable, "-m", "tests.backups.test_making", str(house.folder)],
        capture_output=True,
        text=True,
        check=True,
        timeout=60,
    )
    assert "cannot copy the journal" in done.stdout
    assert "input/output error" in done.stdout
    assert house.names() == [MARKER]


def test_one_that_is_told_to_end_leaves_nothing(house: BackedUp) -> None:
    task = BackupTask(lambda *_: task.stop())
    with pytest.raises(BackupStoppedError):
        house.back_up(task)
    assert house.names() == [MARKER]


def test_two_at_a_time_are_refused(house: BackedUp) -> None:
    with one_at_a_time(house.journal.path), pytest.raises(BackupError, match="another backup"):
        house.back_up()


def test_a_journal_that_is_damaged_gives_no_backup(house: BackedUp) -> None:
    """An index that misses a row: nothing but a look at all of it finds that."""
    house.journal.close()
    conn = sqlite3.connect(house.journal.path)
    conn.execute("PRAGMA writable_schema = ON")
    conn.execute("UPDATE sqlite_master SET sql = replace(sql, '(good, run_id)', '(run_id, good)') WHERE type = 'index'")
    conn.execute("INSERT INTO backup_run VALUES (1, 5, 6, '', '', 1, 0, '')")
    conn.execute("INSERT INTO backup_run VALUES (2, 5, 6, '', '', 0, 0, '')")
    conn.commit()
    conn.close()
    with Journal.open(house.journal.path) as journal:
        house.journal = journal
        with pytest.raises(BackupError, match="the copy is not whole: its journal is damaged"):
            house.back_up()
    assert house.names() == [MARKER]


def test_the_manifest_is_plain_json_with_a_hash_of_every_file(house: BackedUp) -> None:
    made = house.back_up()
    said = json.loads((house.backups / made.name / MANIFEST).read_text())
    assert said["what"] == "clutchwarden backup"
    assert said["site"] == "Test house"
    assert {each["name"] for each in said["files"]} == {JOURNAL, "settings.toml", "site.toml"}
    assert said["made_at"] == f"{made.name[:13]}:{made.name[13:15]}:{made.name[15:17]}Z"


if __name__ == "__main__":
    child_has_a_disk_that_takes_no_more(Path(sys.argv[1]))
