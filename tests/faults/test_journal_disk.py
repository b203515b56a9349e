"""Disk trouble at every step of a transaction: a clear error, nothing half stored, and recovery by itself."""

import sqlite3
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import pytest

from config.words import Quantity
from daemon.storage import samples
from daemon.storage.connections import connect
from daemon.storage.journal import Journal, JournalError
from sensors.reading import ChannelKey, Reading

AIR = ChannelKey("north-air/t", "north-air", "t", Quantity.AIR_TEMPERATURE)
TROUBLES = {
    "the disk is full": sqlite3.SQLITE_FULL,
    "input/output error": sqlite3.SQLITE_IOERR_FSYNC,
    "may only be read": sqlite3.SQLITE_READONLY,
    "locked for too long": sqlite3.SQLITE_BUSY,
    "is damaged": sqlite3.SQLITE_CORRUPT,
    "cannot be opened": sqlite3.SQLITE_CANTOPEN,
}


class Disk:
    """A disk that fails at chosen statements, told by their first word."""

    def __init__(self) -> None:
        self.fails_at: frozenset[str] = frozenset()
        self.code = 0

    def connect(self, path: Path, busy_timeout_s: float) -> sqlite3.Connection:
        """Stand in for the plain `connect` of the journal."""
        disk = self

        class Connection(sqlite3.Connection):
            def execute(self, sql: str, *arguments: Any) -> sqlite3.Cursor:
                disk.maybe_fail(sql)
                return super().execute(sql, *arguments)

            def executemany(self, sql: str, *arguments: Any) -> sqlite3.Cursor:
                disk.maybe_fail(sql)
                return super().executemany(sql, *arguments)

        return sqlite3.connect(
            path, timeout=busy_timeout_s, isolation_level=None, check_same_thread=False, factory=Connection
        )

    def maybe_fail(self, sql: str) -> None:
        if sql.split(maxsplit=1)[0] in self.fails_at:
            error = sqlite3.OperationalError("made to fail")
            error.sqlite_errorcode = self.code
            raise error


@pytest.fixture
def disk() -> Disk:
    return Disk()


def store(journal: Journal, times: Iterable[int]) -> int:
    def work(conn: sqlite3.Connection) -> int:
        ids = samples.channel_ids(conn, [AIR])
        return samples.append(conn, ids, [Reading(AIR.channel, at_ms, at_ms, 28.0, 0) for at_ms in times]).new

    return journal.write(work)


def stored(journal: Journal) -> list[int]:
    with journal.read() as conn:
        return [row.measured_at_ms for row in samples.after(conn, 0, 1_000_000)]


@pytest.mark.parametrize("words", TROUBLES)
@pytest.mark.parametrize("step", ["BEGIN", "INSERT", "COMMIT"])
def test_trouble_at_any_step_is_told_and_leaves_nothing_half_stored(
    tmp_path: Path, disk: Disk, step: str, words: str
) -> None:
    path = tmp_path / "journal.sqlite3"
    with Journal.open(path, bare=disk.connect) as journal:
        store(journal, [1])
        disk.code, disk.fails_at = TROUBLES[words], frozenset({step})
        with pytest.raises(JournalError, match=words) as caught:
            store(journal, [2, 3])
        assert stored(journal) == [1]
        assert caught.value.what == "cannot write to the journal"
        assert caught.value.where == str(path)
        assert caught.value.hint
        assert isinstance(caught.value.__cause__, sqlite3.OperationalError)
        disk.fails_at = frozenset()
        assert store(journal, [2, 3, 4]) == 3
        assert stored(journal) == [1, 2, 3, 4]


