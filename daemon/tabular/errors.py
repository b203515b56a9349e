"""What a table is refused for."""


class TableError(Exception):
    """A table cannot be read without guessing: the line where that is known, what is wrong, and what to do."""

    def __init__(self, line: int | None, reason: str, hint: str) -> None:
        super().__init__(line, reason, hint)
        self.line = line
        self.reason = reason
        self.hint = hint

    def __str__(self) -> str:
        place = "" if self.line is None else f"line {self.line}: "
        return f"{place}{self.reason}\n  {self.hint}"


def shown(text: str) -> str:
    """Text of a table as it can stand in a sentence: in quotes, short, without characters that cannot be printed."""
    longest = 40
    plain = "".join(letter if letter.isprintable() else "?" for letter in text.strip())
    return f'"{plain[:longest]}{"..." if len(plain) > longest else ""}"'
