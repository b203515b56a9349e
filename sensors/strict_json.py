"""JSON as the standards have it, without the liberties of the library's reader.

Python's `json` accepts NaN and Infinity, lets the last of two equal names win, and turns a long integer into an integer
without end. A probe that sends such a thing is broken, and a guess at what it meant could silence an alarm.
"""

import json
from typing import Any, NoReturn

from sensors.reading import Outcome

_LONGEST_QUOTE = 60
BLANKS = " \t\n\r"
"""White space by RFC 8259 section 2; Python's own idea of it is wider."""


class RefusedError(Exception):
    """A payload that cannot be used; carries the outcome to count and the reason to keep."""

    def __init__(self, outcome: Outcome, reason: str) -> None:
        super().__init__(reason)
        self.outcome = outcome
        self.reason = reason


def quoted(text: str) -> str:
    """Text from outside, safe to put into a reason: in quotes, escaped, and cut where it is long."""
    return repr(text if len(text) <= _LONGEST_QUOTE else text[:_LONGEST_QUOTE] + "…")


def _refuse_constant(token: str) -> NoReturn:
    raise RefusedError(
        Outcome.NOT_A_NUMBER, f"the payload holds {token}, which is not a JSON number (RFC 8259 section 6)"
    )


def _unique(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    members = dict(pairs)
    if len(members) != len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in names if names.count(name) > 1)
        raise RefusedError(Outcome.MALFORMED, f"the name {quoted(twice)} stands twice in one object; which one counts?")
    return members


_READER = json.JSONDecoder(
    object_pairs_hook=_unique,
    parse_int=float,
    parse_constant=_refuse_constant,
)


def text_of(payload: bytes) -> str:
    """Read the payload as text. UTF-8 only (RFC 8259 section 8.1, RFC 8428 section 5)."""
    if not payload:
        raise RefusedError(Outcome.MALFORMED, "the payload is empty")
    try:
        return payload.decode()
    except UnicodeDecodeError as error:
        raise RefusedError(Outcome.MALFORMED, f"the payload is not UTF-8 text (byte {error.start})") from None


def load(payload: bytes) -> Any:
    """Read a JSON document. Every number comes back as a float; too large a number as an infinity.

    Raises
    ------
    RefusedError
        The payload is empty, not UTF-8, not JSON, nested too deeply, holds NaN or Infinity, or names a member twice
        (RFC 8259 section 4 leaves the meaning of a repeated name open; RFC 7493 section 2.3 forbids it).
    """
    text = text_of(payload).strip(BLANKS)
    try:
        document, end = _READER.raw_decode(text)
    except RecursionError:
        raise RefusedError(Outcome.MALFORMED, "the payload is nested too deeply to be a measurement") from None
    except json.JSONDecodeError as error:
        reason = f"the payload is not JSON: {error.msg} at character {error.pos}"
        raise RefusedError(Outcome.MALFORMED, reason) from None
    if end != len(text):
        raise RefusedError(Outcome.MALFORMED, f"the payload goes on after its end at character {end}")
    return document
