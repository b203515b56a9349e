"""Backups that are not made, and a restore that did not work. Pure; times are UTC ms."""

from dataclasses import dataclass
from datetime import tzinfo

from config.words import AlarmKind
from daemon.alarms.figures import clock_text, duration_text
from daemon.standing.found import Found

LATEST_MS = 26 * 3_600_000
"""A backup a day, and two hours for one that begins late or takes long. Project choice."""
SUBJECT = "backup"
TEST_SUBJECT = "restore"


@dataclass(frozen=True, slots=True)
class BackupFacts:
    """What is known of the backups of a site that has a folder for them.

    `folder_trouble`: why nothing can be written there, empty where all is well, None where nobody has looked lately.
    `good_ms`: when the newest good backup was begun; `failed_ms` and `failure`: the newest attempt, where it failed.
    `tested_ms`, `test_failure`: the newest restore test; the latter is empty where it went well.
    """

    folder_trouble: str | None
    good_ms: int | None = None
    failed_ms: int | None = None
    failure: str = ""
    tested_ms: int | None = None
    test_failure: str = ""


def backup_failing(facts: BackupFacts, now_ms: int, zone: tzinfo, *, on: bool) -> Found | None:
    """No good backup for too long, or none at all after an attempt, or a folder that is not there."""
    kind = AlarmKind.BACKUP_FAILING
    if facts.folder_trouble:
        return Found(kind, SUBJECT, f"{facts.folder_trouble}{_newest(facts, now_ms, zone)}")
    why = f": {facts.failure}" if facts.failed_ms is not None and facts.failure else ""
    if facts.good_ms is None:
        return None if facts.failed_ms is None else Found(kind, SUBJECT, f"no backup could be made yet{why}")
    age_ms = now_ms - facts.good_ms
    if age_ms > LATEST_MS:
        reason = f"the newest good backup is {duration_text(age_ms)} old{why}"
        return Found(kind, SUBJECT, reason, since_ms=facts.good_ms + LATEST_MS)
    if facts.folder_trouble is None and on:
        return Found(kind, SUBJECT, "nobody knows yet whether the backup folder is there", known=False)
    return None


def restore_test_failed(facts: BackupFacts, now_ms: int, zone: tzinfo) -> Found | None:
    """The newest restore test did not bring back what the backup claims to hold."""
    if facts.tested_ms is None or not facts.test_failure:
        return None
    reason = f"the restore test of {clock_text(facts.tested_ms, now_ms, zone)} failed: {facts.test_failure}"
    return Found(AlarmKind.RESTORE_TEST_FAILED, TEST_SUBJECT, reason, since_ms=facts.tested_ms)


def _newest(facts: BackupFacts, now_ms: int, zone: tzinfo) -> str:
    if facts.good_ms is None:
        return "; there is no backup yet"
    return f"; the newest good backup is of {clock_text(facts.good_ms, now_ms, zone)}"
