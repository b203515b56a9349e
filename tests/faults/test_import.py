"""An import that is killed, meets a full disk or runs beside a busy writer: all of it or nothing, and a sentence."""

import random
import resource
import signal
import sqlite3
import subprocess
import sys
from array import array
from pathlib import Path
from typing import Any

import pytest

from config.words import Quantity
from daemon.storage import imports, samples
from daemon.storage.connections import connect
from daemon.storage.imports import Series
from daemon.storage.journal import Journal, JournalError
from sensors.reading import ChannelKey, Reading
from tests.support.household import write_site
from tests.support.processes import wait_until

AIR = ChannelKey("north-air/air", "north-air", "air", Quantity.AIR_TEMPERATURE)
CHILD = [sys.executable, "-m", "tests.faults.test_import"]
ROOT = Path(__file__).parents[2]
ROWS = 60_000
BEGIN_S = 1_770_000_000


def series(count: int) -> Series:
    times_ms = array("q", (1000 * (BEGIN_S + 30 * at) for at in range(count)))
    return Series(AIR, times_ms, array("d", (28 + at % 7 / 10 for at in range(count))), array("b", bytes(count)))


def import_command(folder: Path) -> list[str]:
    """The real command with an invented record of `ROWS` rows."""
    site = write_site(folder / "site", 1883)
    file = folder / "record.csv"
    rows = (f"{BEGIN_S + 30 * at},{28 + at % 7 / 10:.1f}\n" for at in range(ROWS))
    file.write_text("T,C\n" + "".join(rows))
    options = ["--time-column", "T", "--temperature-column", "C", "--to", AIR.channel, "--yes"]
    return [sys.executable, "-m", "daemon.cli", "import", str(site), str(file), *options]


def journal_path(folder: Path) -> Path:
    return folder / "site" / "data" / "journal.sqlite3"


def whole_or_nothing(path: Path) -> int:
    """Reopen after a kill, let SQLite check every page, and give how many readings are there."""
    with Journal.open(path) as journal:
        assert journal.write(lambda conn: conn.execute("PRAGMA integrity_check").fetchall()) == [("ok",)]
        with journal.read() as conn:
            return samples.count(conn)


def child_stops_before_its_commit(path: Path) -> None:
    """Take everything over and wait for ever before the commit."""

    class Connection(sqlite3.Connection):
        def execute(self, sql: str, *arguments: Any) -> sqlite3.Cursor:
            done = super().execute(sql, *arguments)
            if sql.startswith("INSERT INTO sample"):
                sys.stdout.write(f"{samples.count(self)}\n")
                sys.stdout.flush()
                sys.stdin.read()
            return done

    def stopping(file: Path, busy_timeout_s: float) -> sqlite3.Connection:
        return sqlite3.connect(
            file, timeout=busy_timeout_s, isolation_level=None, check_same_thread=False, factory=Connection
        )

    imports.store(path, [series(5000)], 1, bare=stopping)


def child_may_not_write_much(command: str) -> None:
    """The real command where the system refuses files beyond half a megabyte."""
    resource.setrlimit(resource.RLIMIT_FSIZE, (500_000, resource.getrlimit(resource.RLIMIT_FSIZE)[1]))
    from daemon.cli import main

    sys.argv = ["clutchwarden", *command.split("\n")]
    main()


def test_a_kill_before_the_commit_leaves_nothing_and_locks_nobody_out(tmp_path: Path) -> None:
    path = tmp_path / "journal.sqlite3"
    command = [*CHILD, "child_stops_before_its_commit", str(path)]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=ROOT) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "5000\n"
        process.kill()
    assert whole_or_nothing(path) == 0
    assert imports.store(path, [series(5000)], 1).new == 5000


