"""Characters that nobody sees, and that make a line read as something else: controls, and marks that turn text round.

In an alert, on a label or in a journal they end a line early, or write a name backwards (Unicode Standard Annex #9,
section 2). Joiners, as scripts and pictures need them, are none of these. Pure.
"""

import re

_TURNING = "\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069"
_NAME = re.compile(f"[\x00-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff{_TURNING}]")
_TEXT = re.compile(f"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ud800-\udfff{_TURNING}]")
_IN_PLACE = "?"


def has_unprintable(name: str) -> bool:
    """True where a name, which is one line, has such a character in it."""
    return _NAME.search(name) is not None


def printable_text(text: str) -> str:
    """Give a text, of one line or many, with a mark in the place of each of them."""
    return _TEXT.sub(_IN_PLACE, text)


def on_one_line(text: str) -> str:
    """Put a text of somebody else on one line of what can be seen."""
    return " ".join("".join(each if each.isprintable() else " " for each in text).split())
