"""Contacts: what a device sends of the mains or a door, as 1 or 0. Pure.

In the journal 1 is mains present and door open. SenML has two ways to say it: the boolean `vb`, or a number with the
unit `/`, which RFC 8428 section 12.1 gives as that of a switch. A number needs no unit here: 0 and 1 cannot be
anything else. Foreign devices also say it in words. A value between the two is no state and is never rounded to one.
"""

from typing import Any

from config.sources import INVERTED
from config.words import CONTACT_WORDS, Quantity
from sensors.reading import Outcome
from sensors.senml import Record
from sensors.strict_json import BLANKS, RefusedError, quoted

_WORDS = {"on": 1.0, "off": 0.0, "true": 1.0, "false": 0.0, "1": 1.0, "0": 0.0, "1.0": 1.0, "0.0": 0.0}
_DOOR_WORDS = {"open": 1.0, "closed": 0.0}
"""They mean what they say, whichever way round the device counts."""
_UNITS = (None, "/")


def from_senml(quantity: Quantity, name: str, record: Record) -> float:
    """Take 1 or 0 from a record. Raises RefusedError with a sentence for any other value, and for another unit."""
    value = record.value
    if type(value) is float and record.unit not in _UNITS:
        reason = f"channel {name}: {quoted(record.unit or '')} is no unit of a contact; send vb, or v with u as /"
        raise RefusedError(Outcome.WRONG_UNIT, reason)
    if type(value) is bool or value in (0.0, 1.0):
        return float(value)
    said = "no value" if value is None else f"{value:g}"
    raise RefusedError(Outcome.MALFORMED, f"channel {name}: {said} is no state of a contact; {_how(quantity)}")


def from_foreign(quantity: Quantity, name: str, content: Any, unit: str) -> float:
    """Take 1 or 0 from what a pointer leads to. Raises RefusedError with a sentence for any other value.

    Where the `unit` of the site file says that the device counts the other way round, it is turned here.
    """
    word = content.strip(BLANKS).lower() if type(content) is str else ""
    if quantity is Quantity.DOOR and word in _DOOR_WORDS:
        return _DOOR_WORDS[word]
    value = _WORDS.get(word)
    if type(content) is bool or (type(content) is float and content in (0.0, 1.0)):
        value = float(content)
    if value is None:
        said = quoted(content) if type(content) is str else f"a JSON {type(content).__name__}"
        said = f"{content:g}" if type(content) is float else said
        raise RefusedError(Outcome.MALFORMED, f"channel {name}: {said} is no state of a contact; {_how(quantity)}")
    return 1.0 - value if unit == INVERTED else value


def _how(quantity: Quantity) -> str:
    absent, present = CONTACT_WORDS[quantity]
    return f"send 1 or true for {present}, 0 or false for {absent}"
