"""A site with readings, a clutch and a photo, and a folder for its backups."""

import hashlib
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from config.words import Quantity
from daemon import backup_folder, backup_maker
from daemon.backup_maker import Source
from daemon.backup_task import BackupTask
from daemon.backups.manifest import Manifest
from daemon.clutches import register
from daemon.rounds.values import Photo
from daemon.storage import photos, rounds, samples
from daemon.storage.journal import Journal
from sensors.reading import ChannelKey, Reading
from tests.support.household import DAY_MS, a_clutch, write_site

AIR = ChannelKey("north-air/air", "north-air", "air", Quantity.AIR_TEMPERATURE)
START_MS = 1_790_000_000_000
READINGS = 500
PHOTO = b"the bytes of a photo"


class BackedUp:
    """The site in `site`, its journal in it, its backups in `backups`."""

    def __init__(self, folder: Path, journal: Journal) -> None:
        self.folder = folder
        self.site = folder / "site"
        self.backups = folder / "backups"
        self.journal = journal
        self.source = Source(self.site, "Test house", "0.1.0")
        self.zone = ZoneInfo("Europe/Madrid")
        self.now_ms = START_MS

    def back_up(self, task: BackupTask | None = None) -> Manifest:
        """Make a backup, a minute after the last one."""
        self.now_ms += 60_000
        return backup_maker.make(self.journal, self.source, self.backups, self.now_ms, task or BackupTask())

    def store(self, first: int, count: int) -> None:
        """Store one reading a second from the first one on."""
        store(self.journal, first, count)

    def names(self) -> list[str]:
        """What lies in the folder of backups."""
        return sorted(each.name for each in self.backups.iterdir())


def store(journal: Journal, first: int, count: int) -> None:
    """Store one reading a second."""
    times = [START_MS + 1000 * number for number in range(first, first + count)]
    readings = [Reading(AIR.channel, at_ms, at_ms, 20 + at_ms % 97 / 8, 0) for at_ms in times]
    journal.write(lambda conn: samples.append(conn, samples.channel_ids(conn, [AIR]), readings))


def rows(path: Path) -> dict[str, list[Any]]:
    """Every row of every table of a journal, by table."""
    with Journal.open(path) as journal, journal.read() as conn:
        tables = [name for (name,) in conn.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        return {name: sorted(map(repr, conn.execute(f"SELECT * FROM {name}"))) for name in tables}


def add_photo(journal: Journal, name: str = "2026/one.jpg", data: bytes = PHOTO) -> None:
    """Put a photo beside the journal, with its row."""
    photos.write_file(photos.folder_of(journal.path), name, data)

    def work(conn: sqlite3.Connection) -> None:
        number = rounds.start(conn, "north", "ana", START_MS, 20 * 60_000).number
        rounds.end(conn, "north", "ana", "", START_MS + 60_000)
        photos.append(
            conn,
            Photo(
                photo_id="photo-1",
                entry_id="entry-1",
                round_number=number,
                box="north/upper/N1",
                clutch_id=None,
                who="ana",
                made_ms=START_MS,
                received_ms=START_MS,
                file=name,
                byte_count=len(data),
                width=4,
                height=3,
                sha256=hashlib.sha256(data).hexdigest(),
            ),
        )

    journal.write(work)


@contextmanager
def backed_up(folder: Path) -> Iterator[BackedUp]:
    """Make one, with its folder of backups set up."""
    site = write_site(folder / "site", 1883, "http://127.0.0.1:9/S3CRET-TOKEN")
    with (site / "settings.toml").open("a", encoding="utf-8") as settings:
        settings.write(f'[backup]\nfolder = "{folder / "backups"}"\n')
    (site / "profiles").mkdir()
    with Journal.open(site / "data" / "journal.sqlite3") as journal:
        house = BackedUp(folder, journal)
        house.store(0, READINGS)
        journal.write(lambda conn: register.add_clutch(conn, a_clutch(START_MS - DAY_MS), "test", START_MS))
        backup_folder.set_up(house.backups, "Test house")
        yield house
