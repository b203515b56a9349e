"""Walks the chain: each link against the one before, each row against its link, each table for rows outside."""

import sqlite3
from typing import Any, NamedTuple

from daemon.chain_rules import BEFORE_ALL, NOTHING_BEFORE, Head, day_name, day_of, link_hash, row_hash
from daemon.storage import chain
from daemon.storage.chain_sources import Source, quoted, sources
from daemon.verify_values import Advance, Faults, Wrong

_AT_ONCE = 5_000
_CHAIN, _SOURCES = "chain_link", "chain_source"
_FIRST_SINCE = "SELECT coalesce(min(link), (SELECT max(link) + 1 FROM chain_link), 1) FROM chain_link WHERE at_ms >= ?"


class _Link(NamedTuple):
    link: int
    at_ms: int
    source: int
    key: Any
    row_hash: bytes
    hash: bytes

    @property
    def day(self) -> str:
        return day_name(day_of(self.at_ms)) if isinstance(self.at_ms, int) else ""


class EventWalk:
    """One walk over the chain of one journal, inside one read transaction."""

    def __init__(self, conn: sqlite3.Connection, faults: Faults, advance: Advance) -> None:
        self._conn = conn
        self._faults = faults
        self._advance = advance
        self._sources: dict[int, Source] = {}

    def walk(self, since_ms: int | None) -> int:
        """Look at all links, or at those from the first one on that a day has; gives how many."""
        count, last = 0, ""
        try:
            self._sources = sources(self._conn)
            before = self._start(since_ms)
            for batch in chain.links_from(self._conn, before.link + 1, _AT_ONCE):
                links = [_Link(*row) for row in batch]
                for link in links:
                    before = self._against_the_one_before(link, before)
                # Links are in the order of sealing: among them are some of rows that say they are older.
                wanted = [link for link in links if since_ms is None or link.at_ms >= since_ms]
                self._rows(wanted)
                count, last = count + len(wanted), links[-1].day
                self._advance(len(wanted))
            self._outside()
        except (sqlite3.DatabaseError, ValueError):
            self._faults.add(last, _CHAIN, f"after {count} links", Wrong.UNREADABLE)
        return count

    def _start(self, since_ms: int | None) -> Head:
        """Give the link before the first one that is looked at."""
        if since_ms is None:
            return BEFORE_ALL
        (first,) = self._conn.execute(_FIRST_SINCE, (since_ms,)).fetchone()
        row = self._conn.execute("SELECT link, hash FROM chain_link WHERE link = ?", (first - 1,)).fetchone()
        return Head(first - 1, NOTHING_BEFORE if row is None else row[1])

    def _against_the_one_before(self, link: _Link, before: Head) -> Head:
        if link.link != before.link + 1:
            self._faults.add(link.day, _CHAIN, f"{before.link + 1} to {link.link - 1}", Wrong.LINKS_MISSING)
            return Head(link.link, link.hash)
        try:
            hashed = link_hash(before.hash, link.link, link.at_ms, link.row_hash, link.source, link.key)
        except (ValueError, TypeError):
            hashed = NOTHING_BEFORE
        if hashed != link.hash:
            self._faults.add(link.day, _CHAIN, link.link, Wrong.LINK_CHANGED)
        # Going on with what is stored, one change is one fault and not all that follows.
        return Head(link.link, link.hash if isinstance(link.hash, bytes) else NOTHING_BEFORE)

    def _rows(self, links: list[_Link]) -> None:
        found: dict[int, dict[int, tuple[Any, ...]]] = {}
        for number in {link.source for link in links}:
            source = self._sources.get(number)
            found[number] = {} if source is None else self._of_source(source, links[0].link, links[-1].link)
        for link in links:
            source = self._sources.get(link.source)
            values = found[link.source].get(link.link)
            if source is None:
                self._faults.add(link.day, _SOURCES, link.source, Wrong.REMOVED)
            elif values is None:
                self._faults.add(link.day, source.wanted.table, link.key, Wrong.REMOVED)
            elif row_hash(source.wanted.table, values) != link.row_hash:
                self._faults.add(link.day, source.wanted.table, link.key, Wrong.CHANGED)

    def _of_source(self, source: Source, first: int, last: int) -> dict[int, tuple[Any, ...]]:
        try:
            rows = self._conn.execute(
                f"SELECT l.link, {source.columns} FROM chain_link AS l CROSS JOIN {quoted(source.wanted.table)} AS t"  # noqa: S608
                f" ON {source.is_row('l.row_key')} WHERE l.link BETWEEN ? AND ? AND l.source_id = ?",
                (first, last, source.number),
            )
            return {row[0]: row[1:] for row in rows}
        except sqlite3.OperationalError:
            # The table or a column is gone: each of its rows is told as removed.
            return {}

    def _outside(self) -> None:
        """Find rows that have no link and do not wait for one."""
        sealed: dict[int, set[Any]] = {number: set() for number in self._sources}
        for number, key in self._conn.execute(
            "SELECT source_id, row_key FROM chain_link UNION ALL SELECT source_id, row_key FROM unsealed"
        ):
            sealed.setdefault(number, set()).add(key)
        of_table: dict[tuple[str, str], list[Source]] = {}
        for source in self._sources.values():
            of_table.setdefault((source.wanted.table, source.wanted.happening), []).append(source)
        for every in of_table.values():
            self._added(every[-1], set[Any]().union(*(sealed[each.number] for each in every)))

    def _added(self, source: Source, sealed: set[Any]) -> None:
        at = f"t.{quoted(source.wanted.time_column)}" if source.wanted.time_column else "NULL"
        try:
            rows = self._conn.execute(
                f"SELECT {source.key('t')}, {at} FROM {quoted(source.wanted.table)} AS t WHERE {source.counts}"  # noqa: S608
            ).fetchall()
        except sqlite3.OperationalError:
            return
        for key, at_ms in rows:
            if key not in sealed:
                day = day_name(day_of(at_ms)) if isinstance(at_ms, int) else ""
                self._faults.add(day, source.wanted.table, key, Wrong.ADDED)
