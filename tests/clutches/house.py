"""Clutches of an invented house, entered through the register's own functions."""

import sqlite3
from collections.abc import Callable, Sequence
from dataclasses import replace

import pytest

from daemon.clutches import egg_changes, register
from daemon.clutches.egg_records import eggs
from daemon.clutches.egg_rules import stated_as
from daemon.clutches.eggs import Egg, EggCounts, counts_of
from daemon.clutches.errors import RegisterError
from daemon.clutches.register import NewClutch
from daemon.clutches.rows import by_number

DAY_MS = 86_400_000
LAID = 1_777_593_600_000
"""2026-05-01 00:00 UTC"""
SET_UP = LAID + 2 * DAY_MS
NOW = LAID + 60 * DAY_MS
N1, N2, N3, SHELF = "north/upper/N1", "north/upper/N2", "north/upper/N3", "north/upper"
NEW = NewClutch("Juniper", "elaphe-taeniura", None, LAID, LAID + DAY_MS, 9, "", N1, SET_UP)


def day(number: float) -> int:
    """So many days after the laying, UTC ms."""
    return LAID + round(number * DAY_MS)


def enter(conn: sqlite3.Connection, label: str = "Juniper", place: str = N1, egg_count: int = 9) -> int:
    return register.add_clutch(conn, replace(NEW, label=label, place=place, egg_count=egg_count), "kim", NOW)


def say(
    conn: sqlite3.Connection, clutch: int, state: str, which: Sequence[str] | int, at_ms: int = NOW, note: str = ""
) -> tuple[int, ...]:
    """Say something of eggs; gives the numbers of the events."""
    return egg_changes.say_of_eggs(conn, clutch, stated_as(state, note), which, at_ms, "kim", NOW).events


def now(conn: sqlite3.Connection, clutch: int) -> dict[str, str]:
    """What each egg is, by the name that people call it."""
    return {egg.name: egg.stated.words for egg in _eggs(conn, clutch)}


def counts(conn: sqlite3.Connection, clutch: int) -> EggCounts:
    return counts_of(_eggs(conn, clutch))


def _eggs(conn: sqlite3.Connection, clutch: int) -> tuple[Egg, ...]:
    found = by_number(conn, clutch)
    assert found is not None
    return eggs(conn, clutch, found.egg_count)


def refused(conn: sqlite3.Connection, work: Callable[[], object]) -> str:
    """Do work that must be refused; inside a transaction of the caller's own, as the journal gives one.

    What a refusal leaves behind is rolled back there, so that nothing of it is kept.
    """
    before = list(conn.iterdump())
    conn.execute("BEGIN")
    with pytest.raises(RegisterError) as caught:
        work()
    conn.execute("ROLLBACK")
    assert list(conn.iterdump()) == before
    assert caught.value.reason
    assert caught.value.hint
    return str(caught.value)
