"""Tries whether a backup can be restored: into a folder that is removed again, with the outcome on record."""

import logging
import shutil
from collections.abc import Callable
from pathlib import Path
from zoneinfo import ZoneInfo

from daemon import backup_check, backup_restore
from daemon.backup_contents import contents_text, read_contents
from daemon.backup_task import BackupTask
from daemon.backups.errors import BackupError, explained
from daemon.standing.machine import LEAST_FREE_BYTES
from daemon.storage import backups
from daemon.storage.backups import RestoreTest
from daemon.storage.journal import Journal, JournalError

log = logging.getLogger("clutchwarden.backup")

_FOLDER = ".restore-test"


def try_restore(journal: Journal, place: Path, now_ms: Callable[[], int], zone: ZoneInfo, task: BackupTask) -> bool:
    """Restore a backup, prove and remove it, and write down what came of it.

    Beside the journal where enough room is left there for the readings to come, else beside the backups. True where it
    was good. Raises JournalError, BackupStoppedError.
    """
    began_ms = now_ms()
    _clear(journal, place)
    try:
        good, told = _outcome(_target(journal, place), place, zone, task)
    except BackupError as error:
        good, told = False, f"{error.why} ({place.name})"
    except OSError as error:
        good, told = False, f"{explained(error, '', '').why} ({place.name})"
    except JournalError as error:
        good, told = False, f"the restored journal cannot be opened: {error.why}"
    finally:
        _clear(journal, place)
    test = RestoreTest(began_ms, now_ms(), place.name, good, told)
    journal.write(lambda conn: backups.add_test(conn, test))
    log.log(logging.INFO if good else logging.ERROR, "The restore test of %s %s: %s", place.name, _word(good), told)
    return good


def _outcome(target: Path, place: Path, zone: ZoneInfo, task: BackupTask) -> tuple[bool, str]:
    restored = backup_restore.restore(place, target, task)
    if restored.lost:
        return False, restored.lost
    return True, contents_text(read_contents(restored.journal), zone)


def _target(journal: Journal, place: Path) -> Path:
    beside, there = journal.path.parent / _FOLDER, place.parent / _FOLDER
    manifest = backup_check.usable(place)
    return beside if backup_restore.has_room(manifest, beside.parent, LEAST_FREE_BYTES) else there


def _clear(journal: Journal, place: Path) -> None:
    """Remove what this or an earlier test that was cut off has left."""
    for folder in (journal.path.parent, place.parent):
        shutil.rmtree(folder / _FOLDER, ignore_errors=True)
        shutil.rmtree(backup_restore.unfinished(folder / _FOLDER), ignore_errors=True)


def _word(good: bool) -> str:
    return "went well" if good else "failed"
