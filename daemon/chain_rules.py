"""How the chain over events and the digests of readings are worked out. Pure.

What is hashed is stated here to the byte, so that a journal can be checked without this program. All hashes are SHA-256
(FIPS 180-4).

A row: the JSON array (RFC 8259) of the name of its table and its values, in the order of the columns in `chain_source`;
without spaces, every sign outside ASCII as an escape (a backslash and `u00e9`). An integer is decimal; a real number is
the shortest decimal that gives the same binary64 again, with a point or an exponent; bytes are `{"bytes":"<hex>"}`.

A link: the hash of the link before (32 bytes, zeros before the first), the number of the link and its time in UTC ms
(8 bytes each, signed, big-endian), the hash of the row (32 bytes), and the JSON array of the number of the source and
the key of the row, written as above. A key of several columns is itself the text of a JSON array.

Readings of a day: each as 40 bytes, little-endian, in the order of storing: channel number (int64), measured at and
received at (int64, UTC ms), value (binary64), quality (int64). The sequence numbers have no gaps, and the first and the
last stand in the row that holds the digest, which is itself a row of the chain.
"""

import hashlib
import itertools
import json
import struct
from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from typing import Any, NamedTuple

NOTHING_BEFORE = bytes(32)
DAY_MS = 86_400_000
BLOCK = 1000
"""Readings that are packed in one call; less than a hundred cost clearly more each."""
_READING = "qqqdq"
_ONE = struct.Struct(f"<{_READING}")
_MANY = struct.Struct("<" + _READING * BLOCK)
_LINK = struct.Struct(">32sqq32s")
_EPOCH = date(1970, 1, 1)
_SIGNS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
"""No two of them are taken for each other on paper or by ear: I, L, O and U are missing."""
_MEANT = str.maketrans({"I": "1", "L": "1", "O": "0"})
_CODE_SIGNS, _IN_GROUP = 16, 4
"""80 bits of the hash: enough that nobody makes another chain with the same code, short enough to type. Project choice.
"""


class Head(NamedTuple):
    """The end of the chain, or any other link: its number, and its whole hash."""

    link: int
    hash: bytes

    @property
    def code(self) -> str:
        """The link as people write it down: `18204-7K0Q-M2XW-D9R4-TABC`."""
        number = int.from_bytes(self.hash[:10])
        signs = [_SIGNS[number >> 5 * place & 31] for place in reversed(range(_CODE_SIGNS))]
        groups = ("".join(signs[start : start + _IN_GROUP]) for start in range(0, _CODE_SIGNS, _IN_GROUP))
        return "-".join((str(self.link), *groups))


BEFORE_ALL = Head(0, NOTHING_BEFORE)


class TypedCode(NamedTuple):
    """A code as somebody typed it: the number of the link, and the signs of its hash."""

    link: int
    signs: str

    def is_of(self, head: Head) -> bool:
        """Tell whether it was made of this link."""
        return self == read_code(head.code)


def read_code(typed: str) -> TypedCode | None:
    """Read a code in small or capital letters, with an O for a 0; None where it is none."""
    number, _, rest = typed.strip().replace(" ", "-").partition("-")
    signs = rest.replace("-", "").upper().translate(_MEANT)
    if not (number.isascii() and number.isdigit()) or len(signs) != _CODE_SIGNS or not set(signs) <= set(_SIGNS):
        return None
    # More digits than a row number of SQLite has are no code.
    return TypedCode(int(number), signs) if len(number) < _CODE_SIGNS else None


def row_hash(table: str, values: Sequence[Any]) -> bytes:
    """Hash one row."""
    return hashlib.sha256(_json([table, *values])).digest()


def link_hash(before: bytes, link: int, at_ms: int, hash_of_row: bytes, source: int, key: Any) -> bytes:
    """Hash one link. Raises ValueError where one of the parts is none of a link."""
    try:
        return hashlib.sha256(_LINK.pack(before, link, at_ms, hash_of_row) + _json([source, key])).digest()
    except struct.error as error:
        raise ValueError(str(error)) from error


def _json(values: list[Any]) -> bytes:
    return _ENCODER.encode(values).encode("ascii")


def _of_bytes(value: Any) -> dict[str, str]:
    return {"bytes": value.hex()}


# Made once: to make one for each row costs as much as the row.
_ENCODER = json.JSONEncoder(separators=(",", ":"), default=_of_bytes)


def packed(rows: Sequence[Sequence[Any]]) -> bytes:
    """Write readings as they are hashed: channel number, measured at, received at, value, quality of each.

    Raises ValueError where something in them is no number of its kind.
    """
    try:
        if len(rows) == BLOCK:
            return _MANY.pack(*itertools.chain.from_iterable(rows))
        return b"".join(_ONE.pack(*row) for row in rows)
    except struct.error as error:
        raise ValueError(str(error)) from error


def day_of(at_ms: int) -> int:
    """Give the UTC day of a moment, counted from 1970."""
    return at_ms // DAY_MS


def day_name(day: int) -> str:
    """Write a day as `2026-08-03`; one that no calendar holds by its number."""
    try:
        return (_EPOCH + timedelta(days=day)).isoformat()
    except OverflowError:
        return f"day {day} after 1970"


def first_ms_of(day: date) -> int:
    """Give the first moment of a UTC day."""
    return int(datetime(day.year, day.month, day.day, tzinfo=UTC).timestamp()) * 1000
