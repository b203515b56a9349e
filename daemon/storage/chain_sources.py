"""What the chain covers: every table that only grows, found by the triggers that refuse anything else.

A table that is added later is taken up at the next opening, with the rows that it has by then. A table that was taken
up before and has lost its trigger gets that back, and no row of it is sealed afterwards: what was put in past the chain
stays outside.
"""

import json
import sqlite3
import time
from collections.abc import Iterator
from typing import NamedTuple

_NOT_BY_ROW = frozenset({"sample", "chain_link"})
"""Readings have daily digests; the links are the chain."""
_TIMES = ("recorded_at_ms", "recorded_ms", "received_ms", "made_ms", "followed_ms", "planned_ms", "at_ms", "sent_at_ms")
"""Columns that say when a row was written; the first of these that a table has counts."""
_ENDED_ONCE = {"round": ("round_id", "incubator", "who", "started_ms", "stated_ms", "settle_ms")}
"""Tables whose rows are ended once: what of a row holds from the beginning on. The whole row is sealed at its end."""
ENDED = {"round": "t.ended_ms IS NOT NULL"}
_BEGUN = {"round": "started_ms"}
_COLUMNS = """SELECT m.name, c.name, c.pk FROM sqlite_master AS m, pragma_table_info(m.name) AS c
    WHERE m.type = 'table' ORDER BY m.name, c.cid"""
_SOURCES = "SELECT source_id, of_table, happening, key_columns, covered, time_column FROM chain_source"
_SOURCE = f"{_SOURCES} WHERE source_id = ?"
_TRIGGERS = "SELECT name FROM sqlite_master WHERE type = 'trigger'"


class Wanted(NamedTuple):
    """A table as it is to be covered."""

    table: str
    happening: str
    keys: tuple[str, ...]
    covered: tuple[str, ...]
    time_column: str


class Source(NamedTuple):
    """A table as it is covered, by the number that stands in its links."""

    number: int
    wanted: Wanted

    @property
    def trigger(self) -> str:
        """The name of the trigger that brings its rows to the chain."""
        return f"{self.wanted.table}_{self.wanted.happening}_is_sealed_{self.number}"

    @property
    def columns(self) -> str:
        """The covered columns for a SELECT from the table as `t`."""
        return ", ".join(f"t.{quoted(name)}" for name in self.wanted.covered)

    def key(self, row: str) -> str:
        """Give the SQL of the key of a row; `row` is NEW or `t`."""
        names = [f"{row}.{quoted(name)}" for name in self.wanted.keys]
        return names[0] if len(names) == 1 else f"json_array({', '.join(names)})"

    def is_row(self, key: str) -> str:
        """Give the SQL by which the row `t` of a key is found, through the table's own index."""
        names = [f"t.{quoted(name)}" for name in self.wanted.keys]
        if len(names) == 1:
            return f"{names[0]} = {key}"
        return " AND ".join(f"{name} = json_extract({key}, '$[{place}]')" for place, name in enumerate(names))

    @property
    def counts(self) -> str:
        """The SQL of which rows of the table belong to it."""
        return ENDED.get(self.wanted.table, "1") if self.wanted.happening == "update" else "1"


def quoted(name: str) -> str:
    """Write a name for SQL, whatever is in it."""
    return '"' + name.replace('"', '""') + '"'


def sources(conn: sqlite3.Connection, only: int | None = None) -> dict[int, Source]:
    """Give all that is covered or was, or one of it. Raises ValueError where what is stored is none of ours."""
    rows = conn.execute(f"{_SOURCES} ORDER BY source_id") if only is None else conn.execute(_SOURCE, (only,))
    return {
        number: Source(number, Wanted(table, happening, tuple(json.loads(keys)), tuple(json.loads(covered)), at))
        for number, table, happening, keys, covered, at in rows
    }


def take_up(conn: sqlite3.Connection) -> None:
    """Bring the triggers up to the tables that are there; does nothing where all is well."""
    if not list(_missing(conn)):
        return
    conn.execute("BEGIN IMMEDIATE")
    try:
        # Another process may have done it while this one waited for the lock.
        for wanted, source in list(_missing(conn)):
            _put_trigger(conn, source or _new_source(conn, wanted))
        conn.execute("COMMIT")
    except BaseException:
        if conn.in_transaction:
            conn.execute("ROLLBACK")
        raise


def _missing(conn: sqlite3.Connection) -> Iterator[tuple[Wanted, Source | None]]:
    """Give what is not covered as it should be, with the source where one is there and only its trigger is not."""
    known = {source.wanted: source for source in sources(conn).values()}
    triggers = {name for (name,) in conn.execute(_TRIGGERS)}
    for wanted in _wanted(conn, triggers):
        source = known.get(wanted)
        if source is None or source.trigger not in triggers:
            yield wanted, source


def _wanted(conn: sqlite3.Connection, triggers: set[str]) -> list[Wanted]:
    columns: dict[str, list[tuple[str, int]]] = {}
    for table, name, place in conn.execute(_COLUMNS):
        columns.setdefault(table, []).append((name, place))
    found = []
    for table, named in columns.items():
        keys = tuple(name for name, place in sorted(named, key=lambda each: each[1]) if place)
        names = tuple(name for name, _ in named)
        if table in _ENDED_ONCE:
            found.append(Wanted(table, "insert", keys, _ENDED_ONCE[table], _BEGUN[table]))
            found.append(Wanted(table, "update", keys, names, "ended_ms"))
        elif {f"{table}_refuses_update", f"{table}_refuses_delete"} <= triggers and table not in _NOT_BY_ROW:
            at = next((each for each in _TIMES if each in names), "")
            found.append(Wanted(table, "insert", keys, names, at))
    # What is covered comes first into the chain, and with it the list itself.
    return sorted(found, key=lambda each: each.table != "chain_source")


def _new_source(conn: sqlite3.Connection, wanted: Wanted) -> Source:
    before = [
        each
        for each in sources(conn).values()
        if (each.wanted.table, each.wanted.happening) == (wanted.table, wanted.happening)
    ]
    (number,) = conn.execute("SELECT coalesce(max(source_id), 0) + 1 FROM chain_source").fetchone()
    source = Source(int(number), wanted)
    for old in before:
        conn.execute(f"DROP TRIGGER IF EXISTS {quoted(old.trigger)}")
    conn.execute(
        "INSERT INTO chain_source (source_id, of_table, happening, key_columns, covered, time_column, followed_ms)"
        " VALUES (?, ?, ?, ?, ?, ?, ?)",
        (
            number,
            wanted.table,
            wanted.happening,
            json.dumps(wanted.keys),
            json.dumps(wanted.covered),
            wanted.time_column,
            time.time_ns() // 1_000_000,
        ),
    )
    if not before:
        order = ", ".join(f"t.{quoted(name)}" for name in wanted.keys)
        conn.execute(
            f"INSERT INTO unsealed (source_id, row_key) SELECT ?, {source.key('t')}"  # noqa: S608 - names of our schema
            f" FROM {quoted(wanted.table)} AS t WHERE {source.counts} ORDER BY {order}",
            (number,),
        )
    return source


def _put_trigger(conn: sqlite3.Connection, source: Source) -> None:
    conn.execute(
        f"CREATE TRIGGER {quoted(source.trigger)} AFTER {source.wanted.happening} ON {quoted(source.wanted.table)}"  # noqa: S608
        f" BEGIN INSERT INTO unsealed (source_id, row_key) VALUES ({source.number}, {source.key('NEW')}); END"
    )
