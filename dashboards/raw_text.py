"""What came from outside as text on one line: escaped where it is none, and cut where it is long. Pure."""


def harmless(text: str) -> str:
    """Escape what cannot be seen, and what could turn a line around."""
    return "".join(each if each.isprintable() else each.encode("unicode_escape").decode() for each in text)


def payload_start(payload: bytes, most_bytes: int) -> str:
    """The first bytes of a payload as text; what is no text is escaped."""
    start = harmless(payload[:most_bytes].decode("utf-8", "backslashreplace"))
    return f"{start} …" if len(payload) > most_bytes else start


def cut(text: str, longest: int) -> str:
    """A text of at most so many characters."""
    return text if len(text) <= longest else f"{text[: longest - 1]}…"
