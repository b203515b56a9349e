"""Where the pages get the overview from, and what the log gets when it cannot be had."""

import logging
import threading
from collections.abc import Callable

from daemon.overview import Overview
from daemon.storage.errors import JournalError

log = logging.getLogger("clutchwarden.pages")


class NoOverviewError(Exception):
    """There is nothing to show just now; the log has said why."""


class OverviewSource:
    """Gives the overview. Safe to use from several threads.

    Open pages ask every few seconds, so the same failure is logged once until the overview can be had again: a journal
    that cannot be read in one line, which says what to do, and a fault of the program with its traceback.
    """

    def __init__(self, ask: Callable[[], Overview]) -> None:
        self._ask = ask
        self._lock = threading.Lock()
        self._told = ""

    def __call__(self) -> Overview:
        """Ask. Raises NoOverviewError."""
        try:
            found = self._ask()
        except Exception as error:
            if self._is_news(f"{type(error).__name__}: {error}"):
                trace = None if isinstance(error, JournalError) else error
                log.error("The pages have nothing to show: %s", error, exc_info=trace)  # noqa: TRY400
            raise NoOverviewError from error
        if self._is_news(""):
            log.info("The pages can be shown again")
        return found

    def _is_news(self, text: str) -> bool:
        with self._lock:
            before, self._told = self._told, text
        return before != text
