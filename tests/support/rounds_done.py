"""Rounds that are over, with a word of each of some clutches, written as the daemon's own functions write them."""

import sqlite3
from collections.abc import Iterable
from uuid import UUID

from daemon.rounds.values import Entry, Finding
from daemon.storage import findings, rounds
from tests.support.household import MINUTE_MS


def a_round(conn: sqlite3.Connection, incubator: str, ended_ms: int, seen: Iterable[int] = ()) -> int:
    """A round of ten minutes in which all was well with these clutches; gives its number."""
    started_ms = ended_ms - 10 * MINUTE_MS
    number = rounds.start(conn, incubator, "ana", started_ms, 30 * MINUTE_MS).number
    for clutch_id in seen:
        say_well(conn, number, clutch_id, started_ms)
    rounds.end(conn, incubator, "ana", "", ended_ms)
    return number


def say_well(conn: sqlite3.Connection, number: int, clutch_id: int, at_ms: int) -> None:
    """One entry that says that all is well with a clutch."""
    entry = Entry(str(UUID(int=number * 10_000 + clutch_id, version=4)), f"box-{clutch_id}", "ana", all_well=True)
    findings.append(conn, Finding(0, number, entry, clutch_id, at_ms, at_ms))
