"""What is wrong in a file that the keeper wrote: where, what, and what to do about it."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True)
class Mistake:
    """One mistake, or one thing that deserves a warning.

    `file` is relative to the site folder, `key` the path inside it: `probe.north-air.place`, with `#2` for the second
    of a list. No field ever holds a secret.
    """

    file: str
    key: str
    reason: str
    hint: str
    severity: Literal["mistake", "warning"] = "mistake"

    def __str__(self) -> str:
        place = f"{self.file}: {self.key}" if self.key else self.file
        mark = " (warning)" if self.severity == "warning" else ""
        return f"{place}{mark}\n  {self.reason}\n  {self.hint}"


class ConfigError(Exception):
    """The configuration cannot be used; carries every mistake that was found, not just the first."""

    def __init__(self, mistakes: Iterable[Mistake]) -> None:
        self.mistakes = tuple(mistakes)
        super().__init__(self.mistakes)

    def __str__(self) -> str:
        return "\n".join(str(mistake) for mistake in self.mistakes)


class StatedError(ValueError):
    """A value that a rule of ours refuses, with the reason and what to do. For validators."""

    def __init__(self, reason: str, hint: str) -> None:
        super().__init__(reason)
        self.reason = reason
        self.hint = hint


def refuse(mistakes: Iterable[Mistake]) -> None:
    """Raise ConfigError where a mistake is among them; warnings alone pass."""
    found = tuple(mistakes)
    if any(mistake.severity == "mistake" for mistake in found):
        raise ConfigError(found)
