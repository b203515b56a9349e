"""A restore that went well is one line of the digest, for a day."""

from pathlib import Path

from config.check import check_site
from daemon.digest import DigestReader
from daemon.digest_text import digest_text
from daemon.storage import backups
from daemon.storage.backups import RestoreTest
from tests.support.called import called_house

DAY_MS = 86_400_000


def test_the_digest_of_the_day_after_has_the_line_and_that_of_the_next_has_not(tmp_path: Path) -> None:
    with called_house(tmp_path) as house:
        test = RestoreTest(house.now_ms - 9000, house.now_ms - 1000, "a-backup", True, "500 readings; 1 open clutch")
        house.journal.write(lambda conn: backups.add_test(conn, test))
        reader = DigestReader(house.site, check_site(tmp_path / "site").profiles, 1_800_000)
        with house.journal.read() as conn:
            today, tomorrow = (reader.read(conn, house.overview(), house.now_ms + after) for after in (0, DAY_MS))
    line = "Backup:\nA backup was restored to try it, and is whole: 500 readings; 1 open clutch."
    assert line in digest_text(today).body
    assert "Backup:" not in digest_text(tomorrow).body
