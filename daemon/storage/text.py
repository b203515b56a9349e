"""Text from outside, made fit for the journal."""

from config.unprintable import printable_text


def searchable(text: str) -> str:
    """Give text that SQLite can be asked for, whole: what it cannot store finds nothing."""
    return text.encode("utf-8", "replace").decode("utf-8")


def storable(text: str, longest: int) -> str:
    r"""Cut text to a length, and put a mark in the place of what UTF-8 cannot hold and of what nobody could see.

    A JSON payload may carry half of a surrogate pair (`"\ud800"`), which Python reads and SQLite cannot store. One such
    message must not stop the storing of all others in its batch. Controls and marks that turn text round would make a
    line of a journal read as something else.
    """
    return printable_text(text[:longest])
