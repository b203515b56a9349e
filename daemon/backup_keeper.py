"""Makes a backup each night, removes the old ones, and tries once a month whether one can be restored.

A thread of its own at a low priority: a share may hang, and readings and alarms come first. It asks the service's clock
and waits by real time. All that came of it is on record in the journal; the alarms are judged by that.
"""

import contextlib
import logging
import os
import sqlite3
import threading
import time
from collections.abc import Callable
from contextlib import ExitStack
from importlib.metadata import version
from pathlib import Path
from zoneinfo import ZoneInfo

from config.backup import BackupSettings
from daemon import backup_folder, backup_maker
from daemon.alarms.occasions import newest_daily
from daemon.backup_folder import Seen
from daemon.backup_maker import Source
from daemon.backup_task import BackupTask
from daemon.backup_trial import try_restore
from daemon.backups.due import backup_is_due, trial_is_due
from daemon.backups.errors import BackupError, BackupStoppedError
from daemon.backups.keeping import Dated, Kept, to_remove
from daemon.backups.manifest import Manifest
from daemon.clock import Clock
from daemon.stated import Stated
from daemon.storage import backup, backups
from daemon.storage.backups import BackupRun
from daemon.storage.journal import Journal, JournalError

log = logging.getLogger("clutchwarden.backup")

LOOK_EVERY_S = 60.0
SEEN_OLD_S = 1800.0
"""What was seen of the folder so long ago says nothing any more: the share may hang."""
RESTS = 1.0
"""After each step it pauses for as long as the step took, so that ingest has the disk half of the time."""
_NICE = 10
_STOP_S = 10.0


class BackupKeeper:
    """Looks again and again, once `start` was called. Without a folder in the settings it does nothing."""

    def __init__(
        self,
        journal: Journal,
        source: Source,
        settings: BackupSettings,
        zone: ZoneInfo,
        now_ms: Callable[[], int],
        rests: float = RESTS,
    ) -> None:
        self._journal = journal
        self._source = source
        self._settings = settings
        self._zone = zone
        self._now_ms = now_ms
        self._rests = rests
        self._task = BackupTask(rests=rests)
        # Replaced as a whole by the thread that looks, so that nobody needs a lock.
        self._seen: tuple[float, Seen] | None = None
        self._told = ""
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, name="backup", daemon=True)

    def start(self) -> None:
        """Begin to look."""
        if self._settings.folder is not None:
            self._thread.start()

    def stop(self) -> None:
        """End. A backup that is being made is given up; a share that hangs is not waited for."""
        self._stopping.set()
        self._task.stop()
        if self._thread.ident is not None:
            self._thread.join(_STOP_S)

    def folder_trouble(self) -> str | None:
        """Why nothing can be written into the folder, empty where all is well, None where nobody has looked lately."""
        seen = self._seen
        return None if seen is None or time.monotonic() - seen[0] > SEEN_OLD_S else seen[1].trouble

    def look(self) -> None:
        """Do what is due. What fails is on record, and tried again."""
        folder = self._settings.folder
        if folder is None:
            return
        seen = backup_folder.look(folder, self._journal.path)
        self._seen = time.monotonic(), seen
        try:
            if self._is_due(folder):
                self._back_up(folder)
            self._test(folder)
        except BackupStoppedError:
            log.info("A backup was given up, because the service ends.")
        except JournalError as error:
            self._tell(str(error))

    def _is_due(self, folder: Path) -> bool:
        now_ms = self._now_ms()
        night = newest_daily(now_ms, self._settings.at, self._zone)
        with self._journal.read() as conn:
            good, tried = backups.newest_run(conn, good=True), backups.newest_run(conn)
        good_ms = good.began_ms if good is not None and good.folder == str(folder) else None
        tried_ms = tried.began_ms if tried is not None and tried.folder == str(folder) else None
        return backup_is_due(now_ms, night.due_ms, good_ms, tried_ms)

    def _back_up(self, folder: Path) -> None:
        began_ms = self._now_ms()
        try:
            manifest = backup_maker.make(self._journal, self._source, folder, began_ms, self._task)
        except BackupError as error:
            record_failure(self._journal, folder, began_ms, self._now_ms(), error)
            self._tell(str(error))
            return
        self._told = ""
        record_made(self._journal, folder, began_ms, self._now_ms(), manifest)
        log.info("The backup %s was made and checked: %d bytes.", manifest.name, manifest.byte_count)
        thin_out(self._journal, self._settings, self._zone, manifest.origin, self._now_ms())

    def _test(self, folder: Path) -> None:
        now_ms = self._now_ms()
        with self._journal.read() as conn:
            newest, origin = backups.newest_test(conn), backup.origin(conn)
        if not trial_is_due(now_ms, newest.began_ms if newest else None, good=newest is None or newest.good):
            return
        try:
            whole = [each for each in backup_folder.listed(folder, origin) if not each.problem]
        except BackupError:
            # That the folder is not there has an alarm of its own.
            return
        if whole:
            try_restore(self._journal, folder / whole[0].name, self._now_ms, self._zone, self._task)

    def _run(self) -> None:
        with contextlib.suppress(OSError, AttributeError):
            os.setpriority(os.PRIO_PROCESS, threading.get_native_id(), _NICE)
        while True:
            try:
                self.look()
            except Exception as error:
                if not self._told:
                    log.exception("A backup could not be made: a fault in the program.")
                self._told = type(error).__name__
            if self._stopping.wait(LOOK_EVERY_S):
                return

    def _tell(self, trouble: str) -> None:
        if trouble != self._told:
            log.error("%s", trouble)
        self._told = trouble


