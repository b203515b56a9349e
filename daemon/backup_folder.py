"""The folder that backups go to: its marker, what lies in it, and what was cut off."""

import contextlib
import json
import os
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from daemon.backups.errors import BackupError, explained
from daemon.backups.manifest import MOST_BYTES, Manifest, ManifestError, from_json
from daemon.backups.names import JOURNAL, MANIFEST, MARKER, UNFINISHED, is_left_over, is_of, moment_of
from daemon.storage.backup import sync

_FOR_US_ALONE = 0o700
_LET_US = (
    "Let the user who runs clutchwarden write there; a share may be mounted read-only. As a service it also needs the "
    "folder under ReadWritePaths=, as the head of its unit says."
)
_SET_UP = "If it is a share, mount it. If this folder is really meant: clutchwarden backup --set-up {folder}"


class Seen(NamedTuple):
    """What was seen of the folder of backups. `is_same_disk`: it is lost together with the journal.

    `hint`: what to do about the trouble; empty where it is to set the folder up.
    """

    trouble: str
    free_bytes: int = 0
    is_same_disk: bool = False
    hint: str = ""


class Listed(NamedTuple):
    """One backup in the folder. `problem`: why it cannot be used, as the rest of a sentence, by a quick look."""

    name: str
    made_ms: int
    manifest: Manifest | None
    problem: str = ""


def set_up(folder: Path, site: str) -> bool:
    """Make the folder where it is missing, and write the marker. False where that is there already.

    The folder above it has to be there: a name with a slip in it should not become a tree of folders.
    Raises BackupError.
    """
    marker = folder / MARKER
    try:
        if not folder.parent.is_dir():
            why, hint = "the folder above it is not there", "Make that one first, and mount the share if it is one."
            raise BackupError("cannot set up the folder", str(folder), why, hint, given=True)
        folder.mkdir(mode=_FOR_US_ALONE, exist_ok=True)
        if marker.exists():
            return False
        write(marker, json.dumps({"what": "clutchwarden backups", "site": site}, ensure_ascii=False) + "\n")
        sync(folder)
    except OSError as error:
        raise explained(error, "cannot set up the folder", str(folder)) from error
    return True


def look(folder: Path, journal: Path) -> Seen:
    """See whether the folder is there and can be written to. May wait long where a share hangs."""
    try:
        if not (folder / MARKER).is_file():
            what = "is not there" if not folder.is_dir() else f"is there, but without {MARKER}"
            return Seen(f"the backup folder {folder} {what}")
        free = os.statvfs(folder)
        if not os.access(folder, os.W_OK):
            return Seen(f"nothing may be written into the backup folder {folder}", hint=_LET_US)
        same = folder.stat().st_dev == _existing(journal).stat().st_dev
        return Seen("", free.f_bavail * free.f_frsize, same)
    except OSError as error:
        return Seen(f"the backup folder {folder} cannot be reached ({(error.strerror or '').lower()})")


def ready(folder: Path, journal: Path) -> Seen:
    """The same for somebody who is about to write. Raises BackupError."""
    seen = look(folder, journal)
    if seen.trouble:
        hint = seen.hint or _SET_UP.format(folder=folder)
        raise BackupError("no backup can be made", str(folder), seen.trouble, hint)
    return seen


def listed(folder: Path, origin: str | None = None) -> list[Listed]:
    """Give the backups of one journal, or of all, newest first, by a quick look at each. Raises BackupError."""
    try:
        names = [each.name for each in folder.iterdir()]
    except OSError as error:
        raise explained(error, "cannot read the backup folder", str(folder)) from error
    ours = [name for name in names if (moment_of(name) is not None if origin is None else is_of(name, origin))]
    found = [one_of(folder / name) for name in ours]
    return sorted(found, key=lambda each: (each.made_ms, each.name), reverse=True)


def one_of(place: Path) -> Listed:
    """Look at one backup quickly: its manifest has to be there, and every file of it in its size."""
    name = place.name
    made_ms = moment_of(name) or 0
    try:
        manifest = from_json(_manifest_text(place / MANIFEST))
        made_ms = manifest.made_ms
        for each in manifest.files:
            if (place / each.name).stat().st_size != each.byte_count:
                return Listed(name, made_ms, manifest, f"its file {each.name} has another size")
    except ManifestError as error:
        return Listed(name, made_ms, None, str(error))
    except FileNotFoundError as error:
        return Listed(name, made_ms, None, f"its file {Path(str(error.filename)).name} is missing")
    except (OSError, ValueError):
        return Listed(name, made_ms, None, "it cannot be read")
    if not any(each.name == JOURNAL for each in manifest.files):
        return Listed(name, made_ms, manifest, "its manifest names no journal")
    return Listed(name, made_ms, manifest)


def _manifest_text(path: Path) -> str:
    """Read one, which may be anything on a share that others write to: a pipe would be waited for without an end."""
    if path.exists() and not path.is_file():
        raise ManifestError("its manifest is no file")
    with path.open("rb") as file:
        text = file.read(MOST_BYTES + 1)
    if len(text) > MOST_BYTES:
        raise ManifestError("its manifest is far larger than any that clutchwarden writes")
    return text.decode("utf-8")


def remove_left_overs(folder: Path, origin: str) -> list[str]:
    """Remove what backups of this journal left that were cut off; gives their names. Raises OSError."""
    names = [each.name for each in folder.iterdir() if is_left_over(each.name, origin)]
    for name in names:
        _remove_whole(folder / name)
    return names


def remove(folder: Path, name: str) -> None:
    """Remove a backup so that a cut in the middle leaves nothing that looks like one. Raises OSError."""
    gone = folder / _unfinished(name)
    (folder / name).rename(gone)
    sync(folder)
    _remove_whole(gone)


def _remove_whole(place: Path) -> None:
    """Remove a folder with all in it; of a link the link alone, and what it leads to stays."""
    if place.is_dir() and not place.is_symlink():
        shutil.rmtree(place)
    else:
        place.unlink()


@contextlib.contextmanager
def being_made(folder: Path, name: str) -> Iterator[Path]:
    """Give a folder to fill; at the end it gets its name, and where anything fails it is removed.

    Raises BackupError, OSError.
    """
    part, whole = folder / _unfinished(name), folder / name
    if whole.exists():
        raise BackupError("no backup was made", str(whole), "there is one of this second already", "Try again.")
    part.mkdir(mode=_FOR_US_ALONE)
    try:
        yield part
        for inside in sorted(each for each in part.rglob("*") if each.is_dir()):
            sync(inside)
        sync(part)
        part.rename(whole)
        sync(folder)
    except BaseException:
        shutil.rmtree(part, ignore_errors=True)
        raise


def write(path: Path, text: str) -> None:
    """Write a new file that nobody else may read, and bring it to the disk. Raises OSError."""
    path.parent.mkdir(parents=True, mode=_FOR_US_ALONE, exist_ok=True)
    number = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
    with os.fdopen(number, "w", encoding="utf-8", newline="") as file:
        file.write(text)
        file.flush()
        os.fsync(file.fileno())


def _existing(path: Path) -> Path:
    """The path, or the nearest folder above it that is there: before the first start there is no journal."""
    return next((each for each in (path, *path.parents) if each.exists()), path)


def _unfinished(name: str) -> str:
    return f"{UNFINISHED}{name}"
