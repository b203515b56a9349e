"""The nights of a service: what is made, removed, tried and told, by a clock that the test sets."""

import shutil
from datetime import time
from pathlib import Path

import pytest

from config.backup import BackupSettings
from config.check import check_site
from config.words import AlarmKind
from daemon import backup_folder
from daemon.backup_keeper import BackupKeeper
from daemon.backup_reader import BackupReader
from daemon.backups.names import JOURNAL, MARKER
from daemon.backups.told import NONE_CONFIGURED
from daemon.occupancy import Occupancy
from daemon.standing.found import Found
from daemon.standing_sources.backups import BackupSource
from daemon.standing_sources.source import Moment
from daemon.storage import backups
from daemon.thermometers import AirChannels
from tests.backups.house import BackedUp, add_photo

HOUR_MS = 3_600_000
DAY_MS = 24 * HOUR_MS
NIGHT_MS = 1_789_954_200_000
"""21 September 2026, 03:30 in Madrid (01:30 UTC): 20717 days and 1.5 h after 1970."""


class Nights:
    """The keeper of a house, its alarms, and a clock."""

    def __init__(self, house: BackedUp, settings: BackupSettings) -> None:
        self.house = house
        self.now_ms = NIGHT_MS
        self.keeper = BackupKeeper(house.journal, house.source, settings, house.zone, lambda: self.now_ms, rests=0.0)
        site = check_site(house.site).site
        assert site is not None
        self._air = AirChannels(site)
        folder = "" if settings.folder is None else str(settings.folder)
        self._source = BackupSource(site, folder, self.keeper.folder_trouble)
        self.reader = BackupReader(house.journal, settings, house.zone, lambda: self.now_ms, self.keeper.folder_trouble)

    def alarms(self) -> list[Found]:
        """What is wrong now, by the journal and what the keeper saw."""
        occupancy: Occupancy = None  # type: ignore[assignment]
        with self.house.journal.read() as conn:
            moment = Moment(conn, self.now_ms, occupancy, self._air, lambda _kind, _subject: False)
            return list(self._source.found(moment))

    def look(self, after_ms: int = 0) -> list[str]:
        """Let time pass and look; gives the names of all backups that are there."""
        self.now_ms += after_ms
        self.keeper.look()
        return [name for name in self.house.names() if name.startswith("2")]


@pytest.fixture
def nights(house: BackedUp) -> Nights:
    return Nights(house, BackupSettings(folder=house.backups, at=time(3, 30), keep_days=2, keep_weeks=0, keep_months=0))


def test_one_is_made_each_night_and_no_more(nights: Nights) -> None:
    assert len(nights.look()) == 1
    assert len(nights.look(HOUR_MS)) == 1
    assert len(nights.look(23 * HOUR_MS - 60_000)) == 1
    assert len(nights.look(60_000)) == 2
    assert nights.alarms() == []


def test_the_oldest_goes_and_that_is_on_record(nights: Nights) -> None:
    [first] = nights.look()
    [_, second] = nights.look(DAY_MS)
    [again, third] = nights.look(DAY_MS)
    assert again == second
    assert third > second
    with nights.house.journal.read() as conn:
        removed = conn.execute("SELECT name, why FROM backup_removed").fetchall()
    assert removed == [(first, "older than what is kept: one of each of 2 days")]


def test_a_share_that_is_gone_is_an_alarm_and_over_once_it_is_back(nights: Nights) -> None:
    nights.look()
    away = nights.house.folder / "away"
    nights.house.backups.rename(away)
    nights.house.backups.mkdir()
    assert nights.look(DAY_MS) == []
    assert nights.house.names() == []
    [alarm] = nights.alarms()
    assert alarm.kind is AlarmKind.BACKUP_FAILING
    assert f"without {MARKER}" in alarm.reason
    nights.house.backups.rmdir()
    away.rename(nights.house.backups)
    assert len(nights.look(HOUR_MS)) == 2
    assert nights.alarms() == []


