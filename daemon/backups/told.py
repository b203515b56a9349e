"""What people are told of backups where all is well. Pure; times are UTC ms."""

from dataclasses import dataclass
from datetime import tzinfo

from daemon.alarms.figures import clock_text
from daemon.storage.backups import BackupRun, RestoreTest

NEWS_MS = 24 * 3_600_000
NONE_CONFIGURED = "No backup is configured: if this disk dies, the record is lost. See [backup] in settings.toml."


@dataclass(frozen=True, slots=True)
class BackupStanding:
    """The backups of a site at one moment.

    `folder` is empty where none is stated. `trouble`: why nothing can be written there; None where that is not known.
    `runs` are the newest attempts, newest first.
    """

    now_ms: int
    folder: str
    at: str
    trouble: str | None
    good: BackupRun | None
    runs: tuple[BackupRun, ...] = ()
    test: RestoreTest | None = None


def restore_lines(test: RestoreTest | None, now_ms: int) -> tuple[str, ...]:
    """A restore test that went well is news for a day; one that did not is an alarm."""
    if test is None or not test.good or not 0 <= now_ms - test.ended_ms < NEWS_MS:
        return ()
    return (f"A backup was restored to try it, and is whole: {test.told}.",)


def standing_line(standing: BackupStanding, zone: tzinfo) -> str:
    """One line: the newest good backup, or that there is none, without the name of a folder."""
    if not standing.folder:
        return NONE_CONFIGURED
    if standing.good is None:
        return "A backup folder is stated, and there is no good backup yet."
    made = clock_text(standing.good.began_ms, standing.now_ms, zone)
    test = standing.test
    tried = "no restore was tried yet"
    if test is not None:
        when = clock_text(test.began_ms, standing.now_ms, zone)
        tried = f"the restore test of {when} {'went well' if test.good else 'failed'}"
    return f"The newest good backup is of {made}; {tried}."
