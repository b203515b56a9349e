"""A site file without the addresses in it, for a record that more people may read than the file. Pure."""

import re
import tomllib
from collections.abc import Iterator
from typing import Any

HIDDEN = "(address hidden)"
NOT_KEPT = "(not kept: it holds an address that could not be hidden)"
_ADDRESS = re.compile(r"[^\s\"'#]*://[^\s\"']*")


def without_addresses(text: str) -> str:
    """Give the text with every address hidden, also in comments; where one would stay, a sentence instead of it."""
    masked = _ADDRESS.sub(HIDDEN, text)
    try:
        found = tomllib.loads(text.removeprefix("\ufeff"))
    except tomllib.TOMLDecodeError:
        return NOT_KEPT
    return NOT_KEPT if any(address in masked for address in _addresses(found)) or _may_hide(masked) else masked


def _addresses(value: Any, key: str = "") -> Iterator[str]:
    if isinstance(value, dict):
        for name, inside in value.items():
            yield from _addresses(inside, name)
    elif isinstance(value, list):
        for inside in value:
            yield from _addresses(inside, key)
    elif key == "url" and isinstance(value, str) and value.strip():
        yield value


def _may_hide(masked: str) -> bool:
    """True where an address is written in signs that stand for others, so that it was not seen."""
    try:
        left = tomllib.loads(masked.removeprefix("\ufeff"))
    except tomllib.TOMLDecodeError:
        return True
    return any(address != HIDDEN for address in _addresses(left))
