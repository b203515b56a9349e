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
_MAIL_CODE = re.compile(r"\((\d{3}), b['\"]|\bwas refused: (\d{3})\b")
"""How a refusal by a mail server (reply code of RFC 5321, section 4.2) stands in a record."""


class Heard:
    """What was learnt from the records that were held back."""

    status: int | None = None
    """the first HTTP status code that a library reported as an error"""
    mail_code: int | None = None
    """the first reply code with which a mail server refused"""


_listening: ContextVar[Heard | None] = ContextVar("alert_being_sent", default=None)


class _HoldBack(logging.Filter):
    """Drops the records of libraries while an alert is being sent; what is sent elsewhere logs as before."""

    def filter(self, record: logging.LogRecord) -> bool:
        heard = _listening.get()
        if heard is None:
            # What was wanted of the library before it was made to tell more.
            parent = logging.getLogger(record.name).parent
            return parent is None or record.levelno >= parent.getEffectiveLevel()
        text = _text(record)
        if heard.status is None and (found := _STATUS.search(text)):
            heard.status = int(found[1])
        if heard.mail_code is None and (found := _MAIL_CODE.search(text)):
            heard.mail_code = int(found[1] or found[2])
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
    # The reply of a mail server is told at this level only; nothing of it gets past the filter.
    logging.getLogger("apprise").setLevel(logging.DEBUG)
    for name in _LOGGERS:
        logging.getLogger(name).addFilter(_hold_back)
    heard = Heard()
    token = _listening.set(heard)
    try:
        yield heard
    finally:
        _listening.reset(token)
