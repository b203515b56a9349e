"""At the start of the daemon: what the keeper's files say now, and what they said at the start before, goes on record.

A change that a page made is on record with who made it. One that was made with an editor is seen here alone: nobody
knows who it was, but what stood there before, what stands there now, and when the file was saved.
"""

import hashlib
import logging
import os
import secrets
import sqlite3
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

from config.check import PROFILES
from config.environment import FILE as ENVIRONMENT
from config.environment import PREFIX
from config.kept_settings import files_named, without_secrets
from config.rules import FILE as SITE
from config.secret_file import located, seen
from config.settings import FILE as SETTINGS
from config.site_mask import NOT_KEPT, without_addresses
from config.species import BUILT_IN
from daemon.storage import audit, stated_files
from daemon.storage.audit import HOST, Change
from daemon.storage.journal import Journal
from daemon.storage.stated_files import StatedFile

log = logging.getLogger("clutchwarden")

UNKNOWN = "unknown"
BY_HAND, FIRST, GONE = "file changed by hand", "file first seen", "file taken away"
_BUILT_IN = "built-in species"
_COST = 2**13
"""8 MB and some hundredths of a second for each file with secrets, at the start alone. Project choice."""
_WHY = "Found by looking at the file; no page made this change."
_ONLY_SECRET = "an address or another secret, or a comment, which is not kept here"  # noqa: S105 - a sentence


class _Now(NamedTuple):
    """A file as it stands: all that its digest covers, what may be kept of it, when it was saved (UTC ms)."""

    whole: bytes
    text: str
    is_secret: bool
    saved_ms: int | None


def follow_stated(journal: Journal, folder: Path, now_ms: int, *, begin: bool = True) -> None:
    """Put on record what changed in site.toml, settings.toml and the species since the last look.

    `begin`: also of files that nobody has looked at yet. Raises JournalError. A file that cannot be read is left for
    the next look.
    """
    with journal.read() as conn:
        before = stated_files.kept(conn)
    if not before and not begin:
        return
    now = {name: file for name, file in _files(folder) if begin or name in before}
    # Hashing takes its time on purpose, and is done before anybody has to wait for it.
    fresh = {name: _stated(name, file, before.get(name)) for name, file in now.items()}
    changed = {name: file for name, file in fresh.items() if before.get(name) != file}
    gone = [name for name in before if name not in now and _is_gone(folder, name)]
    if not changed and not gone:
        return

    def work(conn: sqlite3.Connection) -> None:
        for name, file in changed.items():
            audit.record(conn, _change(before.get(name), file, now[name].saved_ms), now_ms)
        for name in gone:
            old = _told(before[name].text)
            audit.record(conn, Change(UNKNOWN, HOST, GONE, name, old=old, why=_WHY), now_ms)
        stated_files.keep(conn, changed.values())
        stated_files.forget(conn, gone)

    journal.write(work)


def site_as_stated(folder: Path, text: str) -> StatedFile:
    """Give what is kept of site.toml with this text, for whoever puts a change of it on record themselves."""
    return _stated(SITE, _site(folder, text, None), None)


def _change(before: StatedFile | None, file: StatedFile, saved_ms: int | None) -> Change:
    saved: dict[str, Any] = {} if saved_ms is None else {"saved_ms": saved_ms}
    new = {**saved, **_told(file.text)}
    if before is None:
        return Change(UNKNOWN, HOST, FIRST, file.name, new=new)
    if before.text == file.text:
        new = {**saved, "changed": _ONLY_SECRET}
        return Change(UNKNOWN, HOST, BY_HAND, file.name, new=new, why=_WHY)
    return Change(UNKNOWN, HOST, BY_HAND, file.name, old=_told(before.text), new=new, why=_WHY)


def _told(text: str) -> dict[str, Any]:
    return {"sha256": hashlib.sha256(text.encode()).hexdigest(), "text": text}


def _stated(name: str, file: _Now, before: StatedFile | None) -> StatedFile:
    salt = before.salt if before is not None else secrets.token_hex(16) if file.is_secret else ""
    if salt:
        digest = hashlib.scrypt(file.whole, salt=bytes.fromhex(salt), n=_COST, r=8, p=1, maxmem=2**25).hex()
    else:
        digest = hashlib.sha256(file.whole).hexdigest()
    return StatedFile(name, digest, salt, file.text)


def _files(folder: Path) -> Iterator[tuple[str, _Now]]:
    site = _read(folder / SITE)
    if site is not None:
        yield SITE, _site(folder, site, _saved_ms(folder / SITE))
    settings = _read(folder / SETTINGS)
    if settings is not None:
        whole = _with_named_files(folder, settings)
        yield SETTINGS, _Now(whole, _masked(settings), is_secret=True, saved_ms=_saved_ms(folder / SETTINGS))
    for path in sorted((folder / PROFILES).glob("*.toml")):
        profile = _read(path)
        if profile is not None:
            name = f"{PROFILES}/{path.name}"
            yield name, _Now(profile.encode(), profile, is_secret=False, saved_ms=_saved_ms(path))
    yield from _environment()
    built_in = "".join(f"{path.stem} {hashlib.sha256(path.read_bytes()).hexdigest()}\n" for path in _built_in())
    yield _BUILT_IN, _Now(built_in.encode(), built_in, is_secret=False, saved_ms=None)


def _environment() -> Iterator[tuple[str, _Now]]:
    """Variables overrule settings.toml. Any of their values may be a secret, so only their names are kept."""
    set_here = {name: value for name, value in os.environ.items() if name.upper().startswith(PREFIX) and "__" in name}
    if set_here:
        text = "".join(f"{name} = (value not kept)\n" for name in sorted(set_here))
        yield ENVIRONMENT, _Now(repr(sorted(set_here.items())).encode(), text, is_secret=True, saved_ms=None)


def _built_in() -> list[Path]:
    return sorted(BUILT_IN.glob("*.toml"))


def _site(folder: Path, text: str, saved_ms: int | None) -> _Now:
    return _Now(_with_named_files(folder, text), without_addresses(text), is_secret=True, saved_ms=saved_ms)


def _masked(settings: str) -> str:
    try:
        return without_secrets(settings)
    except ValueError:
        return NOT_KEPT


def _with_named_files(folder: Path, text: str) -> bytes:
    """Give the text with what lies in the files that it names: an address there is as good as one in the text."""
    inside = [text.encode()]
    for name in files_named(text):
        try:
            inside.append(seen(located(folder, Path(name))).read_bytes())
        except OSError:
            inside.append(b"(cannot be read)")
    return b"\0".join(inside)


def _read(path: Path) -> str | None:
    try:
        return path.read_bytes().decode("utf-8")
    except (OSError, UnicodeDecodeError) as error:
        if not isinstance(error, FileNotFoundError):
            log.warning("%s cannot be read, so nobody can tell whether it was changed: %s", path.name, error)
        return None


def _saved_ms(path: Path) -> int | None:
    try:
        return path.stat().st_mtime_ns // 1_000_000
    except OSError:
        return None


def _is_gone(folder: Path, name: str) -> bool:
    return name == ENVIRONMENT or (name != _BUILT_IN and not (folder / name).exists())