def test_after_a_failure_it_tries_again_within_the_hour_and_not_at_every_look(nights: Nights) -> None:
    (nights.house.backups / MARKER).unlink()
    for _ in range(5):
        nights.look(60_000)
    with nights.house.journal.read() as conn:
        assert len(backups.runs(conn, 100)) == 1
    backup_folder.set_up(nights.house.backups, "Test house")
    assert len(nights.look(30 * 60_000)) == 1


def test_a_restore_is_tried_with_the_first_and_then_once_a_month(nights: Nights) -> None:
    tested = []
    for _ in range(32):
        nights.look(DAY_MS)
        with nights.house.journal.read() as conn:
            tested.append(conn.execute("SELECT count(*) FROM restore_test WHERE good").fetchone()[0])
    assert tested[:30] == [1] * 30
    assert tested[30:] == [2, 2]
    assert not [each for each in nights.house.journal.path.parent.iterdir() if "restore" in each.name]


def test_a_backup_that_does_not_restore_is_an_alarm_until_one_does(nights: Nights) -> None:
    nights.look(2 * HOUR_MS)
    journal = nights.house.backups / nights.look(30 * DAY_MS - HOUR_MS)[-1] / JOURNAL
    data = bytearray(journal.read_bytes())
    data[-100] ^= 1
    journal.write_bytes(data)
    nights.look(HOUR_MS)
    [alarm] = nights.alarms()
    assert alarm.kind is AlarmKind.RESTORE_TEST_FAILED
    assert "its file journal.sqlite3 is not as it was written" in alarm.reason
    nights.look(DAY_MS)
    assert nights.alarms() == []


def test_another_journal_in_the_same_folder_is_left_alone(nights: Nights, tmp_path: Path) -> None:
    [first] = nights.look()
    other = f"{first[:-8]}{'0' * 8}"
    shutil.copytree(nights.house.backups / first, nights.house.backups / other)
    for _ in range(4):
        nights.look(DAY_MS)
    assert other in nights.house.names()
    assert len(nights.look()) == 3


def test_without_a_folder_nothing_is_made_and_nothing_is_wrong(house: BackedUp) -> None:
    nights = Nights(house, BackupSettings())
    nights.look()
    assert nights.alarms() == []
    assert house.names() == [MARKER]
    assert nights.reader.line() == NONE_CONFIGURED


def test_the_line_says_when_the_newest_was_made_and_that_it_was_tried(nights: Nights) -> None:
    assert nights.reader.line() == "A backup folder is stated, and there is no good backup yet."
    nights.look()
    assert nights.reader.line() == "The newest good backup is of 03:30; the restore test of 03:30 went well."


def test_the_thread_makes_one_and_ends(house: BackedUp) -> None:
    from tests.support.processes import wait_until

    def is_made() -> bool:
        return any(name.startswith("2") for name in house.names())

    nights = Nights(house, BackupSettings(folder=house.backups))
    nights.keeper.start()
    try:
        wait_until(is_made, "a backup")
    finally:
        nights.keeper.stop()
    assert is_made()
    assert not [name for name in house.names() if name.startswith(".")]


def test_a_photo_that_is_lost_among_the_backups_is_an_alarm_and_a_journal_elsewhere_is_none(house: BackedUp) -> None:
    settings = house.site / "settings.toml"
    settings.write_text(settings.read_text() + f'[storage]\njournal = "{house.journal.path}"\n')
    add_photo(house.journal)
    nights = Nights(house, BackupSettings(folder=house.backups))
    nights.look()
    assert nights.alarms() == []
    (house.backups / "photos" / "2026" / "one.jpg").write_bytes(b"another")
    (house.journal.path.parent / "photos" / "2026" / "one.jpg").unlink()
    nights.look(31 * DAY_MS)
    assert [each.kind for each in nights.alarms()] == [AlarmKind.RESTORE_TEST_FAILED]
    assert "1 of 1 photos" in nights.alarms()[0].reason
