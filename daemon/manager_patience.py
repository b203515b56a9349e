"""Asks the service manager for more time while a journal is brought up to date, by what SQLite has really done."""

import sqlite3
import time
from pathlib import Path

from config.notify import Notifier
from daemon.storage.connections import Connect, connect
from daemon.storage.journal import Journal

TOLD_EVERY_S = 10.0
MORE_S = 180.0
_INSTRUCTIONS = 2_000_000
"""Of SQLite's machine between two looks: about a tenth of a second on a desk, a second on a small board."""


def open_patiently(path: Path, manager: Notifier) -> Journal:
    """Open the journal. Until the daemon has started, work in it asks for time; a stuck disk does not.

    Raises JournalError.
    """
    return Journal.open(path, bare=_patient(manager))


def _patient(manager: Notifier) -> Connect:
    def opened(path: Path, busy_timeout_s: float) -> sqlite3.Connection:
        conn = connect(path, busy_timeout_s)
        if manager.listens:
            conn.set_progress_handler(_Working(manager), _INSTRUCTIONS)
        return conn

    return opened


class _Working:
    def __init__(self, manager: Notifier) -> None:
        self._manager = manager
        self._told_s = time.monotonic()

    def __call__(self) -> int:
        """Tell, where it is time to; 0 lets SQLite go on."""
        now_s = time.monotonic()
        if not self._manager.started and now_s - self._told_s >= TOLD_EVERY_S:
            self._told_s = now_s
            self._manager.takes_longer(MORE_S)
        return 0
