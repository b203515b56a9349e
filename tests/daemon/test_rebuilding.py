"""Roll-ups and heat made anew are those that were kept all along; one that somebody changed is found."""

import random
import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from daemon import cli
from daemon.backup_task import BackupTask
from daemon.only_one import only_one
from daemon.rebuilding import Compared, rebuild
from daemon.rollups import RollUps
from tests.daemon.kept import AIR, HOUR_MS, START_MS, Kept, at
from tests.support.household import DAY_MS, MINUTE_MS, a_clutch, write_site
from tests.support.journals import new_journal

BRIDGE_MS = 1_800_000


@pytest.fixture
def kept(tmp_path: Path) -> Iterator[Kept]:
    """Three days, with gaps and readings that came late, rolled up and evaluated in many steps."""
    site = write_site(tmp_path / "site", 1883)
    chance = random.Random(7)
    moments = [START_MS + number * 5 * MINUTE_MS for number in range(3 * DAY_MS // (5 * MINUTE_MS))]
    came = [each for each in moments if not 20 * HOUR_MS < each - START_MS < 24 * HOUR_MS]
    came.sort(key=lambda each: each + chance.choice([0] * 9 + [7 * HOUR_MS]))
    with new_journal(site / "data" / "journal.sqlite3") as journal:
        house = Kept(journal, site)
        house.enter(a_clutch(START_MS))
        for first in range(0, len(came), 40):
            for moment in came[first : first + 40]:
                house.put(at(moment, {AIR: 26 + moment // MINUTE_MS % 40 / 10}))
            house.evaluate(START_MS + 4 * DAY_MS)
            RollUps(journal).run()
        yield house


def compared(kept: Kept) -> tuple[Compared, dict[int, Compared]]:
    found = rebuild(kept.journal, kept.site, kept.profiles, BRIDGE_MS, BackupTask())
    return found.rollups, dict(found.heat)


def command(kept: Kept, *words: str) -> Result:
    return CliRunner().invoke(cli.app, ["rebuild", "--site", str(kept.journal.path.parents[1]), *words])


def test_what_was_kept_step_by_step_is_what_comes_out_anew(kept: Kept) -> None:
    rolled, heat = compared(kept)
    assert rolled.stored > 3 * 24 * 5
    assert rolled.different == 0
    [clutch] = heat.values()
    assert clutch.stored >= 71
    assert clutch.different == 0
    assert [each.name for each in kept.journal.path.parent.iterdir() if "rebuild" in each.name] == []


def test_a_figure_that_somebody_changed_is_found_counted_and_put_right(kept: Kept) -> None:
    def change(conn: sqlite3.Connection) -> None:
        of_part = "UPDATE rollup SET most = most + 1 WHERE level_ms = 600000 AND start_ms = ?"
        conn.execute(of_part, (START_MS // 600_000 * 600_000,))
        of_hour = "UPDATE heat_hour SET degree_hours_ch = degree_hours_ch + 1 WHERE hour_start_ms = ?"
        conn.execute(of_hour, (START_MS // HOUR_MS * HOUR_MS + HOUR_MS,))

    kept.journal.write(change)
    rolled, heat = compared(kept)
    assert rolled.different == 1
    assert [each.different for each in heat.values()] == [1]
    told = command(kept)
    assert told.exit_code == 1
    assert "1 differ" in told.stdout
    assert "Juniper: 1 of" in told.stdout
    assert "It is put right" in command(kept, "--write").stdout
    kept.restart()
    kept.evaluate(START_MS + 4 * DAY_MS)
    again = command(kept)
    assert (again.exit_code, "0 clutches differ" in again.stdout) == (0, True)


def test_nothing_is_written_beside_a_running_service(kept: Kept) -> None:
    with only_one(kept.journal.path):
        assert command(kept).exit_code == 0
        told = command(kept, "--write")
    assert told.exit_code != 0
    assert "Another clutchwarden already runs" in str(told.exception)
