"""Finds a backup by what somebody typed, and reads all of it to say whether it is whole."""

from contextlib import closing
from pathlib import Path
from typing import NamedTuple

from daemon import backup_folder, backup_photos
from daemon.backup_task import BackupTask
from daemon.backups.errors import BackupError
from daemon.backups.manifest import Manifest
from daemon.backups.names import JOURNAL, MANIFEST, PHOTOS
from daemon.storage import backup
from daemon.storage.backup import PhotoRow
from daemon.storage.migrations import MIGRATIONS

_OLDER = "Take an older backup: clutchwarden backup list shows them."


class Checked(NamedTuple):
    """What was found. `wrong`: why the backup is not whole; `photos_wrong`: photos that are missing or damaged."""

    manifest: Manifest
    wrong: tuple[str, ...]
    photos_wrong: tuple[str, ...] = ()


def place_of(typed: str, folder: Path | None) -> Path:
    """Give the folder of a backup: by its path, that of a file in it, or its name in the backup folder.

    Raises BackupError.
    """
    path = Path(typed).expanduser()
    candidates = [path] if folder is None or len(path.parts) > 1 else [folder / path, path]
    for each in candidates:
        if each.is_file() and each.name in (JOURNAL, MANIFEST):
            return each.parent.absolute()
        if each.is_dir():
            return each.absolute()
    hint = "clutchwarden backup list shows the backups; give the name or the path of one."
    raise BackupError("there is no such backup", typed, "neither a folder nor the manifest of one", hint, given=True)


def usable(place: Path) -> Manifest:
    """Look at a backup quickly, and give its manifest. Raises BackupError where it cannot be used."""
    listed = backup_folder.one_of(place)
    what = "this backup cannot be used"
    if listed.problem or listed.manifest is None:
        raise BackupError(what, str(place), listed.problem, _OLDER)
    newest = MIGRATIONS[-1].number
    if listed.manifest.schema > newest:
        why = f"a newer version of clutchwarden made it (schema {listed.manifest.schema}, this version knows {newest})"
        raise BackupError(what, str(place), why, "Install that version, or a newer one, and try again.", given=True)
    return listed.manifest


def check(place: Path, task: BackupTask) -> Checked:
    """Read every byte of a backup. Raises BackupError where it cannot be used at all, BackupStoppedError."""
    manifest = usable(place)
    wrong = [
        f"its file {each.name} is not as it was written"
        for each in manifest.files
        if backup_photos.sha256_of(place / each.name, task) != each.sha256
    ]
    wrong += backup.problems(place / JOURNAL, manifest.counts, manifest.schema, task)
    photos = () if wrong else photos_of(place / JOURNAL)
    return Checked(manifest, tuple(wrong), tuple(backup_photos.wrong(place.parent / PHOTOS, photos, task)))


def photos_of(journal: Path) -> tuple[PhotoRow, ...]:
    """Give the photos that a copy of a journal has on record, also one from before there were any."""
    with closing(backup.open_copy(journal)) as conn:
        known = conn.execute("SELECT 1 FROM sqlite_master WHERE type = 'table' AND name = 'photo'").fetchone()
        return () if known is None else backup.photo_rows(conn)
