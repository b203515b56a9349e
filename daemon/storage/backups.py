"""Backups and restore tests on record. All functions work inside the caller's transaction. Times: UTC ms."""

import sqlite3
from collections.abc import Iterable
from typing import NamedTuple

from daemon.storage.pages import below
from daemon.storage.text import storable

_LONGEST = 2_000
_RUN = "began_ms, ended_ms, folder, name, good, byte_count, told"
_TEST = "began_ms, ended_ms, name, good, told"


class BackupRun(NamedTuple):
    """One attempt. `name` is empty where none was made; `told` says why not, or what deserves a warning."""

    began_ms: int
    ended_ms: int
    folder: str
    name: str
    good: bool
    byte_count: int
    told: str


class RestoreTest(NamedTuple):
    """One restore test of a backup, and what was found."""

    began_ms: int
    ended_ms: int
    name: str
    good: bool
    told: str


def add_run(conn: sqlite3.Connection, run: BackupRun) -> None:
    """Write down an attempt."""
    row = (*run[:4], int(run.good), run.byte_count, storable(run.told, _LONGEST))
    conn.execute(f"INSERT INTO backup_run ({_RUN}) VALUES (?, ?, ?, ?, ?, ?, ?)", row)  # noqa: S608


def add_removed(conn: sqlite3.Connection, removed: Iterable[tuple[str, str]], at_ms: int) -> None:
    """Write down which backups were removed, and why."""
    conn.executemany(
        "INSERT INTO backup_removed (at_ms, name, why) VALUES (?, ?, ?)", [(at_ms, *each) for each in removed]
    )


def add_test(conn: sqlite3.Connection, test: RestoreTest) -> None:
    """Write down a restore test."""
    row = (*test[:3], int(test.good), storable(test.told, _LONGEST))
    conn.execute(f"INSERT INTO restore_test ({_TEST}) VALUES (?, ?, ?, ?, ?)", row)  # noqa: S608


def newest_run(conn: sqlite3.Connection, *, good: bool | None = None) -> BackupRun | None:
    """Give the newest attempt, or the newest good or bad one; None where there is none."""
    row = conn.execute(
        f"SELECT {_RUN} FROM backup_run WHERE ? IS NULL OR good = ? ORDER BY run_id DESC LIMIT 1",  # noqa: S608
        (good, good),
    ).fetchone()
    return None if row is None else _run(row)


def newest_test(conn: sqlite3.Connection) -> RestoreTest | None:
    """Give the newest restore test; None where there was none."""
    row = conn.execute(f"SELECT {_TEST} FROM restore_test ORDER BY test_id DESC LIMIT 1").fetchone()  # noqa: S608
    return None if row is None else _test(row)


def runs(conn: sqlite3.Connection, limit: int) -> list[BackupRun]:
    """Give the newest attempts, newest first."""
    rows = conn.execute(f"SELECT {_RUN} FROM backup_run ORDER BY run_id DESC LIMIT ?", (limit,))  # noqa: S608
    return [_run(row) for row in rows]


def page(conn: sqlite3.Connection, before: int | None, limit: int) -> list[tuple[int, BackupRun]]:
    """Give the newest attempts before the one with this number, the newest first, each with its number."""
    rows = conn.execute(
        f"SELECT run_id, {_RUN} FROM backup_run WHERE run_id < ? ORDER BY run_id DESC LIMIT ?",  # noqa: S608
        (below(before), limit),
    )
    return [(int(number), _run(tuple(row))) for number, *row in rows]


def _run(row: tuple[int, int, str, str, int, int, str]) -> BackupRun:
    began_ms, ended_ms, folder, name, good, byte_count, told = row
    return BackupRun(began_ms, ended_ms, folder, name, bool(good), byte_count, told)


def _test(row: tuple[int, int, str, int, str]) -> RestoreTest:
    began_ms, ended_ms, name, good, told = row
    return RestoreTest(began_ms, ended_ms, name, bool(good), told)
