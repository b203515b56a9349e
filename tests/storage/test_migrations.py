"""A journal is brought up to this program's schema, or refused untouched."""

import sqlite3
import stat
import threading
from pathlib import Path

import pytest

from daemon.storage import status
from daemon.storage.connections import connect
from daemon.storage.journal import Journal, JournalError
from daemon.storage.migrations import MIGRATIONS, Migration, migrate


def applied(conn: sqlite3.Connection) -> list[tuple[int, str]]:
    return conn.execute("SELECT number, name FROM migration ORDER BY number").fetchall()


def tables(conn: sqlite3.Connection) -> set[str]:
    return {name for (name,) in conn.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}


def test_an_empty_file_becomes_a_journal_and_opens_again_with_what_it_holds(path: Path) -> None:
    path.touch()
    with Journal.open(path) as journal:
        journal.write(lambda conn: status.set_probe_status(conn, "north-air", online=False, at_ms=7))
    with Journal.open(path) as journal, journal.read() as conn:
        assert status.probe_statuses(conn) == {"north-air": (False, 7)}
        assert applied(conn) == [(one.number, one.name) for one in MIGRATIONS]


def test_folders_are_made_and_the_file_is_the_owners_alone(tmp_path: Path) -> None:
    path = tmp_path / "data" / "deep" / "journal.sqlite3"
    with Journal.open(path) as journal:
        journal.write(lambda conn: status.set_probe_status(conn, "north-air", online=True, at_ms=1))
        modes = {file.name: stat.S_IMODE(file.stat().st_mode) for file in path.parent.iterdir()}
    assert modes == {path.name: 0o600, f"{path.name}-wal": 0o600, f"{path.name}-shm": 0o600}


def test_a_later_migration_is_added_to_an_older_journal_and_keeps_its_rows(path: Path) -> None:
    conn = connect(path, 1)
    first, second = Migration(1, "one", ("CREATE TABLE egg (n)",)), Migration(2, "two", ("CREATE TABLE box (n)",))
    migrate(conn, "here", [first])
    conn.execute("INSERT INTO egg VALUES (5)")
    migrate(conn, "here", [second, first])
    assert applied(conn) == [(1, "one"), (2, "two")]
    assert conn.execute("SELECT n FROM egg").fetchall() == [(5,)]
    conn.close()


def test_a_migration_that_fails_leaves_neither_its_tables_nor_its_record(path: Path) -> None:
    conn = connect(path, 1)
    first = Migration(1, "one", ("CREATE TABLE egg (n)",))
    broken = Migration(2, "two", ("CREATE TABLE box (n)", "CREATE TABLE egg (n)"))
    with pytest.raises(sqlite3.OperationalError, match="egg already exists"):
        migrate(conn, "here", [first, broken])
    assert applied(conn) == [(1, "one")]
    assert "box" not in tables(conn)
    assert not conn.in_transaction
    conn.close()


def test_migration_numbers_are_their_order() -> None:
    assert [one.number for one in MIGRATIONS] == list(range(1, len(MIGRATIONS) + 1))


def test_a_journal_of_a_newer_program_is_refused_untouched(path: Path) -> None:
    with Journal.open(path):
        pass
    conn = connect(path, 1)
    conn.execute("INSERT INTO migration (number, name) VALUES (99, 'from the future')")
    conn.close()
    before = path.read_bytes()
    with pytest.raises(JournalError, match="newer version") as caught:
        Journal.open(path)
    assert "schema 99" in str(caught.value)
    assert path.read_bytes() == before


def test_a_database_of_another_program_is_refused_untouched(path: Path) -> None:
    conn = connect(path, 1)
    conn.execute("CREATE TABLE recipes (name)")
    conn.close()
    before = path.read_bytes()
    with pytest.raises(JournalError, match="another program"):
        Journal.open(path)
    assert path.read_bytes() == before
    assert [file.name for file in path.parent.iterdir()] == [path.name]


def test_several_openers_of_a_new_file_at_once_all_get_it(path: Path) -> None:
    start = threading.Barrier(6)
    failures: list[BaseException] = []

    def open_it() -> None:
        start.wait(10)
        try:
            with Journal.open(path):
                pass
        except JournalError as error:
            failures.append(error)

    threads = [threading.Thread(target=open_it) for _ in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failures == []


@pytest.mark.parametrize("table", ["sample", "placement", "register_change", "alarm_event"])
def test_tables_that_only_grow_have_both_triggers(journal: Journal, table: str) -> None:
    with journal.read() as conn:
        triggers = {
            name
            for (name,) in conn.execute(
                "SELECT name FROM sqlite_master WHERE type = 'trigger' AND tbl_name = ?", (table,)
            )
        }
    assert {f"{table}_refuses_update", f"{table}_refuses_delete"} <= triggers
