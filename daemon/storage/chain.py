"""The chain over all events: whatever is written gets a link, in the transaction that writes it.

Triggers note what was written in `unsealed`; whoever writes calls `seal_all` before the commit. What another program
wrote meanwhile is sealed by the next transaction.
"""

import logging
import sqlite3
import time
from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

from daemon.chain_rules import BEFORE_ALL, Head, link_hash, row_hash
from daemon.storage.chain_sources import Source, quoted, sources, take_up
from daemon.storage.errors import explained

log = logging.getLogger("clutchwarden.chain")

AT_ONCE = 5_000
"""Rows that are sealed in one go: some tenths of a second."""
PATIENCE_S = 2.0
SINGLY = 200
MOST_FAULTS = 10
"""Behind a row that cannot be sealed so many are taken one by one, and so many faults are met, in one go."""
SAY_AGAIN_S = 3600.0
"""Each writing meets a fault that stays; the log gets it once in so long. Project choice."""
_said_s: dict[str, float] = {}
_ADD = "INSERT INTO chain_link (link, at_ms, source_id, row_key, row_hash, hash) VALUES (?, ?, ?, ?, ?, ?)"


class _Waiting(NamedTuple):
    place: int
    source: int
    key: Any


def head(conn: sqlite3.Connection) -> Head:
    """Give the newest link; `BEFORE_ALL` where there is none."""
    row = conn.execute("SELECT link, hash FROM chain_link ORDER BY link DESC LIMIT 1").fetchone()
    return BEFORE_ALL if row is None else Head(*row)


def head_code(conn: sqlite3.Connection) -> str:
    """Give the code of the newest link, to be kept outside the journal; empty where there is none."""
    newest = head(conn)
    return newest.code if newest.link else ""


def begin_chain(conn: sqlite3.Connection) -> None:
    """Take up every table that only grows, and seal what was there before: at the opening, outside a transaction.

    A kill in the middle costs nothing; the next opening goes on where this one ended.
    """
    take_up(conn)
    if conn.execute("SELECT 1 FROM unsealed LIMIT 1").fetchone() is None:
        return
    (left,) = conn.execute("SELECT count(*) FROM unsealed").fetchone()
    began, told, done = time.monotonic(), 0.0, 0
    while (sealed := _seal_slice(conn)) > 0:
        done += sealed
        taken = time.monotonic() - began
        if taken > told + PATIENCE_S:
            told = taken
            log.info("Sealing what was written before: %d of %d rows.", done, left)
    if told:
        log.info("Sealed %d rows in %.0f s.", done, time.monotonic() - began)


def _seal_slice(conn: sqlite3.Connection) -> int:
    conn.execute("BEGIN IMMEDIATE")
    try:
        sealed = _within(conn, AT_ONCE)
        conn.execute("COMMIT")
    except BaseException:
        if conn.in_transaction:
            conn.execute("ROLLBACK")
        raise
    return sealed


def seal_all(conn: sqlite3.Connection) -> None:
    """Give a link to all that was written, inside the caller's transaction.

    An alarm must not fail because its link does: a fault here leaves rows waiting, which `verify` and the pages tell,
    and raises nothing. What can be sealed behind such a row is. Trouble with disk or file is the caller's as any other.
    """
    while _within(conn, AT_ONCE) == AT_ONCE:
        pass


def _within(conn: sqlite3.Connection, most: int) -> int:
    try:
        if conn.execute("SELECT 1 FROM unsealed LIMIT 1").fetchone() is None:
            return 0
        rows = conn.execute("SELECT place, source_id, row_key FROM unsealed ORDER BY place LIMIT ?", (most,))
        waiting = [_Waiting(*row) for row in rows]
    except sqlite3.Error as error:
        _raise_trouble(error)
        _say(error, "What was written is not sealed: the chain cannot be read.")
        return 0
    if _is_sealed(conn, waiting):
        return len(waiting)
    sealed = faults = 0
    for each in waiting[:SINGLY]:
        is_sealed = _is_sealed(conn, [each])
        sealed, faults = sealed + is_sealed, faults + (not is_sealed)
        if faults == MOST_FAULTS:
            break
    return sealed


