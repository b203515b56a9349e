"""Keeps the addresses of contacts out of the log: libraries write them there, and an address often holds a token."""

import logging
import re
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

_LOGGERS = (
    "apprise",
    "urllib3.connection",
    "urllib3.connectionpool",
    "urllib3.poolmanager",
    "urllib3.response",
    "urllib3.util.retry",
)
_STATUS = re.compile(r"\berror=(\d{3})\b")


class Heard:
    """What was learnt from the records that were held back."""

    status: int | None = None
    """the first HTTP status code that a library reported as an error"""


_listening: ContextVar[Heard | None] = ContextVar("alert_being_sent", default=None)


class _HoldBack(logging.Filter):
    """Drops the records of libraries while an alert is being sent; what is sent elsewhere logs as before."""

    def filter(self, record: logging.LogRecord) -> bool:
        heard = _listening.get()
        if heard is None:
            return True
        found = _STATUS.search(_text(record))
        if found and heard.status is None:
            heard.status = int(found[1])
        return False


def _text(record: logging.LogRecord) -> str:
    try:
        return record.getMessage()
    except (TypeError, ValueError):
        # A library's faulty format string must not become a failed alert.
        return ""


_hold_back = _HoldBack()


@contextmanager
def libraries_held_back() -> Iterator[Heard]:
    """While this is open, the libraries that send an alert in this thread write nothing to the log."""
    for name in _LOGGERS:
        logging.getLogger(name).addFilter(_hold_back)
    heard = Heard()
    token = _listening.set(heard)
    try:
        yield heard
    finally:
        _listening.reset(token)