def test_an_error_while_undoing_does_not_hide_the_first_one(tmp_path: Path, disk: Disk) -> None:
    with Journal.open(tmp_path / "journal.sqlite3", bare=disk.connect) as journal:
        store(journal, [1])
        disk.code, disk.fails_at = sqlite3.SQLITE_IOERR, frozenset({"ROLLBACK"})

        def broken(conn: sqlite3.Connection) -> None:
            conn.execute("INSERT INTO probe_status VALUES ('north-air', 1, 1)")
            raise ZeroDivisionError("the first one")

        with pytest.raises(ZeroDivisionError, match="the first one"):
            journal.write(broken)
        disk.fails_at = frozenset()
        assert store(journal, [2]) == 1
        with journal.read() as conn:
            assert conn.execute("SELECT count(*) FROM probe_status").fetchone() == (0,)


def test_trouble_that_lasts_is_told_each_time_and_also_at_the_reopening(tmp_path: Path, disk: Disk) -> None:
    with Journal.open(tmp_path / "journal.sqlite3", bare=disk.connect) as journal:
        disk.code, disk.fails_at = sqlite3.SQLITE_IOERR, frozenset({"BEGIN", "SELECT"})
        for _ in range(3):
            with pytest.raises(JournalError, match="input/output"):
                store(journal, [1])
        disk.fails_at = frozenset()
        assert store(journal, [1]) == 1


def test_a_disk_that_is_really_full_is_told_and_writing_goes_on_once_there_is_room(tmp_path: Path) -> None:
    """SQLite itself runs out of pages here: https://www.sqlite.org/pragma.html#pragma_max_page_count."""
    room = {"pages": 200}

    def small_disk(path: Path, busy_timeout_s: float) -> sqlite3.Connection:
        conn = connect(path, busy_timeout_s)
        conn.execute(f"PRAGMA max_page_count = {room['pages']}")
        return conn

    with Journal.open(tmp_path / "journal.sqlite3", bare=small_disk) as journal:
        confirmed: list[int] = []

        def store_until_it_fails() -> None:
            for first in range(0, 1_000_000, 500):
                store(journal, range(first, first + 500))
                confirmed.extend(range(first, first + 500))

        with pytest.raises(JournalError, match="the disk is full"):
            store_until_it_fails()
        assert confirmed
        assert stored(journal) == confirmed
        room["pages"] = 10_000
        assert store(journal, [2_000_000]) == 1
        assert stored(journal) == [*confirmed, 2_000_000]


def test_a_journal_that_another_process_holds_locked_is_told_after_the_timeout_and_works_afterwards(
    tmp_path: Path,
) -> None:
    path = tmp_path / "journal.sqlite3"
    with Journal.open(path, busy_timeout_s=0.05) as journal:
        other = connect(path, 0)
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(JournalError, match="another program kept the journal locked"):
            store(journal, [1])
        assert stored(journal) == []
        other.execute("COMMIT")
        other.close()
        assert store(journal, [1]) == 1


def _garbage(whole: bytes) -> bytes:
    return b"these are not the pages of a journal " * 200


def _half(whole: bytes) -> bytes:
    return whole[: len(whole) // 2 // 4096 * 4096]


def _torn_beginning(whole: bytes) -> bytes:
    return b"\x00" * 512 + whole[512:]


@pytest.mark.parametrize("damage", [_garbage, _half, _torn_beginning])
def test_a_damaged_file_is_told_and_left_untouched(tmp_path: Path, damage: Callable[[bytes], bytes]) -> None:
    path = tmp_path / "journal.sqlite3"
    with Journal.open(path) as journal:
        store(journal, range(5000))
    path.write_bytes(damage(path.read_bytes()))
    before = path.read_bytes()
    with pytest.raises(JournalError, match=r"damaged") as caught:
        Journal.open(path)
    assert str(path) in str(caught.value)
    assert "backup" in caught.value.hint
    assert path.read_bytes() == before


def test_a_folder_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    (tmp_path / "data").write_text("a file where the folder should be")
    with pytest.raises(JournalError, match="cannot create the journal") as caught:
        Journal.open(tmp_path / "data" / "journal.sqlite3")
    assert caught.value.hint


def test_a_folder_in_place_of_the_file_is_told(tmp_path: Path) -> None:
    with pytest.raises(JournalError, match="cannot be opened"):
        Journal.open(tmp_path)
