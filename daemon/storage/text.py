"""Text from outside, made fit for the journal."""


def storable(text: str, longest: int) -> str:
    r"""Cut text to a length and replace what UTF-8 cannot hold.

    A JSON payload may carry half of a surrogate pair (`"\ud800"`), which Python reads and SQLite cannot store. One such
    message must not stop the storing of all others in its batch.
    """
    return text[:longest].encode("utf-8", "replace").decode("utf-8")
