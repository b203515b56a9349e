"""Makes a backup: the journal as it is at one moment, what the keeper stated, photos, and a manifest of it all.

It is filled under a name that no backup has, read back and proven there, and gets its name last. A kill at any moment
leaves the backups that were there, and something that the next one removes.
"""

import contextlib
import fcntl
import logging
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from config.check import PROFILES
from config.kept_settings import without_secrets
from config.settings import FILE as SETTINGS
from config.site_mask import NOT_KEPT, without_addresses
from daemon import backup_folder, backup_photos
from daemon.backup_folder import Seen
from daemon.backup_task import BackupTask
from daemon.backups.errors import BackupError, explained
from daemon.backups.manifest import FileThere, Manifest, to_json
from daemon.backups.names import JOURNAL, MANIFEST, PHOTOS, name_of
from daemon.standing.machine import bytes_text
from daemon.storage import backup, photos
from daemon.storage.backup import Snapshot
from daemon.storage.journal import Journal

log = logging.getLogger("clutchwarden.backup")

SITE = "site.toml"
SPARE_BYTES = 16_000_000
"""So much room has to be left beside what is written: it is for the small files, and for the system. Project choice."""
_WHAT = "no backup was made"
_SAME_DISK = (
    "The backup folder is on the same disk as the journal: a disk that dies takes both. Name a folder on another disk "
    "or a mounted share."
)
_NO_SITE = (
    "site.toml is not in the backup: it holds an address that could not be hidden. Keep addresses in files of their "
    "own (url_file)."
)


@dataclass(frozen=True, slots=True)
class Source:
    """What a backup is made of: the site folder, the name of the site, and the version of this program."""

    folder: Path
    site: str
    version: str


def make(journal: Journal, source: Source, folder: Path, made_ms: int, task: BackupTask) -> Manifest:
    """Make one, and give what it holds. Raises BackupError, JournalError, BackupStoppedError."""
    with one_at_a_time(journal.path):
        try:
            seen = backup_folder.ready(folder, journal.path)
            with journal.read() as conn:
                origin, needed, rows = backup.origin(conn), backup.size_bytes(conn), backup.photo_rows(conn)
            for left in backup_folder.remove_left_overs(folder, origin):
                log.info("What a backup left that was cut off is removed: %s", left)
            needed += sum(each.byte_count for each in backup_photos.missing(folder / PHOTOS, rows))
            _refuse_full(seen, needed, folder)
            name = name_of(made_ms, origin)
            with backup_folder.being_made(folder, name) as part:
                return _fill(journal, source, folder, part, made_ms, name, _warnings(seen), task)
        except OSError as error:
            raise explained(error, _WHAT, str(folder)) from error


def _fill(
    journal: Journal,
    source: Source,
    folder: Path,
    part: Path,
    made_ms: int,
    name: str,
    warnings: list[str],
    task: BackupTask,
) -> Manifest:
    taken = backup.copy(journal, part / JOURNAL, task)
    warnings += _stated(source.folder, part)
    warnings += backup_photos.bring(photos.folder_of(journal.path), folder / PHOTOS, taken.photos, task)
    wrong = backup.problems(part / JOURNAL, taken.counts, taken.schema, task)
    if wrong:
        hint = "The disk of the journal or that of the backups may be failing: run clutchwarden backup again, and look."
        raise BackupError(_WHAT, str(folder), f"the copy is not whole: {'; '.join(wrong)}", hint)
    manifest = _manifest(source, part, made_ms, name, taken, tuple(warnings), task)
    backup_folder.write(part / MANIFEST, to_json(manifest))
    return manifest


def _manifest(
    source: Source, part: Path, made_ms: int, name: str, taken: Snapshot, warnings: tuple[str, ...], task: BackupTask
) -> Manifest:
    paths = sorted(each for each in part.rglob("*") if each.is_file())
    return Manifest(
        name=name,
        made_ms=made_ms,
        version=source.version,
        schema=taken.schema,
        site=source.site,
        origin=taken.origin,
        counts=taken.counts,
        files=tuple(
            FileThere(str(each.relative_to(part)), each.stat().st_size, backup_photos.sha256_of(each, task))
            for each in paths
        ),
        newest_reading_ms=taken.newest_reading_ms,
        photos=len(taken.photos),
        photo_bytes=sum(each.byte_count for each in taken.photos),
        chain_head=taken.chain_head,
        warnings=warnings,
    )


def _stated(folder: Path, part: Path) -> list[str]:
    """Copy what the keeper stated, without addresses and passwords. Gives a sentence for what could not be."""
    warnings = []
    for name, kept in ((SITE, without_addresses), (SETTINGS, without_secrets)):
        try:
            text = kept((folder / name).read_text(encoding="utf-8"))
        except FileNotFoundError:
            # Without settings the defaults hold; a service without site.toml has lost it since it was started.
            warnings += [f"{name} is not in the backup: it is gone from {folder}."] if name == SITE else []
        except ValueError:
            warnings.append(f"{name} is not in the backup: it cannot be read as TOML.")
        else:
            if text == NOT_KEPT:
                warnings.append(_NO_SITE)
            else:
                backup_folder.write(part / name, text)
    for profile in sorted((folder / PROFILES).glob("*.toml")):
        try:
            backup_folder.write(part / PROFILES / profile.name, profile.read_text(encoding="utf-8"))
        except ValueError:
            warnings.append(f"{PROFILES}/{profile.name} is not in the backup: it is not text.")
    return warnings


def _warnings(seen: Seen) -> list[str]:
    return [_SAME_DISK] if seen.is_same_disk else []


def _refuse_full(seen: Seen, needed: int, folder: Path) -> None:
    if seen.free_bytes < needed + SPARE_BYTES:
        why = f"it needs {bytes_text(needed + SPARE_BYTES)}, and {bytes_text(seen.free_bytes)} are free"
        hint = "Free some space there, keep fewer backups (keep_days, keep_weeks, keep_months), or take a larger disk."
        raise BackupError(_WHAT, str(folder), why, hint)


@contextlib.contextmanager
def one_at_a_time(journal: Path) -> Iterator[None]:
    """Hold the backups of a journal for one at a time, command or daemon. Raises BackupError."""
    try:
        lock = journal.with_suffix(".backup.lock").open("w")
    except OSError as error:
        raise explained(error, _WHAT, str(journal.parent)) from error
    with lock:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as error:
            why = "another backup of this journal is being made at this moment"
            raise BackupError(_WHAT, str(journal), why, "Wait until it is done.") from error
        yield
