"""The journal: one SQLite file, one thread that writes, any number of readers."""

import sqlite3
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import Future
from contextlib import contextmanager, suppress
from pathlib import Path
from queue import SimpleQueue
from types import TracebackType
from typing import Any, Self, TypeVar

from daemon.storage.chain import seal_all
from daemon.storage.connections import Connect, connect, open_reader, open_writer
from daemon.storage.errors import JournalClosedError, JournalError, explained, is_locked

__all__ = ["Journal", "JournalClosedError", "JournalError"]

T = TypeVar("T")
Work = Callable[[sqlite3.Connection], T]

BUSY_TIMEOUT_S = 5.0
CLOSE_TIMEOUT_S = 30.0


class Journal:
    """Stores and reads. Safe to use from any thread.

    The writer thread owns the only connection of this process that writes. Other processes may write to the same file
    at the same time; each waits for the other up to the busy timeout.
    """

    def __init__(self, path: Path, busy_timeout_s: float = BUSY_TIMEOUT_S, bare: Connect = connect) -> None:
        self.path = path
        self._where = str(path)
        self._busy_timeout_s = busy_timeout_s
        self._bare = bare
        self._jobs: SimpleQueue[tuple[Future[Any], Work[Any]] | None] = SimpleQueue()
        self._lock = threading.Lock()
        self._closed = False
        self._writing: sqlite3.Connection | None = None
        self._idle_readers: list[sqlite3.Connection] = []
        self._thread = threading.Thread(target=self._run, name="journal-writer", daemon=True)

    @classmethod
    def open(cls, path: Path, busy_timeout_s: float = BUSY_TIMEOUT_S, bare: Connect = connect) -> Self:
        """Open or create the journal and bring its schema up to date.

        `bare` opens a plain connection; a test gives one that fails on purpose. Raises JournalError where the file
        cannot be used, and leaves such a file as it is.
        """
        journal = cls(path, busy_timeout_s, bare)
        journal._thread.start()
        try:
            journal.write(lambda conn: conn.execute("SELECT 1 FROM migration LIMIT 1").fetchone())
        except BaseException:
            journal.close()
            raise
        return journal

    def submit(self, work: Work[T]) -> Future[T]:
        """Queue work that writes; it runs in a transaction of its own, and all of it is stored or nothing.

        The work must return values, not cursors, and must not commit. Whatever it raises comes out of the future;
        where disk, file or lock is the cause, as JournalError. After an error at the very end (commit) the work may
        still turn out to be stored when the machine loses power at that moment, so repeating it must do no harm.
        """
        future: Future[T] = Future()
        with self._lock:
            if self._closed:
                raise JournalClosedError(self._where)
            self._jobs.put((future, work))
        return future

    def write(self, work: Work[T]) -> T:
        """Do work that writes and wait for its commit."""
        if threading.current_thread() is self._thread:
            raise RuntimeError("work that writes must use the connection it was given, not the journal: it would wait")
        return self.submit(work).result()

    @contextmanager
    def read(self) -> Iterator[sqlite3.Connection]:
        """Lend a connection that can only read. All that is read in one block is of one moment.

        The connection belongs to this block alone until the block ends. Raises JournalError.
        """
        try:
            conn = self._reader()
        except sqlite3.DatabaseError as error:
            raise self._explained(error, "cannot read the journal") from error
        try:
            conn.execute("BEGIN")
            yield conn
            conn.execute("ROLLBACK")
        except sqlite3.DatabaseError as error:
            conn.close()
            raise self._explained(error, "cannot read the journal") from error
        except BaseException:
            conn.close()
            raise
        self._take_back(conn)

    def close(self, timeout_s: float = CLOSE_TIMEOUT_S) -> None:
        """Finish what is queued, then close every connection. A second call does nothing.

        Raises JournalError where the writer does not end in time.
        """
        with self._lock:
            first, self._closed = not self._closed, True
            idle, self._idle_readers = self._idle_readers, []
            if first:
                self._jobs.put(None)
        for conn in idle:
            conn.close()
        self._thread.join(timeout_s)
        if first and self._thread.is_alive():
            raise JournalError(
                "the journal did not close",
                self._where,
                f"its last writing has not ended after {timeout_s:g} s",
                "What was confirmed is safe. The disk may be stuck: check it before the next start.",
            )

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    # What follows up to `_discard` runs in the writer thread only.

    def _run(self) -> None:
        while self._settle_next():
            pass
        self._discard()

    def _settle_next(self) -> bool:
        job = self._jobs.get()
        if job is None:
            return False
        future, work = job
        if future.set_running_or_notify_cancel():
            try:
                future.set_result(self._transaction(work))
            except BaseException as error:  # noqa: BLE001 - an exception belongs to the caller, never to the thread
                future.set_exception(error)
        return True

    def _transaction(self, work: Work[T]) -> T:
        what = "cannot open the journal" if self._writing is None else "cannot write to the journal"
        try:
            conn = self._writing = self._writing or open_writer(self.path, self._busy_timeout_s, self._bare)
            conn.execute("BEGIN IMMEDIATE")
            try:
                result = work(conn)
                seal_all(conn)
                conn.execute("COMMIT")
            except BaseException:
                self._roll_back(conn)
                raise
        except sqlite3.DatabaseError as error:
            clear = self._explained(error, what)
            if clear is not error and not is_locked(error):
                # After trouble with disk or file nothing is assumed about this connection; the next work opens one.
                self._discard()
            raise clear from error
        return result

    def _roll_back(self, conn: sqlite3.Connection) -> None:
        """Undo, and never hide the error that made it necessary behind one of its own."""
        try:
            if conn.in_transaction:
                conn.execute("ROLLBACK")
        except sqlite3.Error:
            self._discard()

    def _discard(self) -> None:
        conn, self._writing = self._writing, None
        if conn is not None:
            with suppress(sqlite3.Error):
                conn.close()

    def _reader(self) -> sqlite3.Connection:
        with self._lock:
            if self._closed:
                raise JournalClosedError(self._where)
            if self._idle_readers:
                return self._idle_readers.pop()
        return open_reader(self.path, self._busy_timeout_s)

    def _take_back(self, conn: sqlite3.Connection) -> None:
        with self._lock:
            if not self._closed:
                self._idle_readers.append(conn)
                return
        conn.close()

    def _explained(self, error: sqlite3.DatabaseError, what: str) -> Exception:
        return explained(error, what, self._where) or error
