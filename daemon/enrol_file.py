"""The file of the broker's user names on disk: changed by one at a time, whole or not at all; and the broker told."""

import contextlib
import fcntl
import os
import signal
import stat
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import NamedTuple

from daemon.enrol_passwords import entries

MOSQUITTO = "mosquitto"


class EnrolError(Exception):
    """A probe cannot be enrolled or dismissed; the text says why and what to do. Never with a password."""


class Owner(NamedTuple):
    """Whose a file is."""

    user: int
    group: int


@contextlib.contextmanager
def acting_as(owner: Owner) -> Iterator[None]:
    """Let root do what follows as the owner of a folder, so that a link which he laid there leads root nowhere."""
    if os.geteuid() != 0:
        yield
        return
    group, groups = os.getegid(), os.getgroups()
    os.setgroups([owner.group])
    os.setegid(owner.group)
    os.seteuid(owner.user)
    try:
        yield
    finally:
        os.seteuid(0)
        os.setegid(group)
        os.setgroups(groups)


def read(path: Path) -> str:
    """Give the file's text; empty where there is none. Raises EnrolError."""
    try:
        return path.read_text(encoding="utf-8")
    except FileNotFoundError:
        return ""
    except (OSError, UnicodeDecodeError) as error:
        raise EnrolError(_cannot(path, "read", error)) from None


def names(path: Path) -> tuple[str, ...]:
    """Give the user names in the file. Raises EnrolError."""
    return tuple(entries(read(path)))


def change(path: Path, rule: Callable[[str], str], new: Owner | None = None) -> None:
    """Write what `rule` makes of the text. Owner and mode stay; a file that is new belongs to `new`, for it alone.

    Raises EnrolError, and whatever `rule` raises: then nothing is changed.
    """
    try:
        with _alone(path.parent):
            write_secret(path, rule(read(path)), new)
    except OSError as error:
        raise EnrolError(_cannot(path, "written", error)) from None


def write_secret(path: Path, text: str, new: Owner | None = None) -> None:
    """Write a file beside its place and move it there. Raises OSError."""
    fresh = path.with_name(f".{path.name}.new")
    fresh.unlink(missing_ok=True)
    opened = os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    try:
        with os.fdopen(opened, "w", encoding="utf-8") as file:
            with contextlib.suppress(FileNotFoundError):
                before = path.stat()
                new = Owner(before.st_uid, before.st_gid)
                os.fchmod(opened, stat.S_IMODE(before.st_mode))
            # Only root may give a file away; anybody else keeps what is his.
            if new is not None and os.geteuid() == 0:
                os.fchown(opened, *new)
            file.write(text)
            file.flush()
            os.fsync(opened)
        fresh.replace(path)
    except BaseException:
        fresh.unlink(missing_ok=True)
        raise


def tell_mosquitto(pid_file: Path) -> int:
    """Have Mosquitto read its files again (SIGHUP); gives its process id. Raises EnrolError where it cannot be told."""
    try:
        process = int(pid_file.read_text(encoding="ascii").strip())
        program = Path(f"/proc/{process}/comm").read_text(encoding="utf-8").strip()
    except (OSError, ValueError):
        raise EnrolError(f"{pid_file} names no process that runs") from None
    if program != MOSQUITTO:
        raise EnrolError(f"process {process}, which {pid_file} names, is not Mosquitto")
    try:
        os.kill(process, signal.SIGHUP)
    except OSError as error:
        raise EnrolError((error.strerror or str(error)).lower()) from None
    return process


@contextlib.contextmanager
def _alone(folder: Path) -> Iterator[None]:
    """Hold the folder, so that two who change the file at once do not lose one of the changes."""
    held = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
    try:
        fcntl.flock(held, fcntl.LOCK_EX)
        yield
    finally:
        os.close(held)


def _cannot(path: Path, done: str, error: Exception) -> str:
    why = (error.strerror or str(error)).lower() if isinstance(error, OSError) else "it is not UTF-8 text"
    hint = " Run the command as root (sudo)." if isinstance(error, PermissionError) else ""
    return f"{path} cannot be {done}: {why}.{hint}"