@pytest.mark.parametrize("wal_bytes", random.Random(2026).sample(range(1, 3_000_000), 3))
def test_a_kill_at_any_moment_leaves_all_or_nothing_and_the_same_command_again_makes_it_whole(
    tmp_path: Path, wal_bytes: int
) -> None:
    command = import_command(tmp_path)
    wal = journal_path(tmp_path).with_name("journal.sqlite3-wal")
    with subprocess.Popen(command, stdout=subprocess.PIPE) as process:
        wait_until(
            lambda: (wal.exists() and wal.stat().st_size >= wal_bytes) or process.poll() is not None,
            "the import to write",
            60,
        )
        process.send_signal(signal.SIGKILL)
    assert whole_or_nothing(journal_path(tmp_path)) in {0, ROWS}
    subprocess.run(command, check=True, stdout=subprocess.PIPE)
    assert whole_or_nothing(journal_path(tmp_path)) == ROWS


def test_another_process_stores_its_readings_while_a_record_is_imported(tmp_path: Path) -> None:
    """Whoever is locked out for good gives up with an error; a busy machine may let the import stand for a while."""
    command = import_command(tmp_path)
    stored = 0
    with Journal.open(journal_path(tmp_path), 60) as journal:
        ids = journal.write(lambda conn: samples.channel_ids(conn, [AIR]))
        with subprocess.Popen(command, stdout=subprocess.PIPE) as process:
            while process.poll() is None:
                # From long after the record, so that none of them is in it.
                live = [Reading(AIR.channel, 1_900_000_000_000 + stored, 1, 28.0, 0)]
                journal.write(lambda conn, live=live: samples.append(conn, ids, live))  # type: ignore[misc]
                stored += 1
        assert process.returncode == 0
        with journal.read() as conn:
            assert samples.count(conn) == ROWS + stored
    assert stored > 20


def test_a_full_disk_is_told_and_leaves_the_journal_as_it_was(tmp_path: Path) -> None:
    """SQLite itself runs out of pages here: https://www.sqlite.org/pragma.html#pragma_max_page_count."""
    path = tmp_path / "journal.sqlite3"
    assert imports.store(path, [series(100)], 1).new == 100

    def small_disk(file: Path, busy_timeout_s: float) -> sqlite3.Connection:
        conn = connect(file, busy_timeout_s)
        conn.execute("PRAGMA max_page_count = 90")
        return conn

    with pytest.raises(JournalError, match="the disk is full") as caught:
        imports.store(path, [series(ROWS)], 1, bare=small_disk)
    assert caught.value.what == "cannot store the import"
    assert whole_or_nothing(path) == 100
    assert imports.store(path, [series(ROWS)], 1).new == ROWS - 100


def test_a_write_that_the_system_refuses_is_a_sentence_and_nothing_is_stored(tmp_path: Path) -> None:
    command = import_command(tmp_path)
    Journal.open(journal_path(tmp_path)).close()
    child = [*CHILD, "child_may_not_write_much", "\n".join(command[3:])]
    done = subprocess.run(child, capture_output=True, text=True, check=False, cwd=ROOT)
    assert done.returncode == 2
    assert "cannot store the import" in done.stderr
    assert f"Nothing of {tmp_path / 'record.csv'} was stored" in done.stderr
    assert "Traceback" not in done.stderr
    assert whole_or_nothing(journal_path(tmp_path)) == 0


def test_a_journal_that_stays_locked_is_a_sentence(tmp_path: Path) -> None:
    path = tmp_path / "journal.sqlite3"
    Journal.open(path).close()
    other = connect(path, 0)
    other.execute("BEGIN IMMEDIATE")
    with pytest.raises(JournalError, match="another program kept the journal locked"):
        imports.store(path, [series(10)], 1, busy_timeout_s=0.05)
    other.execute("ROLLBACK")
    other.close()
    assert imports.store(path, [series(10)], 1).new == 10


def test_a_channel_that_the_journal_knows_as_another_quantity_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "journal.sqlite3"
    imports.store(path, [series(10)], 1)
    humid = ChannelKey(AIR.channel, AIR.probe, AIR.name, Quantity.RELATIVE_HUMIDITY)
    once_more = series(20)
    with pytest.raises(JournalError, match="air_temperature"):
        imports.store(path, [Series(humid, once_more.times_ms, once_more.values, once_more.qualities)], 1)
    assert whole_or_nothing(path) == 10


if __name__ == "__main__":
    argument = sys.argv[2]
    globals()[sys.argv[1]](Path(argument) if "\n" not in argument else argument)
