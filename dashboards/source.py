"""Where the pages get what they show, and what the log gets when it cannot be had."""

import logging
import threading
from collections.abc import Callable
from typing import Generic, TypeVar

from daemon.storage.errors import JournalError

log = logging.getLogger("clutchwarden.pages")

T = TypeVar("T")


class NothingToShowError(Exception):
    """There is nothing to show just now; the log has said why."""


class Source(Generic[T]):
    """Gives what a page shows. Safe to use from several threads.

    Open pages ask every few seconds, so the same failure is logged once until it can be had again: a journal that
    cannot be read in one line, which says what to do, and a fault of the program with its traceback.
    """

    def __init__(self, ask: Callable[[], T]) -> None:
        self._ask = ask
        self._lock = threading.Lock()
        self._told = ""

    def __call__(self) -> T:
        """Ask. Raises NothingToShowError."""
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
