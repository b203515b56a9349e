"""A table of the agent's file, read key by key; what is wrong becomes a mistake that says what to do. Pure.

The models of the other files need a library that alone takes a fifth of the memory that the agent may have.
"""

from collections.abc import Sequence
from dataclasses import replace
from difflib import get_close_matches
from typing import Any

from config.errors import Mistake

_LONGEST_SHOWN = 40


class Table:
    """One table at `path` of a file. Every key that is asked for is known; `rest` finds those that nobody asked for."""

    def __init__(self, content: Any, file: str, path: str, mistakes: list[Mistake]) -> None:
        self._file, self._path, self._mistakes = file, path, mistakes
        self._content: dict[str, Any] = content if isinstance(content, dict) else {}
        self._asked: list[str] = []
        if not isinstance(content, dict):
            self.wrong("", "this is not a table", "Write it as a table, with its name in brackets.")

    def wrong(self, key: str, reason: str, hint: str) -> None:
        """Note a mistake at a key."""
        self.note(Mistake(self._file, key, reason, hint))

    def note(self, mistake: Mistake) -> None:
        """Note a mistake that was found elsewhere at a key of this table."""
        key = mistake.key
        where = f"{self._path}.{key}" if self._path and key else self._path or key
        self._mistakes.append(replace(mistake, file=self._file, key=where))

    def table(self, key: str) -> "Table":
        """Give a table below; an empty one where it is left out."""
        return Table(self._take(key, {}), self._file, self._below(key), self._mistakes)

    def tables(self, key: str, named_by: str) -> list["Table"]:
        """Give a list of tables below, each called by its key `named_by` in mistakes."""
        found = self._take(key, [])
        if not isinstance(found, list):
            self.wrong(key, "this is a single table", f"Write [[{self._below(key)}]], in double brackets.")
            return []
        below = self._below(key)
        return [
            Table(each, self._file, _labelled(below, each, named_by, at), self._mistakes)
            for at, each in enumerate(found, start=1)
        ]

    def text(self, key: str, default: str | None = None) -> str:
        """Give a text that is not empty; without a default it has to be there."""
        found = self._take(key, default)
        if found is None:
            self.wrong(key, f'"{key}" is missing', "Add it; nothing can stand in for it.")
        elif not isinstance(found, str):
            self.wrong(key, f"{_shown(found)} is not what can stand here", "Give a text in quotes.")
        elif not found.strip() and found != default:
            self.wrong(key, "the text is empty", "Write something there.")
        else:
            return found
        return ""

    def number(self, key: str, default: float, low: float, high: float) -> float:
        """Give a number between two bounds."""
        found = self._take(key, default)
        if isinstance(found, bool) or not isinstance(found, int | float) or not low <= found <= high:
            hint = f"Give a number from {low:g} to {high:g}."
            self.wrong(key, f"{_shown(found)} is not what can stand here", hint)
            return default
        return found

    def flag(self, key: str, default: bool) -> bool:
        """Give true or false."""
        found = self._take(key, default)
        if isinstance(found, bool):
            return found
        self.wrong(key, f"{_shown(found)} is not what can stand here", "Write true or false, without quotes.")
        return default

    def choice(self, key: str, default: str, known: Sequence[str]) -> str:
        """Give one of several words."""
        found = self.text(key, default)
        if found and found not in known:
            self.wrong(key, f'"{found[:_LONGEST_SHOWN]}" is not a word that can stand here', nearest(found, known))
            return default
        return found

    def words(self, key: str) -> tuple[str, ...]:
        """Give a list of texts, with at least one in it."""
        found = self._take(key, None)
        if isinstance(found, list) and found and all(isinstance(each, str) and each for each in found):
            return tuple(found)
        self.wrong(key, "a list of texts is wanted here", 'Write it as ["/usr/bin/program", "its", "words"].')
        return ()

    def has(self, key: str) -> bool:
        """True where the key is in the file."""
        return key in self._content

    def rest(self) -> None:
        """Note every key that nobody asked for. To be called when all was asked."""
        for key in self._content:
            if key not in self._asked:
                self.wrong(key, f'"{key[:_LONGEST_SHOWN]}" is not a key that can stand here', nearest(key, self._asked))

    def _take(self, key: str, default: Any) -> Any:
        self._asked.append(key)
        return self._content.get(key, default)

    def _below(self, key: str) -> str:
        return f"{self._path}.{key}" if self._path else key


def nearest(word: str, known: Sequence[str]) -> str:
    """Give `Did you mean ...?`, or the known words where none is near."""
    close = get_close_matches(word, known, n=1)
    return f'Did you mean "{close[0]}"?' if close else f"Known here: {', '.join(sorted(known))}."


def _labelled(path: str, content: Any, named_by: str, at: int) -> str:
    label = content.get(named_by) if isinstance(content, dict) else None
    plain = isinstance(label, str) and label.isprintable() and 0 < len(label) <= _LONGEST_SHOWN
    return f"{path}.{label}" if plain else f"{path}#{at}"


def _shown(value: Any) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int | float):
        return f"{value:g}"
    if isinstance(value, str):
        return f'"{value[:_LONGEST_SHOWN]}"' if value.isprintable() else "the text"
    return "a value"
