"""Where a list goes on: the key of the last row that was given, as a text that programs send back as it is. Pure.

A page is found by that key and not by counting rows, so new rows move nothing and the thousandth page costs what the
first one does. The text carries a check over the list and the wishes that it belongs to: one of another list, or of the
same with other wishes, would give an answer with a hole in it that nobody sees.
"""

import base64
import binascii
import hashlib
import re
from collections.abc import Sequence

LONGEST = 120
_CHECK_BYTES = 6
_KEY = re.compile(r"-?[0-9]{1,19}(,-?[0-9]{1,19})*")
_LARGEST = 2**63 - 1
"""The largest number that a journal can hold."""


class CursorError(ValueError):
    """A text that is not where this list goes on. The text says what to do."""

    def __init__(self) -> None:
        super().__init__("This is not where this list goes on. Send `next` as it was given, or begin without `after`")


def written(of: Sequence[str], key: Sequence[int]) -> str:
    """Write a key down for the list, with its wishes, that `of` names."""
    text = ",".join(map(str, key)).encode()
    return base64.urlsafe_b64encode(_check(of, text) + text).decode().rstrip("=")


def read(of: Sequence[str], text: str, parts: int) -> tuple[int, ...]:
    """Give the key of so many parts that is written there. Raises CursorError."""
    if not text.isascii() or len(text) > LONGEST:
        raise CursorError
    try:
        found = base64.b64decode(text + "=" * (-len(text) % 4), altchars=b"-_", validate=True)
    except (ValueError, binascii.Error):
        raise CursorError from None
    check, key = found[:_CHECK_BYTES], found[_CHECK_BYTES:]
    if check != _check(of, key) or not _KEY.fullmatch(key.decode("ascii", "replace")):
        raise CursorError
    numbers = tuple(int(part) for part in key.split(b","))
    if len(numbers) != parts or any(abs(number) > _LARGEST for number in numbers):
        raise CursorError
    return numbers


def _check(of: Sequence[str], key: bytes) -> bytes:
    # Lengths keep wishes apart that read the same one behind the other.
    named = "".join(f"{len(part)}:{part}" for part in of).encode("utf-8", "replace")
    return hashlib.blake2b(named + b"|" + key, digest_size=_CHECK_BYTES).digest()
