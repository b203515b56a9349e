"""Works out roll-ups and heat anew from the readings, on a copy of the journal, and compares them with what is stored.

Both are extra: they can be thrown away and made again. A difference says that what is shown is not what was measured.
"""

import shutil
import sqlite3
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import NamedTuple

from config.site import Site
from config.species import SpeciesProfile
from daemon import heat_keeper
from daemon.backup_task import BackupTask
from daemon.clutches import register
from daemon.heat_keeper import HeatKeeper
from daemon.rollups import RollUps
from daemon.storage import backup, heat, rollups
from daemon.storage.journal import Journal
from daemon.thermometers import AirChannels

_FOLDER = ".rebuild-unfinished"
_DIGITS = 9
"""Heat is compared to a billionth of a degree-hour: sums of the same figures in another order differ by less."""
_HEAT = "clutch_id, hour_start_ms, linear_ms, covered_ms, missing_ms, above_cap_ms, below_zero_ms, " + ", ".join(
    f"round({name}, {_DIGITS})"
    for name in ("low_ch", "degree_hours_ch", "high_ch", "colder_ch", "warmer_ch", "covered_ch", "temperature_ch")
)


class Compared(NamedTuple):
    """What was compared: rows that are stored, and how many of the old and new ones are not the same."""

    stored: int
    different: int


class Rebuilt(NamedTuple):
    """Roll-ups, and heat by clutch (number), of those that have any."""

    rollups: Compared
    heat: Mapping[int, Compared]


def rebuild(
    journal: Journal, site: Site, profiles: Mapping[str, SpeciesProfile], bridge_ms: int, task: BackupTask
) -> Rebuilt:
    """Do it beside a running service, which is not disturbed. Raises JournalError, BackupError, BackupStoppedError."""
    with _copied(journal, task) as copied:
        task.begin("Rolling up")
        found = _rollups(copied)
        task.begin("Summing up heat")
        return Rebuilt(found, _heat(copied, site, profiles, bridge_ms, task))


def put_right(journal: Journal, clutches: Sequence[int]) -> None:
    """Make the roll-ups anew, and let the next start of the service compute the heat of these clutches anew.

    No service may run meanwhile. A kill in the middle leaves roll-ups that the service completes. Raises JournalError.
    """

    def work(conn: sqlite3.Connection) -> None:
        rollups.forget(conn)
        for number in clutches:
            heat.clear_hours(conn, number)
            conn.execute("DELETE FROM heat_basis WHERE clutch_id = ?", (number,))

    journal.write(work)
    RollUps(journal).run()


@contextmanager
def _copied(journal: Journal, task: BackupTask) -> Iterator[Journal]:
    folder = journal.path.parent / _FOLDER
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(mode=0o700)
    try:
        backup.copy(journal, folder / journal.path.name, task)
        with Journal.open(folder / journal.path.name) as copied:
            yield copied
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _rollups(copied: Journal) -> Compared:
    RollUps(copied).run()
    copied.write(lambda conn: conn.execute("CREATE TABLE rollup_before AS SELECT * FROM rollup").rowcount)
    copied.write(rollups.forget)
    RollUps(copied).run()
    with copied.read() as conn:
        (stored,) = conn.execute("SELECT count(*) FROM rollup_before").fetchone()
        return Compared(stored, _different(conn, "*", "rollup_before", "rollup"))


def _heat(
    copied: Journal, site: Site, profiles: Mapping[str, SpeciesProfile], bridge_ms: int, task: BackupTask
) -> dict[int, Compared]:
    def forget(conn: sqlite3.Connection) -> None:
        conn.execute("CREATE TABLE heat_before AS SELECT * FROM heat_hour")
        conn.execute("DELETE FROM heat_hour")
        conn.execute("DELETE FROM heat_basis")

    copied.write(forget)
    air = AirChannels(site)
    with copied.read() as conn:
        air.load(conn)
        cursor, lying = heat.get_cursor(conn), register.clutches(conn, include_closed=True)
        keeper = HeatKeeper(conn, profiles, air, bridge_ms)
        keeper.see(conn, lying, cursor)
    while True:
        with copied.read() as conn:
            hours = keeper.hours(conn, (), cursor, time.time_ns() // 1_000_000)
        bases = keeper.new_bases()
        copied.write(lambda conn, hours=hours, bases=bases: heat_keeper.store(conn, hours, bases))  # type: ignore[misc]
        keeper.settle(hours, bases)
        task.step("Summing up heat", 0.5)
        if not keeper.is_unfinished:
            break
    with copied.read() as conn:
        counts = dict(conn.execute("SELECT clutch_id, count(*) FROM heat_before GROUP BY clutch_id").fetchall())
        return {
            number: Compared(count, _different(conn, _HEAT, "heat_before", "heat_hour", f"WHERE clutch_id = {number}"))
            for number, count in counts.items()
        }


def _different(conn: sqlite3.Connection, columns: str, before: str, after: str, where: str = "") -> int:
    """Count the rows that are in one of the two alone; a row that changed is in each of them, and counts once."""
    one_way = f"SELECT count(*) FROM (SELECT {columns} FROM {{}} {where} EXCEPT SELECT {columns} FROM {{}} {where})"  # noqa: S608
    (gone,) = conn.execute(one_way.format(before, after)).fetchone()
    (new,) = conn.execute(one_way.format(after, before)).fetchone()
    return int(max(gone, new))