def _is_sealed(conn: sqlite3.Connection, waiting: Sequence[_Waiting]) -> bool:
    """Seal these, all or none; False where one of them cannot be."""
    conn.execute("SAVEPOINT sealing")
    try:
        _seal(conn, waiting)
    except Exception as error:  # noqa: BLE001 - whatever it is, the event itself is to be stored
        _raise_trouble(error)
        conn.execute("ROLLBACK TO sealing")
        conn.execute("RELEASE sealing")
        _say(error, "What was written is stored but not sealed; it is tried again with each writing.")
        return False
    conn.execute("RELEASE sealing")
    return True


def _say(error: Exception, what: str) -> None:
    now_s, name = time.monotonic(), f"{type(error).__name__}: {error}"
    if now_s - _said_s.get(name, -SAY_AGAIN_S) >= SAY_AGAIN_S:
        if len(_said_s) >= MOST_FAULTS:
            _said_s.clear()
        _said_s[name] = now_s
        log.error("%s", what, exc_info=error)


def _raise_trouble(error: Exception) -> None:
    if isinstance(error, sqlite3.Error) and explained(error, "", "") is not None:
        raise error


def _seal(conn: sqlite3.Connection, waiting: Sequence[_Waiting]) -> None:
    span = waiting[0].place, waiting[-1].place
    now_ms = time.time_ns() // 1_000_000
    known = {number: sources(conn, number)[number] for number in {each.source for each in waiting}}
    found = {number: _rows(conn, source, span) for number, source in known.items()}
    link, before = head(conn)
    links = []
    for place, number, key in waiting:
        values = found[number].get(place)
        if values is None:
            # Only somebody who took the guards away can have removed it.
            continue
        source = known[number]
        at_ms, hash_of_row = _at_ms(source, values, now_ms), row_hash(source.wanted.table, values)
        link += 1
        before = link_hash(before, link, at_ms, hash_of_row, number, key)
        links.append((link, at_ms, number, key, hash_of_row, before))
    conn.executemany(_ADD, links)
    conn.execute("DELETE FROM unsealed WHERE place BETWEEN ? AND ?", span)


def _rows(conn: sqlite3.Connection, source: Source, span: tuple[int, int]) -> dict[int, tuple[Any, ...]]:
    """Give the covered values of what waits, by place. The few that wait come first, each looked up by its key."""
    rows = conn.execute(
        f"SELECT u.place, {source.columns} FROM unsealed AS u CROSS JOIN {quoted(source.wanted.table)} AS t"  # noqa: S608
        f" ON {source.is_row('u.row_key')} WHERE u.place BETWEEN ? AND ? AND u.source_id = ?",
        (*span, source.number),
    )
    return {row[0]: row[1:] for row in rows}


def _at_ms(source: Source, values: tuple[Any, ...], now_ms: int) -> int:
    if not source.wanted.time_column:
        return now_ms
    at_ms = values[source.wanted.covered.index(source.wanted.time_column)]
    return at_ms if isinstance(at_ms, int) else now_ms


def longest_waiting(conn: sqlite3.Connection) -> int | None:
    """Give the place of the row that has waited longest for its link; None where none waits."""
    (place,) = conn.execute("SELECT min(place) FROM unsealed").fetchone()
    return None if place is None else int(place)


def waiting_count(conn: sqlite3.Connection) -> int:
    """Count the rows that have no link yet."""
    (count,) = conn.execute("SELECT count(*) FROM unsealed").fetchone()
    return int(count)


def links_from(conn: sqlite3.Connection, first: int, at_once: int) -> Iterator[list[tuple[Any, ...]]]:
    """Give link, time, source, key, hash of row and hash of all links from a number on, in batches."""
    rows = conn.execute(
        "SELECT link, at_ms, source_id, row_key, row_hash, hash FROM chain_link WHERE link >= ? ORDER BY link", (first,)
    )
    while batch := rows.fetchmany(at_once):
        yield batch
