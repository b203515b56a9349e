"""One thread writes; an exception belongs to the caller; all of a piece of work is stored or nothing."""

import sqlite3
import threading
from concurrent.futures import Future
from pathlib import Path

import pytest

from daemon.storage import status
from daemon.storage.journal import Journal, JournalClosedError, JournalError


def say_online(conn: sqlite3.Connection, probe: str = "north-air") -> None:
    status.set_probe_status(conn, probe, online=True, at_ms=1)


def probes(journal: Journal) -> set[str]:
    with journal.read() as conn:
        return set(status.probe_statuses(conn))


def test_write_gives_what_the_work_gives(journal: Journal) -> None:
    assert journal.write(lambda conn: conn.execute("SELECT 40 + 2").fetchone()) == (42,)


def test_all_work_runs_in_one_named_thread_that_is_not_the_callers(journal: Journal) -> None:
    names = {journal.write(lambda _: threading.current_thread().name) for _ in range(3)}
    assert names == {"journal-writer"}


def test_work_is_done_in_the_order_it_was_given(journal: Journal) -> None:
    done: list[int] = []
    futures = [journal.submit(lambda _, n=n: done.append(n)) for n in range(50)]  # type: ignore[misc]
    for future in futures:
        future.result()
    assert done == list(range(50))


def test_an_exception_reaches_the_caller_and_the_thread_goes_on(journal: Journal) -> None:
    def broken(_: sqlite3.Connection) -> None:
        raise ZeroDivisionError("mine")

    with pytest.raises(ZeroDivisionError, match="mine"):
        journal.write(broken)
    journal.write(say_online)
    assert probes(journal) == {"north-air"}


def test_work_that_fails_half_way_leaves_nothing(journal: Journal) -> None:
    def half(conn: sqlite3.Connection) -> None:
        say_online(conn)
        raise ValueError("half way")

    with pytest.raises(ValueError, match="half way"):
        journal.write(half)
    assert probes(journal) == set()


def test_work_that_ends_its_own_transaction_is_refused_and_the_next_is_done(journal: Journal) -> None:
    with pytest.raises(sqlite3.OperationalError, match="no transaction is active"):
        journal.write(lambda conn: conn.execute("ROLLBACK"))
    journal.write(say_online)
    assert probes(journal) == {"north-air"}


def test_a_mistake_in_a_statement_stays_what_it_is(journal: Journal) -> None:
    with pytest.raises(sqlite3.OperationalError, match="no such table"):
        journal.write(lambda conn: conn.execute("SELECT * FROM incubators_of_mars"))
    with pytest.raises(sqlite3.IntegrityError):
        journal.write(lambda conn: conn.execute("INSERT INTO probe_status (probe) VALUES ('a')"))


def test_work_that_waits_for_other_work_is_told_so_and_does_not_hang(journal: Journal) -> None:
    with pytest.raises(RuntimeError, match="the connection it was given"):
        journal.write(lambda _: journal.write(say_online))


def test_work_given_up_before_its_turn_is_not_done(journal: Journal) -> None:
    gate = threading.Event()
    journal.submit(lambda _: gate.wait(10))
    given_up: Future[None] = journal.submit(say_online)
    assert given_up.cancel()
    gate.set()
    journal.write(lambda _: None)
    assert probes(journal) == set()


def test_closing_finishes_what_is_queued(path: Path) -> None:
    journal = Journal.open(path)
    futures = [journal.submit(lambda conn, n=n: say_online(conn, f"p{n}")) for n in range(100)]  # type: ignore[misc]
    journal.close()
    assert all(future.done() and future.exception() is None for future in futures)
    with Journal.open(path) as again:
        assert len(probes(again)) == 100


def test_closing_twice_is_closing_once(path: Path) -> None:
    journal = Journal.open(path)
    journal.close()
    journal.close()
    assert not any(thread.name == "journal-writer" for thread in threading.enumerate())


def test_use_after_closing_says_that_it_is_closed(path: Path) -> None:
    journal = Journal.open(path)
    journal.close()
    with pytest.raises(JournalClosedError, match="closed already"):
        journal.write(say_online)
    with pytest.raises(JournalClosedError, match="closed already"):
        journal.submit(say_online)
    with pytest.raises(JournalClosedError, match="closed already"), journal.read():
        pass


def test_closing_that_takes_too_long_says_so(path: Path) -> None:
    journal = Journal.open(path)
    gate = threading.Event()
    stuck = journal.submit(lambda _: gate.wait(10))
    with pytest.raises(JournalError, match="did not close") as caught:
        journal.close(timeout_s=0.01)
    assert str(path) in str(caught.value)
    gate.set()
    assert stuck.result() is True
    journal.close()
    assert not any(thread.name == "journal-writer" for thread in threading.enumerate())


def test_many_threads_may_write_at_once(journal: Journal) -> None:
    threads = [
        threading.Thread(target=lambda n=n: journal.write(lambda conn: say_online(conn, f"p{n}"))) for n in range(16)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert probes(journal) == {f"p{n}" for n in range(16)}


def test_commits_are_durable_and_references_are_checked(journal: Journal) -> None:
    pragmas = ("journal_mode", "synchronous", "foreign_keys")
    found = [journal.write(lambda conn, name=name: conn.execute(f"PRAGMA {name}").fetchone()[0]) for name in pragmas]  # type: ignore[misc]
    assert found == ["wal", 2, 1]  # synchronous 2 is FULL: https://www.sqlite.org/pragma.html#pragma_synchronous
