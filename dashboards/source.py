"""Where the pages get what they show, and what the log gets when it cannot be had."""

import logging
import threading
import time
from collections.abc import Callable
from typing import Generic, TypeVar

from daemon.storage.errors import JournalError

log = logging.getLogger("clutchwarden.pages")

T = TypeVar("T")

KEPT_S = 1.0
"""So old at the most is what the pages of a running daemon show, so that many open ones cost hardly more than one.
Project choice: probes send every few seconds at the most."""


class NothingToShowError(Exception):
    """There is nothing to show just now; the log has said why."""


class Source(Generic[T]):
    """Gives what a page shows. Safe to use from several threads.

    Open pages ask every few seconds, so the same failure is logged once until it can be had again: a journal that
    cannot be read in one line, which says what to do, and a fault of the program with its traceback.

    With `keep_s` an answer serves everybody who asks within so many seconds, and of many who ask at once one does the
    work. `forget` makes the next one ask anew.
    """

    def __init__(self, ask: Callable[[], T], keep_s: float = 0.0) -> None:
        self._ask = ask
        self._keep_s = keep_s
        self._lock = threading.Lock()
        self._asking = threading.Lock()
        self._told = ""
        self._turn = 0
        self._kept: tuple[T, float, int] | None = None

    def __call__(self) -> T:
        """Ask. Raises NothingToShowError."""
        if not self._keep_s:
            return self._asked()
        with self._asking:
            began_s, turn, kept = time.monotonic(), self._turn, self._kept
            if kept is None or kept[2] != turn or began_s - kept[1] >= self._keep_s:
                self._kept = None
                self._kept = kept = self._asked(), began_s, turn
            return kept[0]

    def forget(self) -> None:
        """Drop what is kept: somebody has changed something and wants to see it. Waits for nobody."""
        self._turn += 1

    def _asked(self) -> T:
        try:
            found = self._ask()
        except Exception as error:
            if self._is_news(f"{type(error).__name__}: {error}"):
                trace = None if isinstance(error, JournalError) else error
                log.error("The pages have nothing to show: %s", error, exc_info=trace)  # noqa: TRY400
            raise NothingToShowError from error
        if self._is_news(""):
            log.info("The pages can be shown again")
        return found

    def _is_news(self, text: str) -> bool:
        with self._lock:
            before, self._told = self._told, text
        return before != text
