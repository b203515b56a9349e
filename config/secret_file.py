"""Files that hold secrets: beside the file that names them, or credentials that systemd hands to a service.

`password_file = "credential:broker-password"` is the file `broker-password` in the folder that systemd names in
CREDENTIALS_DIRECTORY: root keeps it where it likes, and the service alone sees it, for as long as it runs.
"""

import os
import pwd
import re
import stat
from collections.abc import Iterable, Iterator
from dataclasses import astuple, dataclass, replace
from pathlib import Path
from typing import Literal

from config.errors import ConfigError, Mistake

PREFIX = "credential:"
VARIABLE = "CREDENTIALS_DIRECTORY"
_NAME = re.compile(r"[A-Za-z0-9_][A-Za-z0-9._-]{0,127}")
_NAME_HINT = "Write credential: and the name alone, as LoadCredential= has it: letters, digits, - _ and ."
_LARGEST_BYTES = 65_536
"""Project choice; no password, token or address comes near it."""
_ALONE = "Put the secret alone into that file, readable for the user who runs clutchwarden and for nobody else."


@dataclass(frozen=True, slots=True)
class Unseen(Mistake):
    """A credential that only the service itself can see; nothing needs to be wrong with it."""

    severity: Literal["mistake", "warning"] = "warning"


class UnseenError(ConfigError):
    """A credential that only the service itself can see was needed by another program."""


def is_credential(stated: Path | str) -> bool:
    """True for what names a credential rather than a file."""
    return str(stated).startswith(PREFIX)


def located(folder: Path, stated: Path) -> Path:
    """Give the whole path of a file; a relative one begins at `folder`, and a credential stays what it is."""
    return stated if is_credential(stated) else folder / stated


def opened(path: Path, file: str, key: str) -> Path:
    """Give the path under which a file can be opened; `file` and `key` state it. Raises ConfigError, or UnseenError."""
    if not is_credential(path):
        return path
    name = str(path).removeprefix(PREFIX)
    if _NAME.fullmatch(name) is None:
        raise ConfigError([Mistake(file, key, "this is not how a credential is named", _NAME_HINT)])
    folder = os.environ.get(VARIABLE, "")
    if not folder:
        reason = f"the credential {name} can be seen by the service alone, since systemd hands it over"
        hint = f"As a service, with LoadCredential={name}:FILE in its unit, it is found; elsewhere name a file."
        raise UnseenError([Mistake(file, key, reason, hint)])
    return Path(folder) / name


def seen(path: Path) -> Path:
    """Give the same for a library that opens the file by itself; what nobody can find is left as it is."""
    try:
        return opened(path, "", "")
    except ConfigError:
        return path


def read_secret(path: Path, file: str, key: str) -> str:
    """Read a secret from its file, without the white space around it. Raises ConfigError, never with the secret."""
    place = opened(path, file, key)
    what, hint = f"the file {path}", _ALONE
    if is_credential(path):
        name = place.name
        what, hint = f"the credential {name}", f"Add LoadCredential={name}:FILE to the unit, with the secret in FILE."
    try:
        secret = _content(place).decode("utf-8-sig").strip()
    except (OSError, UnicodeDecodeError) as error:
        why = error.strerror or str(error) if isinstance(error, OSError) else "it is not UTF-8 text"
        if isinstance(error, PermissionError) and not is_credential(path):
            hint = how_to_give(place) or hint
        raise ConfigError([Mistake(file, key, f"{what} cannot be read: {why}", hint)]) from None
    if not secret:
        raise ConfigError([Mistake(file, key, f"{what} is empty", hint)])
    return secret


def how_to_give(place: Path) -> str:
    """Say whose a file is that may not be read, and how it comes to who reads it; empty where that cannot be seen.

    Files that root wrote into the folder of the service are the usual case. Nothing is advised about a way with
    links in it: whoever may write there could have root give away another file.
    """
    place = place.absolute()
    try:
        owner = place.lstat().st_uid
        if place.resolve() != place:
            return ""
    except (OSError, RuntimeError):
        return ""
    us = os.geteuid()
    if owner == us:
        return f"Run: chmod 600 {place}"
    return f"It belongs to {_user(owner)}, and is read as {_user(us)}. Run as root: chown -h {_user(us)} {place}"


def _user(number: int) -> str:
    try:
        return pwd.getpwuid(number).pw_name
    except KeyError:
        return f"user {number}"


def _content(place: Path) -> bytes:
    """Read a small file. A pipe that nobody writes to, or a device without an end, must not hold up the start."""
    number = os.open(place, os.O_RDONLY | os.O_NONBLOCK | os.O_CLOEXEC)
    try:
        if not stat.S_ISREG(os.fstat(number).st_mode):
            raise OSError("it is no ordinary file")
        content = os.read(number, _LARGEST_BYTES + 1)
    finally:
        os.close(number)
    if len(content) > _LARGEST_BYTES:
        raise OSError(f"it has more than {_LARGEST_BYTES} bytes, which no secret has")
    return content


def found(error: ConfigError) -> Iterator[Mistake]:
    """Give what a check tells of a secret that could not be read: one that only the service sees is no mistake."""
    for mistake in error.mistakes:
        yield Unseen(*astuple(mistake)[:4]) if isinstance(error, UnseenError) else mistake


def as_service(mistakes: Iterable[Mistake]) -> Iterator[Mistake]:
    """Give the same mistakes as they count for the service itself, which needs every secret."""
    for mistake in mistakes:
        yield replace(mistake, severity="mistake") if isinstance(mistake, Unseen) else mistake
