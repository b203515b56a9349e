"""What is known of the backups of a site, for pages and `/health`. Reads no folder: a share may hang."""

from collections.abc import Callable
from zoneinfo import ZoneInfo

from config.backup import BackupSettings
from daemon.backups.told import BackupStanding, standing_line
from daemon.storage import backups
from daemon.storage.backups import BackupRun
from daemon.storage.journal import Journal

_RUNS_SHOWN = 30


class BackupReader:
    """Reads for one site; `trouble` is what was last seen of the folder. Safe to use from any thread."""

    def __init__(
        self,
        journal: Journal,
        settings: BackupSettings,
        zone: ZoneInfo,
        now_ms: Callable[[], int],
        trouble: Callable[[], str | None],
    ) -> None:
        self.zone = zone
        self._journal = journal
        self._settings = settings
        self._now_ms = now_ms
        self._trouble = trouble

    def look(self) -> BackupStanding:
        """Everything that the page shows. Raises JournalError."""
        folder = self._settings.folder
        with self._journal.read() as conn:
            runs, test = backups.runs(conn, _RUNS_SHOWN), backups.newest_test(conn)
            good = backups.newest_run(conn, good=True)
        return BackupStanding(
            now_ms=self._now_ms(),
            folder="" if folder is None else str(folder),
            at=f"{self._settings.at:%H:%M}",
            trouble=self._trouble(),
            good=good if good is not None and folder is not None and good.folder == str(folder) else None,
            runs=tuple(runs),
            test=test,
        )

    def runs(self, before: int | None, limit: int) -> list[tuple[int, BackupRun]]:
        """The newest attempts before one, each with its number. Raises JournalError."""
        with self._journal.read() as conn:
            return backups.page(conn, before, limit)

    def line(self) -> str:
        """The standing in one line. Raises JournalError."""
        return standing_line(self.look(), self.zone)
