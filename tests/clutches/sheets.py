"""An empty journal, and what is written to and read from a table of clutches."""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from functools import cache
from pathlib import Path
from zoneinfo import ZoneInfo

from daemon.clutches import register
from daemon.clutches.file import read_file
from daemon.clutches.said_by import named_in_table
from daemon.clutches.sheet_cells import rows_of
from daemon.clutches.sheet_export import sheet
from daemon.clutches.sheet_import import Known, RowSaid, SheetImport
from daemon.storage.connections import connect
from daemon.storage.migrations import migrate
from tests.clutches.house import N1, N2, N3, NOW, SHELF

MADRID = ZoneInfo("Europe/Madrid")
SITE = Known((N1, N2, N3, SHELF), ("elaphe-taeniura",), MADRID)
HEAD = "label,species,place,laid_from,set_up,egg_count,moves,closed,note,dam\r\n"
ROW = "Juniper,elaphe-taeniura,north/upper/N1,2026-05-01,2026-05-03,9,,,,\r\n"


@cache
def _new_journal() -> bytes:
    conn = connect(Path(":memory:"), 1)
    migrate(conn, "memory")
    return conn.serialize()


@contextmanager
def empty() -> Iterator[sqlite3.Connection]:
    conn = connect(Path(":memory:"), 1)
    conn.deserialize(_new_journal())
    conn.execute("PRAGMA foreign_keys = ON")
    conn.execute("BEGIN")
    yield conn
    conn.close()


def out(conn: sqlite3.Connection, with_eggs: bool = True) -> str:
    numbers = [each.clutch_id for each in register.clutches(conn, include_closed=True)]
    files = [found for number in numbers if (found := read_file(conn, number)) is not None]
    return sheet(files, MADRID, with_eggs)


def into(conn: sqlite3.Connection, text: str) -> list[RowSaid]:
    return SheetImport(conn, SITE, "importer", NOW).run(rows_of(text))


def facts(conn: sqlite3.Connection) -> list[object]:
    """All that stands of every clutch, without the numbers of rows, each by whom a table names for it."""
    found: list[object] = []
    for each in register.clutches(conn, include_closed=True):
        file = read_file(conn, each.clutch_id)
        assert file is not None
        found.append(replace(each, clutch_id=0))
        found += [(egg.number, egg.mark, egg.stated, egg.since_ms) for egg in file.eggs]
        found += [
            replace(one, number=0, recorded_ms=0, who=named_in_table(one.who))
            for one in file.events
            if not one.withdrawn
        ]
        found += [replace(one, number=0, who=named_in_table(one.who)) for one in file.measures if not one.withdrawn]
        found += [replace(one, number=0, who=named_in_table(one.who)) for one in file.notes]
    return found
