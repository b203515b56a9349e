"""A process that is killed while it stores incidents: a look is there as a whole or not at all."""

import signal
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

import pytest

from config.check import check_site
from config.site import Site
from daemon.review.values import Cause, Incident
from daemon.review_keeper import IncidentKeeper
from daemon.storage import alarm_log, incidents, runs, samples
from daemon.storage.alarm_log import AlarmEvent
from daemon.storage.errors import JournalError
from daemon.storage.journal import Journal
from sensors.reading import Reading
from tests.review.nights import EVENING_MS, HOUR_MS, MINUTE_MS
from tests.standing.powered import AIR, BOX, SOUTH, powered

NOW_MS = EVENING_MS + 6 * HOUR_MS
WRITINGS = 6
"""So many the steps take: incidents and how far it was looked, twice, with what becomes known in between."""
T = TypeVar("T")


def fill(folder: Path) -> Path:
    """A journal with two excursions in one cabinet and a dead probe in the other; gives its folder."""
    with powered(folder) as house:
        house.journal.write(lambda conn: runs.begin_run(conn, EVENING_MS, "test", "boot"))
        for channel, until_ms in ((AIR, NOW_MS), (BOX, NOW_MS), (SOUTH, EVENING_MS + HOUR_MS)):
            house.say(channel, 28.0, EVENING_MS, until_ms, MINUTE_MS)
        for start, end in ((60, 90), (150, 180)):
            _excursion(house.journal, start, end)
    return folder


def _excursion(journal: Journal, start_min: int, end_min: int) -> None:
    key, since_ms = f"temperature-high:{AIR}", EVENING_MS + start_min * MINUTE_MS
    for moment, word in ((since_ms, "raised"), (EVENING_MS + end_min * MINUTE_MS, "cleared")):
        event = AlarmEvent(moment, NOW_MS, key, f"{key}:{since_ms}", word, 33.0, 31.0, "high")
        journal.write(lambda conn, each=event: alarm_log.append_event(conn, each))  # type: ignore[misc]


def steps(journal: Journal, site: Site) -> None:
    """Look; then more becomes known: a third excursion between the two makes them one, and the dead probe is back."""
    clock = [NOW_MS]
    keeper = IncidentKeeper(journal, site, lambda: clock[0])
    keeper.look()
    with journal.read() as conn:
        (known,) = conn.execute("SELECT count(*) FROM alarm_event").fetchone()
        ids = dict(conn.execute("SELECT channel, channel_id FROM channel"))
    if known < 6:
        _excursion(journal, 100, 140)
    back = Reading(SOUTH, NOW_MS + MINUTE_MS, NOW_MS + MINUTE_MS, 28.0, 0)
    journal.write(lambda conn: samples.append(conn, ids, [back]))
    clock[0] = NOW_MS + 7 * MINUTE_MS
    keeper.look()


def child(folder: Path, writing: int, moment: str) -> None:
    """Do the steps; stop for ever in one of the writings, before or after its commit."""
    count = 0

    class Stopping(Journal):
        def write(self, work: Callable[[sqlite3.Connection], T]) -> T:
            nonlocal count
            count += 1
            mine = count

            def stopped(conn: sqlite3.Connection) -> T:
                done = work(conn)
                if mine == writing and moment == "before":
                    _say_and_wait()
                return done

            result = super().write(stopped)
            if mine == writing and moment == "after":
                _say_and_wait()
            return result

    with Stopping.open(folder / "journal.sqlite3") as journal:
        count = 0
        steps(journal, site_of(folder))
    sys.stdout.write("done\n")


def site_of(folder: Path) -> Site:
    site = check_site(folder / "site").site
    assert site is not None
    return site


def _say_and_wait() -> None:
    sys.stdout.write("here\n")
    sys.stdout.flush()
    sys.stdin.read()


def _found(folder: Path, *, go_on: bool) -> list[Incident]:
    with Journal.open(folder / "journal.sqlite3") as journal:
        assert journal.write(lambda conn: conn.execute("PRAGMA integrity_check").fetchall()) == [("ok",)]
        if go_on:
            steps(journal, site_of(folder))
        with journal.read() as conn:
            return sorted(incidents.between(conn, 0, NOW_MS + HOUR_MS), key=lambda each: each.incident_id)


@pytest.mark.parametrize("moment", ["before", "after"])
@pytest.mark.parametrize("writing", range(1, WRITINGS + 1))
def test_after_a_kill_the_next_looks_come_to_the_same_incidents(tmp_path: Path, writing: int, moment: str) -> None:
    whole = _found(fill(tmp_path / "whole"), go_on=True)
    assert [(each.incident_id, each.cause) for each in whole] == [(1, Cause.UNKNOWN), (2, Cause.PROBE_SILENT)]
    folder = fill(tmp_path / "killed")
    process = subprocess.Popen(
        [sys.executable, "-c", _CHILD, str(folder), str(writing), moment],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
    )  # fmt: skip
    assert process.stdout is not None
    try:
        assert process.stdout.readline() == "here\n"
        process.send_signal(signal.SIGKILL)
        process.wait()
    finally:
        process.kill()
        process.communicate()
    after = _found(folder, go_on=True)
    assert [each.facts for each in after] == [each.facts for each in whole]
    assert [(each.cause, each.evidence, each.span) for each in after] == [
        (each.cause, each.evidence, each.span) for each in whole
    ]
    numbers = [each.incident_id for each in after]
    assert numbers == sorted(set(numbers))


def test_a_journal_that_cannot_be_written_costs_the_look_and_not_the_next_one(tmp_path: Path) -> None:
    folder = fill(tmp_path)

    class Refusing(Journal):
        refuses = False

        def write(self, work: Callable[[sqlite3.Connection], T]) -> T:
            if self.refuses:
                raise JournalError("cannot write to the journal", "here", "the disk is full", "Free some space.")
            return super().write(work)

    with Refusing.open(folder / "journal.sqlite3") as journal:
        keeper = IncidentKeeper(journal, site_of(folder), lambda: NOW_MS)
        journal.refuses = True
        keeper.run()
        with journal.read() as conn:
            assert incidents.between(conn, 0, NOW_MS) == []
            assert incidents.looked(conn) is None
        journal.refuses = False
        keeper.tick()
        with journal.read() as conn:
            assert len(incidents.between(conn, 0, NOW_MS)) == 3


_CHILD = """
import sys
from pathlib import Path
from tests.faults.test_incidents_kill import child
child(Path(sys.argv[1]), int(sys.argv[2]), sys.argv[3])
"""
