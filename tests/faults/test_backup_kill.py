"""A process that is killed while it backs up, restores or migrates: nothing half-made is ever taken for whole."""

import random
import signal
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

import pytest

from daemon import backup_check, backup_folder, backup_maker, backup_restore
from daemon.backup_maker import Source
from daemon.backup_task import BackupTask
from daemon.backup_trial import try_restore
from daemon.backups.names import MARKER
from daemon.clock import SystemClock
from daemon.storage.connections import connect
from daemon.storage.journal import Journal
from daemon.storage.migrations import MIGRATIONS, Migration, migrate
from tests.backups.house import BackedUp, add_photo, backed_up, rows

ROOT = Path(__file__).parents[2]
PARTS = ("Copying the journal", "Copying photos", "Checking the copy", "Reading it back")
RESTORING = ("Copying", "Checking the copy", "Copying photos")


def _say(text: str) -> None:
    sys.stdout.write(f"{text}\n")
    sys.stdout.flush()


def _stopping_at(part: str) -> BackupTask:
    """Wait for ever where this part of the work has begun."""

    def told(what: str, _share: float) -> None:
        if what == part:
            _say(part)
            sys.stdin.read()

    return BackupTask(told)


def child_backs_up(folder: Path, part: str) -> None:
    with Journal.open(folder / "site" / "data" / "journal.sqlite3") as journal:
        source = Source(folder / "site", "Test house", "0.1.0")
        now_ms = SystemClock().now_ms()
        backup_maker.make(journal, source, folder / "backups", now_ms, _stopping_at(part))


def child_backs_up_again_and_again(folder: Path, _part: str) -> None:
    """Say the name of each backup once it is made."""
    with Journal.open(folder / "site" / "data" / "journal.sqlite3") as journal:
        source, now_ms = Source(folder / "site", "Test house", "0.1.0"), SystemClock().now_ms()
        _say("begun")
        while True:
            now_ms += 60_000
            _say(backup_maker.make(journal, source, folder / "backups", now_ms, BackupTask()).name)


def child_restores(folder: Path, part: str) -> None:
    [place] = [each for each in (folder / "backups").iterdir() if each.name.startswith("2")]
    backup_restore.restore(place, folder / "again", _stopping_at(part))


def child_migrates(folder: Path, _part: str) -> None:
    """Stop in the middle of a migration, with its first table made."""

    def wait() -> int:
        _say("in the middle")
        sys.stdin.read()
        return 1

    conn = connect(folder / "journal.sqlite3", 1)
    conn.create_function("wait_here", 0, wait)
    migrate(conn, "here", _with_one_more("INSERT INTO new_table VALUES (wait_here())"))


def _with_one_more(second: str) -> list[Migration]:
    number = MIGRATIONS[-1].number + 1
    return [*MIGRATIONS, Migration(number, "one more", ("CREATE TABLE new_table (n)", second))]


@contextmanager
def _child(name: str, folder: Path, part: str = "") -> Iterator[tuple[subprocess.Popen[str], IO[str]]]:
    process = subprocess.Popen(
        [sys.executable, "-m", "tests.faults.test_backup_kill", name, str(folder), part],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        cwd=ROOT,
    )
    assert process.stdout is not None
    try:
        yield process, process.stdout
    finally:
        process.kill()
        process.communicate()


def _kill_at(name: str, folder: Path, part: str) -> None:
    with _child(name, folder, part) as (process, output):
        assert output.readline() == f"{part}\n"
        process.send_signal(signal.SIGKILL)
        process.wait()


@pytest.fixture
def house(tmp_path: Path) -> Iterator[BackedUp]:
    with backed_up(tmp_path) as made:
        add_photo(made.journal)
        yield made


@pytest.mark.parametrize("part", PARTS)
def test_a_backup_that_was_cut_off_is_none_and_the_next_one_clears_it_away(house: BackedUp, part: str) -> None:
    house.journal.close()
    _kill_at("child_backs_up", house.folder, part)
    assert backup_folder.listed(house.backups) == []
    left = [each for each in house.names() if each.startswith(".unfinished-")]
    assert len(left) == 1
    with Journal.open(house.journal.path) as journal:
        made = backup_maker.make(journal, house.source, house.backups, house.now_ms, BackupTask())
    assert house.names() == sorted([MARKER, made.name, "photos"])
    found = backup_check.check(house.backups / made.name, BackupTask())
    assert (found.wrong, found.photos_wrong) == ((), ())


@pytest.mark.parametrize("lines", random.Random(2026).sample(range(1, 9), 4))
def test_every_backup_that_has_a_name_after_a_kill_at_any_moment_is_whole(house: BackedUp, lines: int) -> None:
    house.journal.close()
    with _child("child_backs_up_again_and_again", house.folder) as (process, output):
        said = [output.readline().strip() for _ in range(lines)][1:]
        process.send_signal(signal.SIGKILL)
        said += output.read().split()
    listed = backup_folder.listed(house.backups)
    names = {each.name for each in listed}
    assert set(said) - {"begun"} <= names
    for each in listed:
        found = backup_check.check(house.backups / each.name, BackupTask())
        assert (each.problem, found.wrong, found.photos_wrong) == ("", (), ())


@pytest.mark.parametrize("part", RESTORING)
def test_a_restore_that_was_cut_off_is_no_site_and_the_next_one_clears_it_away(house: BackedUp, part: str) -> None:
    place = house.backups / house.back_up().name
    _kill_at("child_restores", house.folder, part)
    assert not (house.folder / "again").exists()
    left = [each.name for each in house.folder.iterdir() if "again" in each.name]
    assert left == [".again.unfinished-restore"]
    done = backup_restore.restore(place, house.folder / "again", BackupTask())
    assert rows(done.journal)["sample"] == rows(house.journal.path)["sample"]
    assert [each.name for each in house.folder.iterdir() if "again" in each.name] == ["again"]


def test_what_a_restore_test_left_that_was_cut_off_is_cleared_away_by_the_next(house: BackedUp) -> None:
    place = house.backups / house.back_up().name
    beside = house.journal.path.parent
    (beside / ".restore-test").mkdir()
    (beside / ".restore-test" / "half").write_text("x")
    (beside / ".restore-test.unfinished-restore").mkdir()
    assert try_restore(house.journal, place, lambda: house.now_ms, house.zone, BackupTask())
    assert [each.name for each in beside.iterdir() if "restore" in each.name] == []


def test_a_migration_that_was_cut_off_has_not_happened_and_the_next_start_makes_it(tmp_path: Path) -> None:
    path = tmp_path / "journal.sqlite3"
    with Journal.open(path):
        pass
    with _child("child_migrates", tmp_path) as (process, output):
        assert output.readline() == "in the middle\n"
        process.send_signal(signal.SIGKILL)
        process.wait()
    conn = sqlite3.connect(path, isolation_level=None)
    tables = "SELECT count(*) FROM sqlite_master WHERE name = 'new_table'"
    assert conn.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    assert conn.execute(tables).fetchone() == (0,)
    assert conn.execute("SELECT max(number) FROM migration").fetchone() == (MIGRATIONS[-1].number,)
    migrate(conn, "here", _with_one_more("INSERT INTO new_table VALUES (1)"))
    assert conn.execute("SELECT n FROM new_table").fetchall() == [(1,)]
    conn.close()


if __name__ == "__main__":
    globals()[sys.argv[1]](Path(sys.argv[2]), sys.argv[3])
