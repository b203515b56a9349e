"""Settings as they go into a backup: without secrets, and as they come out of it. Pure."""

import tomllib
from collections.abc import Iterator
from typing import Any

import tomlkit

from config.settings import Settings

_HEAD = "# The settings as they were stated, without secrets and without comments.\n\n"
_SECRET = "SecretStr"  # noqa: S105 - the name of a type


def without_secrets(text: str) -> str:
    """Give the settings as TOML without passwords and addresses. Comments go too: they may hold old ones.

    Raises ValueError where the text is not TOML.
    """
    stated = tomllib.loads(text.removeprefix("\ufeff"))
    for section, key in _secret_keys():
        table = stated.get(section)
        if isinstance(table, dict):
            table.pop(key, None)
    return _HEAD + tomlkit.dumps(stated)


def with_journal(text: str, journal: str) -> str:
    """Give the settings with another place of the journal. Raises ValueError where the text is not TOML."""
    stated = tomllib.loads(text.removeprefix("\ufeff"))
    return _HEAD + tomlkit.dumps({**stated, "storage": {**stated.get("storage", {}), "journal": journal}})


def journal_stated(text: str) -> str | None:
    """Give the place of the journal as the settings state it; None where they do not, or cannot be read."""
    try:
        found = tomllib.loads(text.removeprefix("\ufeff")).get("storage", {}).get("journal")
    except (ValueError, AttributeError):
        return None
    return found if isinstance(found, str) else None


def files_named(text: str) -> tuple[str, ...]:
    """Give the files that a settings or site file names (`password_file`, `url_file`), in order, each once."""
    try:
        stated = tomllib.loads(text.removeprefix("\ufeff"))
    except ValueError:
        return ()
    return tuple(dict.fromkeys(_files(stated)))


def _files(stated: Any, key: str = "") -> Iterator[str]:
    if isinstance(stated, dict):
        for name, inside in stated.items():
            yield from _files(inside, name)
    elif isinstance(stated, list):
        for inside in stated:
            yield from _files(inside, key)
    elif isinstance(stated, str) and key.endswith("_file"):
        yield stated


def _secret_keys() -> Iterator[tuple[str, str]]:
    """Every key whose value is a secret, by its type, so that none that is added later is forgotten."""
    for section, field in Settings.model_fields.items():
        for key, inside in type(field.default).model_fields.items():
            if _SECRET in str(inside.annotation):
                yield section, key
