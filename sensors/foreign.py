"""Payloads of devices that do not speak SenML: a plain number, or JSON with the number somewhere inside.

The site file says where to look (a JSON pointer, RFC 6901), in which unit the number is, and how to scale it. The
rules:

- A number may also come as a string of a plain decimal, `"23.4"`; many small devices send it so. `"23,4"` and
  `"23.4 C"` are refused.
- A contact may come as a number, true or false, or a word such as `on`: see `sensors/contacts.py`.
- One message may feed several channels. A pointer that leads nowhere, or to null, is a channel without news; the
  message is refused when that is so for all of them, or when any of them leads to something that is not a number.
- A time is used when the site file says where it is. A payload in which it is missing or null has no time of its own.
"""

import math
import re
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta, timezone
from typing import Any, NamedTuple

from config.site import Source
from sensors import contacts
from sensors.arrival import Measured
from sensors.reading import ChannelKey, Outcome, Rejection
from sensors.strict_json import BLANKS, RefusedError, load, quoted, text_of
from sensors.units import to_canonical

_DECIMAL = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,4})?")
_INDEX = re.compile(r"0|[1-9][0-9]{0,8}")
_RFC3339 = re.compile(
    r"([0-9]{4})-([0-9]{2})-([0-9]{2})[Tt ]([0-9]{2}):([0-9]{2}):([0-9]{2})(\.[0-9]{1,30})?"
    r"(?:[Zz]|([+-])([01][0-9]|2[0-3]):([0-5][0-9]))?"
)
_LARGEST_TIME_MS = 1e18
_LEAP_SECOND = 60


class Extraction(NamedTuple):
    """A source of the site file, made ready: pointers are split into tokens; None as pointer is a plain number."""

    key: ChannelKey
    pointer: tuple[str, ...] | None
    unit: str
    scale: float
    time_pointer: tuple[str, ...] | None
    time_format: str | None


def extraction(source: Source, key: ChannelKey) -> Extraction:
    """Make a source of a checked site ready for use."""
    return Extraction(
        key,
        None if source.pointer is None else pointer_tokens(source.pointer),
        source.unit,
        source.scale,
        None if source.time_pointer is None else pointer_tokens(source.time_pointer),
        source.time_format,
    )


def pointer_tokens(pointer: str) -> tuple[str, ...]:
    """Split a well-formed JSON pointer into its tokens; `~1` is a slash, `~0` a tilde (RFC 6901 section 4)."""
    return tuple(token.replace("~1", "/").replace("~0", "~") for token in pointer.split("/")[1:])


def lookup(document: Any, tokens: tuple[str, ...]) -> Any:
    """Follow reference tokens into a document (RFC 6901 section 4); None where they lead nowhere."""
    for token in tokens:
        if isinstance(document, dict):
            document = document.get(token)
        elif isinstance(document, list) and _INDEX.fullmatch(token) and int(token) < len(document):
            document = document[int(token)]
        else:
            return None
    return document


def decode_foreign(extractions: Sequence[Extraction], payload: bytes, now_ms: int) -> tuple[Measured, ...] | Rejection:
    """Take every channel's value from one payload, in canonical units.

    `now_ms` is the arrival, UTC milliseconds since the epoch, used where the payload has no time of its own. Never
    raises for any payload.
    """
    try:
        document = None if all(_is_plain(one) for one in extractions) else load(payload)
        found = [measured for one in extractions if (measured := _extract(one, payload, document, now_ms))]
    except RefusedError as refused:
        return Rejection(refused.outcome, refused.reason)
    if not found:
        return Rejection(Outcome.UNKNOWN_CHANNEL, "no pointer of the site file leads to a number in this payload")
    return tuple(found)


def _is_plain(one: Extraction) -> bool:
    return one.pointer is None and one.time_pointer is None


def _extract(one: Extraction, payload: bytes, document: Any, now_ms: int) -> Measured | None:
    content = text_of(payload) if one.pointer is None else lookup(document, one.pointer)
    if content is None:
        return None
    value = _canonical(one, content)
    moment = None if one.time_pointer is None else lookup(document, one.time_pointer)
    if moment is None:
        return Measured(one.key, value, now_ms, timed=False)
    return Measured(one.key, value, _moment_ms(moment, one.time_format), timed=True)


def _canonical(one: Extraction, content: Any) -> float:
    if one.key.quantity.is_contact:
        return contacts.from_foreign(one.key.quantity, one.key.name, content, one.unit)
    raw = _number(content)
    if raw is None:
        shown = quoted(content) if isinstance(content, str) else f"a JSON {type(content).__name__}"
        raise RefusedError(Outcome.NOT_A_NUMBER, f"channel {one.key.name}: {shown} is not a plain decimal number")
    value = to_canonical(one.key.quantity, raw * one.scale, one.unit)
    if not math.isfinite(value):
        raise RefusedError(Outcome.NOT_A_NUMBER, f"channel {one.key.name}: the number is larger than a double can hold")
    return value


def _number(content: Any) -> float | None:
    if type(content) is float:
        return content
    match = _DECIMAL.fullmatch(content.strip(BLANKS)) if type(content) is str else None
    return float(match[0]) if match else None


def _moment_ms(content: Any, time_format: str | None) -> int:
    if time_format == "rfc3339":
        return _rfc3339_ms(content)
    number = _number(content)
    moment_ms = None if number is None else number * (1.0 if time_format == "unix-ms" else 1000.0)
    if moment_ms is None or not abs(moment_ms) < _LARGEST_TIME_MS:
        shown = quoted(content) if isinstance(content, str) else "what the time pointer leads to"
        raise RefusedError(Outcome.MALFORMED, f"{shown} is not a time in the stated format {time_format}")
    return round(moment_ms)


def _rfc3339_ms(content: Any) -> int:
    """Milliseconds since the epoch of an RFC 3339 timestamp; a leap second counts as the second after it."""
    match = _RFC3339.fullmatch(content) if type(content) is str else None
    if match is None:
        shown = quoted(content) if isinstance(content, str) else "what the time pointer leads to"
        raise RefusedError(Outcome.MALFORMED, f"{shown} is not an RFC 3339 time such as 2026-05-28T20:26:40Z")
    year, month, day, hour, minute, second = (int(match[group]) for group in range(1, 7))
    if match[8] is None and content[-1] not in "Zz":
        reason = f"{quoted(content)} has no time zone; a time without one is a different moment for each reader"
        raise RefusedError(Outcome.MALFORMED, reason)
    leap = second == _LEAP_SECOND
    try:
        zone = timezone(_offset(match)) if match[8] else UTC
        moment = datetime(year, month, day, hour, minute, 59 if leap else second, tzinfo=zone)
    except ValueError as error:
        raise RefusedError(Outcome.MALFORMED, f"{quoted(content)} is not a time: {error}") from None
    fraction_ms = int(float(match[7] or 0.0) * 1000.0)
    return round(moment.timestamp()) * 1000 + fraction_ms + (1000 if leap else 0)


def _offset(match: re.Match[str]) -> timedelta:
    ahead = timedelta(hours=int(match[9]), minutes=int(match[10]))
    return -ahead if match[8] == "-" else ahead
