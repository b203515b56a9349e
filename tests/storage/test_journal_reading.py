"""Readers only read, see one moment, and leave nothing open."""

import sqlite3
import threading
from pathlib import Path

import pytest

from daemon.storage import status
from daemon.storage.journal import Journal, JournalError


def open_files() -> int:
    return sum(1 for _ in Path("/proc/self/fd").iterdir())


def say_online(journal: Journal, probe: str) -> None:
    journal.write(lambda conn: status.set_probe_status(conn, probe, online=True, at_ms=1))


def test_a_reader_cannot_write(journal: Journal) -> None:
    with pytest.raises(JournalError, match="may only be read"), journal.read() as conn:
        status.set_probe_status(conn, "north-air", online=True, at_ms=1)
    with journal.read() as conn:
        assert status.probe_statuses(conn) == {}


def test_one_block_sees_one_moment_and_the_next_block_sees_what_came_since(journal: Journal) -> None:
    with journal.read() as conn:
        assert status.probe_statuses(conn) == {}
        say_online(journal, "north-air")
        assert status.probe_statuses(conn) == {}
    with journal.read() as conn:
        assert status.probe_statuses(conn) == {"north-air": (True, 1)}


def test_two_threads_never_share_a_connection(journal: Journal) -> None:
    meeting = threading.Barrier(4)
    seen: list[int] = []

    def look() -> None:
        with journal.read() as conn:
            seen.append(id(conn))
            meeting.wait(10)

    threads = [threading.Thread(target=look) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(set(seen)) == 4


def test_an_error_of_the_block_reaches_the_caller_and_reading_goes_on(journal: Journal) -> None:
    with pytest.raises(ValueError, match="mine"), journal.read():
        raise ValueError("mine")
    with pytest.raises(sqlite3.OperationalError, match="no such table"), journal.read() as conn:
        conn.execute("SELECT * FROM incubators_of_mars")
    with journal.read() as conn:
        assert conn.execute("SELECT 1").fetchone() == (1,)


def test_a_block_that_outlives_the_journal_can_finish(path: Path) -> None:
    journal = Journal.open(path)
    say_online(journal, "north-air")
    with journal.read() as conn:
        journal.close()
        assert status.probe_statuses(conn) == {"north-air": (True, 1)}
    with pytest.raises(sqlite3.ProgrammingError, match="closed database"):
        conn.execute("SELECT 1")


@pytest.mark.skipif(not Path("/proc/self/fd").exists(), reason="counts open files the way Linux shows them")
def test_opening_reading_and_closing_again_and_again_leaves_no_file_and_no_thread_open(path: Path) -> None:
    def use() -> None:
        with Journal.open(path) as journal:
            say_online(journal, "north-air")
            readers = [threading.Thread(target=lambda: read_once(journal)) for _ in range(5)]
            for reader in readers:
                reader.start()
            for reader in readers:
                reader.join()

    def read_once(journal: Journal) -> None:
        with journal.read() as conn:
            status.probe_statuses(conn)

    use()
    files, threads = open_files(), threading.active_count()
    for _ in range(20):
        use()
    assert open_files() == files
    assert threading.active_count() == threads


@pytest.mark.skipif(not Path("/proc/self/fd").exists(), reason="counts open files the way Linux shows them")
def test_threads_that_come_and_go_do_not_pile_up_open_files(journal: Journal) -> None:
    def in_a_new_thread() -> None:
        def look() -> None:
            with journal.read() as conn:
                status.probe_statuses(conn)

        thread = threading.Thread(target=look)
        thread.start()
        thread.join()

    in_a_new_thread()
    files = open_files()
    for _ in range(30):
        in_a_new_thread()
    assert open_files() == files
