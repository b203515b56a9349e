"""A process that is killed while it changes the register: each step is there as a whole, or not at all."""

import itertools
import signal
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from daemon.clutches import corrections, egg_changes, register, remarks
from daemon.clutches.closing import Closing, close
from daemon.clutches.egg_rules import stated_as
from daemon.clutches.measures import NewMeasure
from daemon.storage.journal import Journal
from tests.clutches.house import N2, NEW, NOW, SET_UP, SHELF, day

Step = Callable[[sqlite3.Connection], object]


def _say(state: str, which: list[str] | int, on: float) -> Step:
    return lambda conn: egg_changes.say_of_eggs(conn, 1, stated_as(state), which, day(on), "kim", NOW)


STEPS: tuple[Step, ...] = (
    lambda conn: register.add_clutch(conn, replace(NEW, first_mass_g=20.0), "kim", NOW),
    lambda conn: register.add_clutch(conn, replace(NEW, label="Bracken", place=N2), "kim", NOW),
    lambda conn: register.move_clutch(conn, 1, SHELF, SET_UP + 1, "kim", "", NOW),
    lambda conn: corrections.swap_clutches(conn, 1, 2, day(10), "kim", "", NOW),
    lambda conn: corrections.edit_clutch(conn, 1, {"egg_count": 11, "dam": "Wilma"}, "kim", "", NOW),
    lambda conn: egg_changes.mark_egg(conn, 1, "1", "A", day(4), "kim", NOW),
    _say("removed:mould", 3, 20),
    lambda conn: egg_changes.say_which(conn, 1, 2, "2", "kim", NOW),
    lambda conn: egg_changes.withdraw_event(conn, 1, 3, "kim", "", NOW),
    lambda conn: remarks.add_measure(conn, 1, NewMeasure(day(20), 220.0, None, 9), "kim", NOW),
    lambda conn: remarks.add_note(conn, 1, day(20), "dry", "kim", NOW),
    lambda conn: close(conn, 1, Closing(day(55), rest=stated_as("hatched")), "kim", NOW),
    lambda conn: corrections.reopen_clutch(conn, 1, "kim", "too early", NOW),
    lambda conn: corrections.withdraw_clutch(conn, 2, "kim", "", NOW),
)


def child(path: Path, number: int, moment: str) -> None:
    """Do the steps up to one of them; stop in that, before or after its commit, for ever."""
    with Journal.open(path) as journal:
        for step in STEPS[:number]:
            journal.write(step)

        def last(conn: sqlite3.Connection) -> None:
            STEPS[number](conn)
            if moment == "before":
                _say_and_wait()

        journal.write(last)
        _say_and_wait()


def _say_and_wait() -> None:
    sys.stdout.write("here\n")
    sys.stdout.flush()
    sys.stdin.read()


def _content(path: Path, done: int) -> list[str]:
    """The register after so many steps, done by this process in one go."""
    with Journal.open(path) as journal:
        for step in STEPS[:done]:
            journal.write(step)
        return _dumped(journal)


def _dumped(journal: Journal) -> list[str]:
    tables = ("clutch", "placement", "register_change", "egg_event", "egg_measure", "clutch_note")
    with journal.read() as conn:
        rows = [conn.execute(f"SELECT * FROM {table} ORDER BY 1").fetchall() for table in tables]
    return [repr(row) for row in itertools.chain.from_iterable(rows)]


@pytest.mark.parametrize(
    ("number", "moment"),
    [*((number, "before") for number in range(len(STEPS))), *((number, "after") for number in (0, 3, 11))],
)
def test_a_step_is_there_as_a_whole_or_not_at_all(tmp_path: Path, number: int, moment: str) -> None:
    path = tmp_path / "killed.sqlite3"
    command = [sys.executable, "-c", _CHILD, str(path), str(number), moment]
    process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None
    try:
        assert process.stdout.readline() == "here\n"
        process.send_signal(signal.SIGKILL)
        process.wait()
    finally:
        process.kill()
        process.communicate()
    with Journal.open(path) as journal:
        assert journal.write(lambda conn: conn.execute("PRAGMA integrity_check").fetchall()) == [("ok",)]
        found = _dumped(journal)
    assert found == _content(tmp_path / "whole.sqlite3", number + (moment == "after"))
    # And work goes on from there as if nothing had been.
    with Journal.open(path) as journal:
        for step in STEPS[number + (moment == "after") :]:
            journal.write(step)
        assert _dumped(journal) == _content(tmp_path / "all.sqlite3", len(STEPS))


_CHILD = """
import sys
from pathlib import Path
from tests.faults.test_register_kill import child
child(Path(sys.argv[1]), int(sys.argv[2]), sys.argv[3])
"""
