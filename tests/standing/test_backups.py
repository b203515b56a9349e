"""When backups are an alarm: no good one for 26 h, none at all, a folder that is gone, a restore that failed."""

from datetime import UTC

from config.words import AlarmKind
from daemon.standing.backups import BackupFacts, backup_failing, restore_test_failed
from daemon.standing.found import Found

HOUR_MS = 3_600_000
NOW = 1_790_000_000_000
WELL = BackupFacts(folder_trouble="", good_ms=NOW - HOUR_MS)


def failing(facts: BackupFacts, *, on: bool = False) -> Found | None:
    return backup_failing(facts, NOW, UTC, on=on)


def test_a_backup_of_last_night_is_no_alarm() -> None:
    assert failing(WELL) is None
    assert failing(WELL, on=True) is None


def test_after_26_h_without_a_good_one_it_is_and_says_why() -> None:
    good_ms = NOW - 26 * HOUR_MS
    assert failing(BackupFacts("", good_ms)) is None
    found = failing(BackupFacts("", good_ms - 1, failed_ms=NOW - 1000, failure="the disk is full"))
    assert found is not None
    assert (found.kind, found.subject, found.known) == (AlarmKind.BACKUP_FAILING, "backup", True)
    assert found.reason == "the newest good backup is 1 d 2 h old: the disk is full"
    assert found.since_ms == NOW - 1


def test_a_failed_attempt_with_a_good_one_from_last_night_is_none_yet() -> None:
    assert failing(BackupFacts("", NOW - HOUR_MS, failed_ms=NOW - 1000, failure="the disk is full")) is None


def test_where_none_was_ever_made_the_first_failure_is_told_and_no_attempt_is_none() -> None:
    assert failing(BackupFacts("")) is None
    found = failing(BackupFacts("", failed_ms=NOW, failure="the disk is full"))
    assert found is not None
    assert found.reason == "no backup could be made yet: the disk is full"


def test_a_folder_that_is_gone_is_told_whatever_there_was_before() -> None:
    found = failing(BackupFacts("the backup folder /mnt/b is not there", NOW - 2 * HOUR_MS))
    assert found is not None
    # 2 h before 21 September 2026, 14:13 UTC.
    assert found.reason == "the backup folder /mnt/b is not there; the newest good backup is of 12:13"


def test_where_nobody_has_looked_an_alarm_neither_begins_nor_ends() -> None:
    unseen = BackupFacts(None, NOW - HOUR_MS)
    assert failing(unseen) is None
    found = failing(unseen, on=True)
    assert found is not None
    assert not found.known
    # What the journal knows does not need a look at the folder.
    late = failing(BackupFacts(None, NOW - 30 * HOUR_MS))
    assert late is not None
    assert late.known


def test_a_restore_test_is_an_alarm_until_one_went_well() -> None:
    assert restore_test_failed(WELL, NOW, UTC) is None
    assert restore_test_failed(BackupFacts("", tested_ms=NOW), NOW, UTC) is None
    found = restore_test_failed(BackupFacts("", tested_ms=NOW - HOUR_MS, test_failure="it is damaged"), NOW, UTC)
    assert found is not None
    assert (found.kind, found.subject) == (AlarmKind.RESTORE_TEST_FAILED, "restore")
    assert found.reason == "the restore test of 13:13 failed: it is damaged"
