"""A daemon with a backup folder: it makes one at its start, says so, and goes on storing; a share that goes is told."""

from pathlib import Path

import pytest

from daemon import backup_check, backup_folder
from daemon.backup_task import BackupTask
from daemon.backups.names import MARKER
from daemon.storage import alarm_log
from daemon.storage.journal import Journal
from tests.support.household import House, Probe, now_ms, write_site
from tests.support.mosquitto import Mosquitto
from tests.support.processes import wait_until


@pytest.mark.services
def test_a_night_is_made_up_for_at_the_start_and_can_be_restored(mosquitto: Mosquitto, tmp_path: Path) -> None:
    site = write_site(tmp_path / "site", mosquitto.port)
    folder = tmp_path / "backups"
    with (site / "settings.toml").open("a", encoding="utf-8") as settings:
        settings.write(f'[backup]\nfolder = "{folder}"\n')
    backup_folder.set_up(folder, "Test house")
    house = House(site)
    try:
        house.start()
        wait_until(lambda: bool(backup_folder.listed(folder)), "a backup", 60)
        [made] = backup_folder.listed(folder)
        found = backup_check.check(folder / made.name, BackupTask())
        assert (found.wrong, found.photos_wrong) == ((), ())
        wait_until(lambda: "went well" in house.read("/health").json().get("backup", ""), "the restore test", 60)
        probe = Probe(mosquitto.port)
        probe.temperatures((now_ms() - 1000 * number, 28.0) for number in range(20))
        house.settle(20)
        probe.close()
        assert "The newest good backup is of" in house.read("/set-up/backups").text
    finally:
        house.service.stop()
    assert not [each.name for each in folder.iterdir() if each.name.startswith(".")]
    with Journal.open(house.journal_path) as journal, journal.read() as conn:
        assert not [each for each in alarm_log.events(conn, 100) if "backup" in each.alarm_key]
    assert (folder / MARKER).exists()
