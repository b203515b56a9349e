"""Turns what pydantic says of a file into plain sentences: where, what is wrong, what to write instead."""

import difflib
from collections.abc import Iterable, Mapping, Sequence
from enum import Enum
from typing import Any, get_args

from pydantic import BaseModel
from pydantic_core import ErrorDetails

from config.errors import Mistake, StatedError
from config.model import NOT_BLANK

_SECRET_TABLES = frozenset({"person", "contact", "broker", "heartbeat", "mirror", "poll", "listen"})
"""Text found in these is never repeated: a token may stand in the wrong key."""
_LONGEST_SHOWN = 40
_WANTED = {
    "string": "text in quotes",
    "float": "a number without quotes",
    "int": "a whole number without quotes",
    "bool": "true or false without quotes",
    "path": "a path in quotes",
    "tuple": "a list of tables; write it as [[...]], with the name in double brackets, or leave it out",
    "dict": "a table; write it as [...], with the name in single brackets",
    "model": "a table; write its keys below its name in brackets",
}
_COMPARISONS = {
    "greater_than": ("gt", "greater than"),
    "greater_than_equal": ("ge", "at least"),
    "less_than": ("lt", "less than"),
    "less_than_equal": ("le", "at most"),
}
_ID_RULE = (
    "Use letters without accents, digits, - _ and . only, and begin with a letter or digit, for example north-air."
)

Location = tuple[int | str, ...]


def nearest(word: str, known: Iterable[str]) -> str:
    """Give `Did you mean ...?` with the nearest known word, or the known words where none is near."""
    words = sorted(known)
    close = difflib.get_close_matches(word.lower(), [one.lower() for one in words], n=1)
    if close:
        return f'Did you mean "{next(one for one in words if one.lower() == close[0])}"?'
    return f"Known here: {', '.join(words)}." if words else "Nothing can stand here."


def key_path(document: Any, location: Location) -> str:
    """Write a location as a keeper reads it: `probe.north-air.place`, or `probe#2` for the second without an id."""
    path = ""
    for step in location:
        if step == "[key]":
            continue
        found = _child(document, step)
        if isinstance(step, int):
            label = found.get("id", found.get("name")) if isinstance(found, dict) else None
            path += f".{label}" if _is_plain(label) else f"#{step + 1}"
        else:
            path += f".{step}" if path else step
        document = found
    return path


def translate(errors: Sequence[ErrorDetails], file: str, model: type[BaseModel], document: Any) -> tuple[Mistake, ...]:
    """Make one mistake of each error of pydantic."""
    return tuple(Mistake(file, key_path(document, one["loc"]), *_sentences(one, model)) for one in errors)


def _child(document: Any, step: int | str) -> Any:
    try:
        return document[step]
    except (KeyError, IndexError, TypeError):
        return None


def _sentences(error: ErrorDetails, model: type[BaseModel]) -> tuple[str, str]:
    kind, location, context = error["type"], error["loc"], error.get("ctx", {})
    last = str(location[-1]) if location else ""
    stated = context.get("error")
    if isinstance(stated, StatedError):
        return stated.reason, stated.hint
    if kind == "extra_forbidden":
        return f'"{last}" is not a key that can stand here', nearest(last, _known_keys(model, location[:-1]))
    if kind == "missing":
        return f'"{last}" is missing', "Add it; nothing can stand in for it."
    if last == "[key]":
        word = str(location[-2])
        return f'"{word}" is not a name that can stand here', nearest(word, _allowed(model, location[:-1]))
    return _value_sentences(error, model)


def _value_sentences(error: ErrorDetails, model: type[BaseModel]) -> tuple[str, str]:
    kind, location, context = error["type"], error["loc"], error.get("ctx", {})
    shown = _shown(error["input"], location)
    if kind in ("enum", "literal_error"):
        if isinstance(error["input"], str) and not _is_secret(location):
            return f"{shown} is not a word that can stand here", nearest(error["input"], _allowed(model, location))
        return f"{shown} is not one of the words that can stand here", f"Give {context['expected']}."
    if kind == "string_pattern_mismatch":
        if context["pattern"] == NOT_BLANK:
            return "the text is empty", "Write something there."
        return f"{shown} cannot be used as a name in topics and paths", _ID_RULE
    return f"{shown} is not what can stand here", f"Give {_wanted(kind, context, error['msg'])}."


def _wanted(kind: str, context: Mapping[str, Any], message: str) -> str:
    if kind in _COMPARISONS:
        bound, words = _COMPARISONS[kind]
        return f"a number that is {words} {context[bound]:g}"
    if kind == "string_too_long":
        return f"a text of at most {context['max_length']} characters"
    if kind == "finite_number":
        return "an ordinary number"
    return _WANTED.get(kind.split("_", maxsplit=1)[0], message)


def _is_secret(location: Location) -> bool:
    return not _SECRET_TABLES.isdisjoint(map(str, location))


def _shown(value: Any, location: Location) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, (int, float)):
        return f"{value:g}"
    if not isinstance(value, str):
        return f"a {'table' if isinstance(value, Mapping) else 'list' if isinstance(value, list) else 'value'}"
    return "the text" if _is_secret(location) or not _is_plain(value or "empty") else f'"{value}"'


def _is_plain(text: Any) -> bool:
    """Tell a word that can be repeated from one that is too long, unreadable or an address."""
    plain = isinstance(text, str) and text.isprintable() and "://" not in text
    return plain and 0 < len(text.strip()) <= _LONGEST_SHOWN


def _known_keys(model: type[BaseModel], location: Location) -> list[str]:
    annotation = _annotation(model, location)
    found = _model_in(annotation)
    return [] if found is None else [str(one.validation_alias or name) for name, one in found.model_fields.items()]


def _allowed(model: type[BaseModel], location: Location) -> list[str]:
    """Give the words of an enumeration, or the keys of a table whose keys are one."""
    annotation = _annotation(model, location)
    for one in _parts(annotation):
        if isinstance(one, type) and issubclass(one, Enum):
            return [str(member.value) for member in one]
    return [one for one in _parts(annotation) if isinstance(one, str)]


def _annotation(annotation: Any, location: Location) -> Any:
    """Give the type that stands at a location below a model."""
    for step in location:
        if isinstance(step, int):
            continue
        found = _model_in(annotation)
        fields = {} if found is None else found.model_fields
        names = {str(one.validation_alias or name): one.annotation for name, one in fields.items()}
        annotation = names.get(step, annotation)
    return annotation


def _model_in(annotation: Any) -> type[BaseModel] | None:
    return next((one for one in _parts(annotation) if isinstance(one, type) and issubclass(one, BaseModel)), None)


def _parts(annotation: Any) -> list[Any]:
    """Take a type apart: `tuple[Zone, ...] | None` gives Zone, ... and None."""
    inside = get_args(annotation)
    return [annotation] if not inside else [part for one in inside for part in _parts(one)]