def record_made(journal: Journal, folder: Path, began_ms: int, ended_ms: int, manifest: Manifest) -> None:
    """Write down that a backup was made. Raises JournalError."""
    told = " ".join(manifest.warnings)
    run = BackupRun(began_ms, ended_ms, str(folder), manifest.name, True, manifest.byte_count, told)
    journal.write(lambda conn: backups.add_run(conn, run))


def record_failure(journal: Journal, folder: Path, began_ms: int, ended_ms: int, error: BackupError) -> None:
    """Write down that none could be made. Raises JournalError."""
    run = BackupRun(began_ms, ended_ms, str(folder), "", False, 0, error.why)
    journal.write(lambda conn: backups.add_run(conn, run))


def thin_out(
    journal: Journal, settings: BackupSettings, zone: ZoneInfo, origin: str, now_ms: int
) -> list[tuple[str, str]]:
    """Remove the backups that are not kept any longer; gives them with the reason. Raises JournalError."""
    folder, removed = settings.folder, list[tuple[str, str]]()
    if folder is None:
        return removed
    kept = Kept(settings.keep_days, settings.keep_weeks, settings.keep_months)
    try:
        there = backup_folder.listed(folder, origin)
        dated = [Dated(each.name, each.made_ms) for each in there]
        for each in to_remove(dated, kept, zone, {one.name for one in there if not one.problem}, now_ms):
            backup_folder.remove(folder, each.name)
            removed.append((each.name, each.why))
    except (BackupError, OSError) as error:
        log.warning("Old backups cannot be removed: %s", error)
    for name, why in removed:
        log.info("The backup %s was removed: %s.", name, why)

    def store(conn: sqlite3.Connection) -> None:
        backups.add_removed(conn, removed, now_ms)

    if removed:
        journal.write(store)
    return removed


def keep_backups(journal: Journal, stated: Stated, clock: Clock, ending: ExitStack) -> BackupKeeper:
    """Begin to make backups of a site, and leave the end to `ending`."""
    source = Source(stated.folder, stated.site.name, version("clutchwarden"))
    keeper = BackupKeeper(journal, source, stated.settings.backup, ZoneInfo(stated.site.time_zone), clock.now_ms)
    keeper.start()
    ending.callback(keeper.stop)
    return keeper
