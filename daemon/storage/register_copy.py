"""A copy of the register in memory, to try much on it while the journal goes on, and what came of it back in one go.

Whoever brings it back makes sure, in the same transaction, that the register has not changed since.
"""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from daemon.storage.connections import connect

_CLUTCH = "clutch"
_GROWING = ("placement", "egg_event", "egg_measure", "clutch_note", "register_change")
"""Tables that only ever get rows, each with a number of its own in the first column."""
_ALL = (_CLUTCH, *_GROWING, "register_version")
_Rows = list[tuple[object, ...]]


class RegisterCopy:
    """The copy: `conn` may be written to. It belongs to one thread at a time."""

    def __init__(self, journal: sqlite3.Connection) -> None:
        self.conn = connect(Path(":memory:"), 1)
        marks = ", ".join("?" * len(_ALL))
        sql = f"SELECT type, sql FROM sqlite_master WHERE tbl_name IN ({marks}) AND sql IS NOT NULL"  # noqa: S608 - marks
        # A try is no event: the chain gets what is brought back.
        sql += " AND name NOT GLOB '*_is_sealed_*'"
        parts = journal.execute(sql, _ALL).fetchall()
        for text in (text for kind, text in parts if kind == "table"):
            self.conn.execute(text)
        for table in _ALL:
            _insert(self.conn, table, _rows(journal, table))
        # Triggers come last: to copy is no change.
        for text in (text for kind, text in parts if kind != "table"):
            self.conn.execute(text)
        self.conn.execute("PRAGMA foreign_keys = ON")
        self._clutches = {row[0]: row for row in _rows(self.conn, _CLUTCH)}
        self._last = {table: _last_number(self.conn, table) for table in _GROWING}

    def bring_back(self, journal: sqlite3.Connection) -> None:
        """Write what has changed in the copy, inside the caller's transaction, under the same numbers."""
        now = _rows(self.conn, _CLUTCH)
        columns = _columns(self.conn, _CLUTCH)
        setting = ", ".join(f"{name} = ?" for name in columns)
        changed = [row for row in now if row[0] in self._clutches and row != self._clutches[row[0]]]
        journal.executemany(
            f"UPDATE clutch SET {setting} WHERE clutch_id = ?",  # noqa: S608 - names of our schema
            [(*row, row[0]) for row in changed],
        )
        _insert(journal, _CLUTCH, [row for row in now if row[0] not in self._clutches])
        for table, last in self._last.items():
            _insert(journal, table, _rows(self.conn, table, last))


@contextmanager
def register_copy(journal: sqlite3.Connection) -> Iterator[RegisterCopy]:
    """Copy the register as a reader of the journal sees it; gone in the end."""
    copy = RegisterCopy(journal)
    try:
        yield copy
    finally:
        copy.conn.close()


def _columns(conn: sqlite3.Connection, table: str) -> list[str]:
    return [str(row[1]) for row in conn.execute(f"PRAGMA table_info({table})")]


def _rows(conn: sqlite3.Connection, table: str, after: int | None = None) -> _Rows:
    if after is None:
        return conn.execute(f"SELECT * FROM {table}").fetchall()  # noqa: S608 - our names
    key = _columns(conn, table)[0]
    return conn.execute(f"SELECT * FROM {table} WHERE {key} > ? ORDER BY {key}", (after,)).fetchall()  # noqa: S608


def _insert(conn: sqlite3.Connection, table: str, rows: _Rows) -> None:
    names = _columns(conn, table)
    marks = ", ".join("?" * len(names))
    # By name: in a journal of several versions the columns stand in the order in which they were added.
    conn.executemany(f"INSERT INTO {table} ({', '.join(names)}) VALUES ({marks})", rows)  # noqa: S608 - our names


def _last_number(conn: sqlite3.Connection, table: str) -> int:
    key = _columns(conn, table)[0]
    (number,) = conn.execute(f"SELECT coalesce(max({key}), 0) FROM {table}").fetchone()  # noqa: S608 - our names
    return int(number)
