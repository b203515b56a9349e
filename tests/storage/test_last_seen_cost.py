"""When clutches were last seen costs the same however many rounds there ever were.

Counted are the steps of SQLite's own machine, which are the same on every computer, and the plan of each query is read.
"""

import sqlite3
from pathlib import Path

import pytest

from config.check import check_site
from daemon.clutches import register
from daemon.round_seen import seen_by_incubator
from tests.support.household import DAY_MS, MINUTE_MS, a_clutch, write_site
from tests.support.journals import new_journal
from tests.support.rounds_done import a_round

START_MS = 1_780_000_000_000
CLUTCHES = 10
_STEPS = 10


class Read:
    """The same site after so many rounds, each with a word of every clutch; every second one with none."""

    def __init__(self, folder: Path, rounds: int) -> None:
        checked = check_site(write_site(folder, 1883, "http://127.0.0.1:9/phone"))
        assert checked.site is not None
        self.site = checked.site
        self.now_ms = START_MS + rounds * DAY_MS
        self.journal = new_journal(folder / "journal.sqlite3")
        self.journal.write(lambda conn: self._fill(conn, rounds))

    def _fill(self, conn: sqlite3.Connection, rounds: int) -> None:
        clutches = [
            register.add_clutch(conn, a_clutch(START_MS, f"C{each}", "north/upper"), "test", START_MS)
            for each in range(CLUTCHES)
        ]
        for day in range(1, rounds + 1):
            a_round(conn, "north", START_MS + day * DAY_MS - MINUTE_MS, clutches if day % 2 else ())

    def seen(self, conn: sqlite3.Connection) -> set[int]:
        lying = register.clutches(conn)
        return {each.at_ms for each in seen_by_incubator(conn, self.site, lying, self.now_ms)["north"]}

    def steps(self) -> int:
        counted = 0

        def count() -> int:
            nonlocal counted
            counted += _STEPS
            return 0

        with self.journal.read() as conn:
            self.seen(conn)  # the first time a query is prepared as well
            conn.set_progress_handler(count, _STEPS)
            found = self.seen(conn)
            conn.set_progress_handler(None, _STEPS)
        assert found == {self.now_ms - DAY_MS - MINUTE_MS}
        return counted


def test_rounds_of_years_cost_no_more_than_those_of_a_month(tmp_path: Path) -> None:
    few, many = Read(tmp_path / "few", 20), Read(tmp_path / "many", 600)
    with few.journal, many.journal:
        # A deeper tree costs a few steps more for each of the clutches.
        assert many.steps() <= few.steps() + 20 * CLUTCHES


def test_no_query_walks_through_the_findings(tmp_path: Path) -> None:
    read = Read(tmp_path / "site", 6)
    asked: list[str] = []
    with read.journal, read.journal.read() as conn:
        conn.set_trace_callback(asked.append)
        read.seen(conn)
        conn.set_trace_callback(None)
        about = [sql for sql in asked if "box_finding" in sql]
        assert len(about) == 2 * CLUTCHES
        for sql in about:
            plan = [row[3] for row in conn.execute(f"EXPLAIN QUERY PLAN {sql}")]
            assert [each for each in plan if "box_finding_of_clutch" in each], plan
            assert not [each for each in plan if each.startswith("SCAN box_finding") or "TEMP B-TREE" in each], plan


@pytest.mark.parametrize("rounds", [0, 1])
def test_before_the_first_round_they_were_seen_when_they_came(tmp_path: Path, rounds: int) -> None:
    read = Read(tmp_path / "site", rounds)
    with read.journal, read.journal.read() as conn:
        assert read.seen(conn) == {START_MS + rounds * DAY_MS - rounds * MINUTE_MS}
