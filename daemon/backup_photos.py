"""Photos of backups: one folder for all of them, into which each photo is copied once and never again."""

import contextlib
import hashlib
import os
from collections.abc import Sequence
from pathlib import Path

from daemon.backup_task import BackupTask
from daemon.storage.backup import PhotoRow, sync

_AT_ONCE = 1 << 20
_FOR_US_ALONE = 0o700


def missing(pool: Path, photos: Sequence[PhotoRow]) -> list[PhotoRow]:
    """Give those that are not in a folder in their size. Raises OSError."""
    return [each for each in photos if _size(pool / each.file) != each.byte_count]


def bring(source: Path, pool: Path, photos: Sequence[PhotoRow], task: BackupTask) -> list[str]:
    """Copy what is missing; on one disk a second name is enough. Gives a sentence for each that cannot be had whole.

    Raises OSError for the folder that they go to, BackupStoppedError.
    """
    warnings, wanted, folders = [], missing(pool, photos), set()
    for number, each in enumerate(wanted):
        task.step("Copying photos", number / len(wanted))
        if sha256_of(source / each.file) != each.sha256:
            warnings.append(f"The photo {each.file} is missing or damaged beside the journal: the backup has none.")
            continue
        target = pool / each.file
        target.parent.mkdir(parents=True, mode=_FOR_US_ALONE, exist_ok=True)
        _place(source / each.file, target)
        folders.add(target.parent)
    for folder in folders:
        sync(folder)
    return warnings


def bring_copies(pool: Path, target: Path, photos: Sequence[PhotoRow], task: BackupTask) -> list[str]:
    """Copy photos out of backups; gives the files that are missing or damaged there.

    Raises OSError for the folder that they go to, BackupStoppedError.
    """
    lost = []
    for number, each in enumerate(photos):
        task.step("Copying photos", number / len(photos))
        # A name out of a journal that somebody may have changed must not lead out of the folder.
        if ".." in Path(each.file).parts or Path(each.file).is_absolute() or sha256_of(pool / each.file) != each.sha256:
            lost.append(each.file)
            continue
        there = target / each.file
        there.parent.mkdir(parents=True, mode=_FOR_US_ALONE, exist_ok=True)
        _copy(pool / each.file, there)
    return lost


def wrong(pool: Path, photos: Sequence[PhotoRow], task: BackupTask) -> list[str]:
    """Read every photo, and name those that are missing or damaged. Raises BackupStoppedError."""
    found = []
    for number, each in enumerate(photos):
        task.step("Checking photos", number / len(photos))
        if sha256_of(pool / each.file) != each.sha256:
            found.append(each.file)
    return found


def sha256_of(path: Path, task: BackupTask | None = None) -> str:
    """Give the SHA-256 of a file in hexadecimal; empty where it cannot be read."""
    found = hashlib.sha256()
    try:
        size = path.stat().st_size
        with path.open("rb") as file:
            while part := file.read(_AT_ONCE):
                found.update(part)
                if task is not None:
                    task.step("Reading it back", file.tell() / size)
    except OSError:
        return ""
    return found.hexdigest()


def _place(source: Path, target: Path) -> None:
    part = target.with_name(f".{target.name}.part")
    part.unlink(missing_ok=True)
    try:
        with contextlib.suppress(OSError):
            # The same disk: a photo is never changed, so a second name of it takes no room.
            os.link(source, part)
        if not part.exists():
            _copy(source, part)
        part.replace(target)
    except OSError:
        part.unlink(missing_ok=True)
        raise


def _copy(source: Path, target: Path) -> None:
    with source.open("rb") as old, os.fdopen(os.open(target, os.O_WRONLY | os.O_CREAT, 0o600), "wb") as new:
        while piece := old.read(_AT_ONCE):
            new.write(piece)
        new.flush()
        os.fsync(new.fileno())


def _size(path: Path) -> int | None:
    try:
        return path.stat().st_size
    except OSError:
        return None
