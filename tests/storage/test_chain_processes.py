"""Several programs at one journal, kills, and what an older one holds: the chain has every row once."""

import os
import subprocess
import sys
from contextlib import closing
from pathlib import Path

from daemon.storage import chain, chain_sources
from daemon.storage.connections import connect
from daemon.storage.journal import Journal
from daemon.storage.migrations import MIGRATIONS, migrate
from daemon.verify_values import Wrong
from tests.storage.chained import (
    DAY_MS,
    DAYS,
    START_MS,
    found,
    past_clutchwarden,
    whole,
    write_event,
)


def _old_journal(path: Path, rows: int) -> None:
    with closing(connect(path, 5)) as conn:
        migrate(conn, str(path), MIGRATIONS[:13])
        conn.execute("BEGIN")
        conn.executemany(
            "INSERT INTO audit_event (at_ms, who, from_where, what, about, old, new, why)"
            " VALUES (?, 'ana', 'host', 'site', '', '{}', '{}', ?)",
            [(START_MS + n % 3 * DAY_MS, f"row {n}") for n in range(rows)],
        )
        conn.execute("COMMIT")


def test_rows_of_an_older_journal_are_sealed_at_its_first_opening(path: Path) -> None:
    _old_journal(path, 12_000)
    with Journal.open(path):
        pass
    assert whole(path).events > 12_000
    with past_clutchwarden(path) as conn:
        conn.execute("UPDATE audit_event SET why = 'x' WHERE event_id = 5000")
    [fault] = found(path)
    # Event 5000 was written with n = 4999, and 4999 % 3 is 1: the second day.
    assert (fault.day, fault.row) == (DAYS[1], "5000")


def child_is_killed_while_it_seals(path: Path) -> None:
    chain.AT_ONCE = 100
    with closing(connect(path, 5)) as conn:
        migrate(conn, str(path))
        chain_sources.take_up(conn)
        for _ in range(5):
            chain._seal_slice(conn)
        os.kill(os.getpid(), 9)


def test_a_kill_while_an_older_journal_is_sealed_costs_nothing(path: Path) -> None:
    _old_journal(path, 3_000)
    with _run("child_is_killed_while_it_seals", path) as child:
        assert child.wait(60) == -9
    with Journal.open(path):
        pass
    result = whole(path)
    assert result.events > 3_000
    assert result.waiting_events == 0


BUSY_S = 60.0
"""So long one waits for another here: a machine under load may let either stand still for longer than is usual."""


def child_writes_for_ever(path: Path) -> None:
    with Journal.open(path, BUSY_S) as journal:
        for number in range(1_000_000):
            write_event(journal, number % 3)
            sys.stdout.write(f"{number}\n")
            sys.stdout.flush()


def child_writes_a_hundred(path: Path) -> None:
    with Journal.open(path, BUSY_S) as journal:
        for number in range(100):
            write_event(journal, number % 3)


def _run(what: str, path: Path) -> "subprocess.Popen[str]":
    code = f"from pathlib import Path; from {__name__} import {what} as run; run(Path({str(path)!r}))"
    return subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True)


def test_after_a_kill_all_that_was_confirmed_is_there_and_sealed(path: Path) -> None:
    child = _run("child_writes_for_ever", path)
    assert child.stdout is not None
    with child.stdout:
        for _ in range(30):
            last = int(child.stdout.readline())
        child.kill()
        last = max([last, *(int(line) for line in child.stdout if line.endswith("\n"))])
    child.wait(20)
    result = whole(path)
    assert result.waiting_events == 0
    with closing(connect(path, 5)) as conn:
        (count,) = conn.execute("SELECT count(*) FROM audit_event").fetchone()
    assert count >= last + 1


def test_two_processes_that_write_at_once_make_one_chain(path: Path) -> None:
    with Journal.open(path):
        pass
    children = [_run("child_writes_a_hundred", path) for _ in range(2)]
    for child in children:
        assert child.wait(60) == 0
        assert child.stdout is not None
        child.stdout.close()
    whole(path)
    with closing(connect(path, 5)) as conn:
        (count,) = conn.execute("SELECT count(*) FROM audit_event").fetchone()
    assert count == 200


def test_what_another_program_wrote_is_sealed_by_the_next_writing(path: Path) -> None:
    with Journal.open(path) as journal:
        write_event(journal, 0)
        with closing(connect(path, 5)) as conn:
            conn.execute("INSERT INTO channel (channel, probe, quantity) VALUES ('a/b', 'a', 'air_temperature')")
        assert whole(path).waiting_events == 1
        write_event(journal, 1)
        assert whole(path).waiting_events == 0


def test_a_table_that_a_later_version_brings_is_taken_up_with_its_rows(path: Path) -> None:
    with Journal.open(path):
        pass
    with closing(connect(path, 5)) as conn:
        conn.execute("CREATE TABLE shed (shed_id INTEGER PRIMARY KEY, at_ms INTEGER NOT NULL, note TEXT NOT NULL)")
        conn.execute("INSERT INTO shed VALUES (1, ?, 'before')", (START_MS,))
        for action in ("update", "delete"):
            conn.execute(
                f"CREATE TRIGGER shed_refuses_{action} BEFORE {action} ON shed BEGIN SELECT RAISE(ABORT, 'no'); END"
            )
    with Journal.open(path) as journal:
        journal.write(lambda conn: conn.execute("INSERT INTO shed VALUES (2, ?, 'behind')", (START_MS,)).fetchall())
    with closing(connect(path, 5)) as conn:
        conn.execute("ALTER TABLE shed ADD COLUMN more TEXT NOT NULL DEFAULT 'more'")
    with Journal.open(path) as journal:
        journal.write(lambda conn: conn.execute("INSERT INTO shed VALUES (3, 5, 'n', 'new')").fetchall())
    whole(path)
    for change, row in (("note = 'x' WHERE shed_id = 1", "1"), ("more = 'x' WHERE shed_id = 3", "3")):
        with past_clutchwarden(path) as conn:
            conn.execute(f"UPDATE shed SET {change}")
        assert (row, Wrong.CHANGED) in {(fault.row, fault.wrong) for fault in found(path) if fault.table == "shed"}
