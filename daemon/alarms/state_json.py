"""Reading a stored alarm state back. A state that is not exactly as written is refused, never guessed.

A guessed state could drop an alarm that a keeper was called for, so an unknown key, a missing key or a value of
another type is an error with the key in it.
"""

import json
import math
from collections.abc import Mapping
from typing import Any

INTEGER: tuple[type, ...] = (int,)
INTEGER_OR_NONE: tuple[type, ...] = (int, type(None))
NUMBER_OR_NONE: tuple[type, ...] = (int, float, type(None))
TEXT: tuple[type, ...] = (str,)
LIST: tuple[type, ...] = (list,)
YES_OR_NO: tuple[type, ...] = (bool,)


class StateError(ValueError):
    """A stored alarm state cannot be used. The message says which state, which key, and what to do."""

    def __init__(self, what: str, why: str) -> None:
        super().__init__(
            f"stored state of {what} cannot be used: {why}. "
            "It was written by another version or damaged; start this alarm anew and look at the place yourself."
        )


def read_fields(text: str, what: str, fields: Mapping[str, tuple[type, ...]]) -> dict[str, Any]:
    """Read the fields of a stored state, each of a type given in `fields`.

    Raises StateError where the text is not a JSON object, or has a key too many, too few, or of another type.
    """
    try:
        found = json.loads(text, parse_constant=lambda name: _refuse(what, f"{name} is not a number"))
    except json.JSONDecodeError as error:
        raise StateError(what, f"not JSON ({error})") from error
    if not isinstance(found, dict):
        raise StateError(what, "not a JSON object")
    if unknown := sorted(found.keys() - fields.keys()):
        raise StateError(what, f"unknown key {', '.join(unknown)}")
    if missing := sorted(fields.keys() - found.keys()):
        raise StateError(what, f"missing key {', '.join(missing)}")
    for key, types in fields.items():
        # bool is an int in Python, yet true is no time and no count
        if not isinstance(found[key], types) or (isinstance(found[key], bool) and bool not in types):
            raise StateError(what, f"{key} is {found[key]!r}")
        if isinstance(found[key], float) and not math.isfinite(found[key]):
            raise StateError(what, f"{key} is {found[key]!r}")
    return found


def write_fields(fields: Mapping[str, Any]) -> str:
    """Write one line of JSON with sorted keys, so that equal states give equal text. Refuses NaN and infinity."""
    return json.dumps(fields, sort_keys=True, separators=(",", ":"), allow_nan=False)


def _refuse(what: str, why: str) -> None:
    raise StateError(what, why)
