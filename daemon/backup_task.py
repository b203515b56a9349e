"""What a long piece of work on backups is told and tells: how far it is, and that it should end."""

import contextlib
import sqlite3
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from daemon.backups.errors import BackupStoppedError

Told = Callable[[str, float], None]
"""What is being done, and how much of it is done, 0 to 1."""


def untold(_what: str, _share: float) -> None:
    """Tell nobody."""


class BackupTask:
    """One piece of work. `rests`: after each step it pauses for so many times as long as the step took.

    `stop` may be called from any thread.
    """

    def __init__(self, told: Told = untold, rests: float = 0.0) -> None:
        self._told = told
        self._rests = rests
        self._stopping = threading.Event()
        self._busy: sqlite3.Connection | None = None
        self._lock = threading.Lock()
        self._since_s = time.monotonic()

    def stop(self) -> None:
        """Let the work end at its next step."""
        self._stopping.set()
        with self._lock:
            if self._busy is not None:
                self._busy.interrupt()

    @property
    def stopping(self) -> bool:
        """True once it was told to end."""
        return self._stopping.is_set()

    def begin(self, what: str) -> None:
        """A new part of the work begins."""
        self._since_s = time.monotonic()
        self.step(what, 0.0)

    def step(self, what: str, share: float) -> None:
        """Say how far it is. Raises BackupStoppedError where it was told to end."""
        self._told(what, share)
        if self._rests:
            self._stopping.wait(min((time.monotonic() - self._since_s) * self._rests, 1.0))
        self._since_s = time.monotonic()
        if self._stopping.is_set():
            raise BackupStoppedError

    @contextmanager
    def interrupting(self, conn: sqlite3.Connection) -> Iterator[None]:
        """Let `stop` cut short what this connection does meanwhile. Raises BackupStoppedError."""
        with self._lock:
            self._busy = conn
        try:
            yield
        except sqlite3.OperationalError:
            if self._stopping.is_set():
                raise BackupStoppedError from None
            raise
        finally:
            with self._lock, contextlib.suppress(sqlite3.Error):
                self._busy = None
