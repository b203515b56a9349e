"""Opening the journal file: one kind of connection that writes, one that only reads."""

import os
import sqlite3
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

from daemon.storage.chain import begin_chain
from daemon.storage.errors import JournalError, is_locked
from daemon.storage.migrations import migrate, refuse_unusable

Connect = Callable[[Path, float], sqlite3.Connection]
"""Opens a bare connection to a file, with a time limit (s) for waiting on a lock."""

_RETRY_S = 0.01


def connect(path: Path, busy_timeout_s: float) -> sqlite3.Connection:
    """Open a bare connection that leaves all transactions to its user."""
    return sqlite3.connect(path, timeout=busy_timeout_s, isolation_level=None, check_same_thread=False)


def create_file(path: Path) -> None:
    """Make the folder and an empty file that only its owner may read and write. An existing file is not touched."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        # Only ever open a file that is new: closing a second handle of an SQLite file drops this process's locks on it.
        with suppress(FileExistsError):
            os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o600))
    except OSError as error:
        raise JournalError(
            "cannot create the journal",
            str(path),
            (error.strerror or str(error)).lower(),
            "Check the folder's name and that the account that runs clutchwarden may write there.",
        ) from error


def open_writer(path: Path, busy_timeout_s: float, bare: Connect) -> sqlite3.Connection:
    """Open the connection that writes: durable, checked to be ours, brought up to this program's schema.

    Every commit is on the disk before it returns (WAL with synchronous=FULL). A file that is not a journal of this
    program is refused before anything in it is changed.
    """
    create_file(path)
    conn = bare(path, busy_timeout_s)
    try:
        refuse_unusable(conn, str(path))
        _use_wal(conn, path, busy_timeout_s)
        conn.execute("PRAGMA synchronous = FULL")
        conn.execute("PRAGMA foreign_keys = ON")
        # Without this, REPLACE would remove rows past the triggers that refuse removal.
        conn.execute("PRAGMA recursive_triggers = ON")
        migrate(conn, str(path))
        begin_chain(conn)
    except BaseException:
        conn.close()
        raise
    return conn


def _use_wal(conn: sqlite3.Connection, path: Path, busy_timeout_s: float) -> None:
    """Switch to write-ahead logging. SQLite does not wait for a lock here, so the waiting is ours."""
    deadline = time.monotonic() + busy_timeout_s
    while True:
        try:
            (mode,) = conn.execute("PRAGMA journal_mode = WAL").fetchone()
            break
        except sqlite3.OperationalError as error:
            if not is_locked(error) or time.monotonic() > deadline:
                raise
        time.sleep(_RETRY_S)
    if mode != "wal":
        raise JournalError(
            "cannot open the journal",
            str(path),
            "its disk cannot keep a write-ahead log, so a power cut could cost readings",
            "Put the journal on a local disk, not on a network share.",
        )


def open_reader(path: Path, busy_timeout_s: float) -> sqlite3.Connection:
    """Open a connection that can only read."""
    uri = f"{path.resolve().as_uri()}?mode=ro"
    conn = sqlite3.connect(uri, uri=True, timeout=busy_timeout_s, isolation_level=None, check_same_thread=False)
    try:
        conn.execute("PRAGMA query_only = ON")
    except BaseException:
        conn.close()
        raise
    return conn
