"""Restores a backup into a folder that is not there yet, and proves what came out."""

import hashlib
import os
import shutil
from pathlib import Path, PurePosixPath
from typing import NamedTuple

from config.kept_settings import journal_stated, with_journal
from config.settings import FILE as SETTINGS
from config.settings import StorageSettings
from daemon import backup_check, backup_folder, backup_photos
from daemon.backup_maker import SPARE_BYTES
from daemon.backup_task import BackupTask
from daemon.backups.errors import BackupError, explained
from daemon.backups.manifest import FileThere, Manifest
from daemon.backups.names import JOURNAL, PHOTOS
from daemon.chain_rules import read_code
from daemon.standing.machine import bytes_text
from daemon.storage import backup, photos
from daemon.storage.backup import sync
from daemon.verify import verify
from daemon.verify_values import Wrong

_WHAT = "nothing was restored"
_OLDER = "Take an older backup: clutchwarden backup list shows them."
_AT_ONCE = 1 << 20
_FOR_US_ALONE = 0o700
_DEFAULT = str(StorageSettings().journal)


class Restored(NamedTuple):
    """A site folder that was restored, and the path of its journal.

    `lost`: what the backup had no more, as a sentence, empty where all came back. `warnings`: what else to know.
    """

    manifest: Manifest
    folder: Path
    journal: Path
    lost: str
    warnings: tuple[str, ...]


def restore(place: Path, target: Path, task: BackupTask, spare_bytes: int = SPARE_BYTES) -> Restored:
    """Restore a backup into a new or empty folder; so much room has to be left on its disk.

    It is filled under another name, proven there, and gets its name last: what stands at `target` is whole. Raises
    BackupError, BackupStoppedError.
    """
    manifest = backup_check.usable(place)
    target = target.absolute()
    part = unfinished(target)
    try:
        _refuse_taken(target)
        if part.exists():
            shutil.rmtree(part)
        _refuse_full(manifest, target.parent, spare_bytes)
        part.mkdir(mode=_FOR_US_ALONE)
        try:
            journal, lost, warnings = _fill(place, manifest, part, task)
            if target.exists():
                target.rmdir()
            part.rename(target)
            sync(target.parent)
        except BaseException:
            shutil.rmtree(part, ignore_errors=True)
            raise
    except OSError as error:
        raise explained(error, _WHAT, str(target)) from error
    return Restored(manifest, target, target / journal, lost, tuple(warnings))


def unfinished(target: Path) -> Path:
    """Give the folder that is filled before it gets its name."""
    return target.with_name(f".{target.name.lstrip('.')}.unfinished-restore")


def _fill(place: Path, manifest: Manifest, part: Path, task: BackupTask) -> tuple[Path, str, list[str]]:
    journal = Path(_DEFAULT)
    for each in manifest.files:
        if each.name != JOURNAL:
            _copied(place / each.name, part / each.name, each, task)
    stated = _journal_of(part / SETTINGS)
    warnings: list[str] = []
    if stated is not None:
        journal = stated
    elif (part / SETTINGS).is_file():
        text = (part / SETTINGS).read_text(encoding="utf-8")
        backup_folder.write(part / SETTINGS, with_journal(text, _DEFAULT))
        warnings.append(
            f"settings.toml named a journal outside of the site folder ({journal_stated(text)}). The restored one is "
            f"in the folder, and the restored settings.toml names it: {_DEFAULT}."
        )
    there = part / journal
    _copied(place / JOURNAL, there, next(each for each in manifest.files if each.name == JOURNAL), task)
    wrong = backup.problems(there, manifest.counts, manifest.schema, task)
    if wrong:
        raise BackupError(_WHAT, str(place), f"what came out is not whole: {'; '.join(wrong)}", _OLDER)
    warnings += _chain_warnings(there, manifest)
    on_record = backup_check.photos_of(there)
    lost = backup_photos.bring_copies(place.parent / PHOTOS, photos.folder_of(there), on_record, task)
    told = ""
    if lost:
        told = f"{len(lost)} of {len(on_record)} photos are missing or damaged in the backup, the first {lost[0]}"
    for inside in (each for each in part.rglob("*") if each.is_dir()):
        sync(inside)
    sync(part)
    return journal, told, warnings


def _chain_warnings(journal: Path, manifest: Manifest) -> list[str]:
    """Walk along the chain of events. What is wrong there came with the backup, and is no reason not to restore."""
    code = read_code(manifest.chain_head)
    if code is None:
        return []
    found = verify(journal, head=code)
    faults = [each for each in found.faults if each.wrong not in (Wrong.PHOTO_MISSING, Wrong.PHOTO_CHANGED)]
    if not faults:
        return []
    days = [each.day for each in faults if each.day]
    since = f", the first on {min(days)}" if days else ""
    places = f"{len(faults)} place{'s' * (len(faults) > 1)}"
    return [f"The record was changed after it was written, in {places}{since}: clutchwarden verify says more."]


def _journal_of(settings: Path) -> Path | None:
    """Where in the folder the settings want the journal; None where that is outside of it."""
    text = settings.read_text(encoding="utf-8") if settings.is_file() else ""
    stated = PurePosixPath(journal_stated(text) or _DEFAULT)
    return None if stated.is_absolute() or ".." in stated.parts else Path(stated)


def _copied(source: Path, target: Path, told: FileThere, task: BackupTask) -> None:
    """Copy a file, and hash what is written. Raises BackupError, OSError, BackupStoppedError."""
    target.parent.mkdir(parents=True, mode=_FOR_US_ALONE, exist_ok=True)
    found, done = hashlib.sha256(), 0
    number = os.open(target, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with source.open("rb") as old, os.fdopen(number, "wb") as new:
        while piece := old.read(_AT_ONCE):
            new.write(piece)
            found.update(piece)
            done += len(piece)
            task.step("Copying", done / max(told.byte_count, 1))
        new.flush()
        os.fsync(new.fileno())
    if found.hexdigest() != told.sha256:
        why = f"its file {told.name} is not as it was written"
        raise BackupError(_WHAT, str(source.parent), why, _OLDER)


def _refuse_taken(target: Path) -> None:
    if target.is_symlink() or (target.exists() and not target.is_dir()):
        raise BackupError(_WHAT, str(target), "this is a file", "Name a folder that is not there yet.", given=True)
    if target.exists() and any(target.iterdir()):
        hint = "Nothing is ever overwritten: name a folder that is not there yet."
        raise BackupError(_WHAT, str(target), "the folder is not empty", hint, given=True)
    if not target.parent.is_dir():
        hint = "Make the folder above it first."
        raise BackupError(_WHAT, str(target), "the folder above it is not there", hint, given=True)


def has_room(manifest: Manifest, folder: Path, spare_bytes: int) -> bool:
    """True where the disk of a folder has room for a restored backup and as much as that beside it. Raises OSError."""
    needed, free = _room(manifest, folder, spare_bytes)
    return free >= needed


def _room(manifest: Manifest, folder: Path, spare_bytes: int) -> tuple[int, int]:
    found = os.statvfs(folder)
    return manifest.byte_count + manifest.photo_bytes + spare_bytes, found.f_bavail * found.f_frsize


def _refuse_full(manifest: Manifest, folder: Path, spare_bytes: int) -> None:
    needed, free = _room(manifest, folder, spare_bytes)
    if free < needed:
        why = f"it needs {bytes_text(needed)}, and {bytes_text(free)} are free"
        raise BackupError(_WHAT, str(folder), why, "Free some space there, or restore to another disk.")
