"""What a page of a list costs is what it gives: neither how far back it lies nor how much there is counts.

Counted are the steps of SQLite's own machine, which are the same on every computer, and the plan of each query is read:
none walks through a table, none sorts.
"""

import sqlite3
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from daemon.clutches import register
from daemon.storage import alarm_log, alarm_records, audit, backups, incidents, originals, rounds
from tests.support.journals import new_journal

PAGE = 50
SMALL, LARGE = 1_000, 20_000
MINUTE_MS = 60_000
_STEPS = 10
"""So many steps are counted at once."""
_COUNT_TO = "WITH RECURSIVE n (i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < {rows})"
_FILL = {
    "sample (channel_id, measured_at_ms, received_at_ms, value, quality)": "1 + i % 2, i * 60000, i * 60000, 28.5, 0",
    "alarm_event (at_ms, recorded_at_ms, alarm_key, occurrence, event, reason)": "i, i, 'no-data:x', i, 'raised', ''",
    "alarm_record (at_ms, recorded_at_ms, alarm_key, occurrence, priority, event, before, after, shown, who, reason,"
    " annunciated, accepted)": "i, i, 'key-' || (i % 2), i, 2, 'raise', '', '', '', '', '', 0, 1",
    "audit_event (at_ms, who, from_where, what, about, old, new, why)": (
        "i, 'ana', 'host', 'site', 'thing-' || (i % 2), '{}', '{}', ''"
    ),
    "incident (from_ms, to_ms, cause, facts, evidence, places, review, found_at_ms, changed_at_ms)": (
        "i, i + 1, 'unknown', '[]', '[]', '[]', '', i, i"
    ),
    "round (incubator, who, started_ms, stated_ms, settle_ms, ended_ms, ended_by, note)": (
        "'north', 'ana', i * 60000, 60000, 60000, i * 60000 + 1, 'ana', ''"
    ),
    "clutch (label, species_id, laid_from_ms, laid_to_ms, egg_count, note, closed_at_ms)": (
        "'C' || i, 'elaphe-taeniura', i, i, 5, '', i + 100"
    ),
    "backup_run (began_ms, ended_ms, folder, name, good, byte_count, told)": "i, i, '', '', 1, 1, ''",
    "placement (clutch_id, place, from_ms, recorded_at_ms)": "i, 'north/upper', i, i",
}
"""Rows of each table, by the number of each."""
Ask = Callable[[sqlite3.Connection, int | None], list[Any]]
LISTS: dict[str, Ask] = {
    "readings": lambda conn, at: originals.page(conn, 1, (at or 0) * MINUTE_MS, 2**62, PAGE),
    "events of alarms": lambda conn, at: alarm_log.page(conn, at, PAGE),
    "steps of alarms": lambda conn, at: alarm_records.page(conn, at, "", PAGE),
    "steps of one alarm": lambda conn, at: alarm_records.page(conn, at, "key-1", PAGE),
    "changes": lambda conn, at: audit.newest(conn, PAGE, at),
    "changes of one thing": lambda conn, at: audit.newest(conn, PAGE, at, "thing-1"),
    "incidents": lambda conn, at: incidents.newest(conn, PAGE, at),
    "backups": lambda conn, at: backups.page(conn, at, PAGE),
    "rounds": lambda conn, at: rounds.newest(conn, PAGE, at),
    "closed clutches": lambda conn, at: register.closed_page(conn, None if at is None else (at + 100, at), PAGE),
}


def filled(path: Path, rows: int) -> sqlite3.Connection:
    new_journal(path).close()
    conn = sqlite3.connect(path, isolation_level=None)
    conn.execute("BEGIN")
    conn.executemany("INSERT INTO channel VALUES (?, ?, 'p', 'air_temperature')", [(1, "p/a"), (2, "p/b")])
    for table, row in _FILL.items():
        conn.execute(f"INSERT INTO {table} {_COUNT_TO.format(rows=rows)} SELECT {row} FROM n")
    conn.execute("COMMIT")
    return conn


@pytest.fixture(scope="module")
def journals(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[sqlite3.Connection, sqlite3.Connection]]:
    folder = tmp_path_factory.mktemp("paging")
    both = filled(folder / "small.sqlite3", SMALL), filled(folder / "large.sqlite3", LARGE)
    yield both
    for each in both:
        each.close()


def steps(conn: sqlite3.Connection, ask: Ask, at: int | None) -> int:
    counted = 0

    def count() -> int:
        nonlocal counted
        counted += _STEPS
        return 0

    conn.set_progress_handler(count, _STEPS)
    found = ask(conn, at)
    conn.set_progress_handler(None, _STEPS)
    assert len(found) == PAGE
    return counted


@pytest.mark.parametrize("name", LISTS)
def test_a_page_costs_the_same_wherever_it_lies_and_however_long_the_list_is(
    journals: tuple[sqlite3.Connection, sqlite3.Connection], name: str
) -> None:
    small, large = journals
    ask = LISTS[name]
    for conn in journals:
        steps(conn, ask, None)  # the first time a query is prepared as well
    first = steps(small, ask, None)
    for conn, at in ((small, SMALL // 2), (large, None), (large, LARGE // 2), (large, LARGE // 20)):
        # Deeper trees cost a few steps more, a row that is walked past ten or so.
        assert steps(conn, ask, at) <= first + 10 * PAGE


@pytest.mark.parametrize("name", LISTS)
def test_no_page_walks_through_a_table_and_none_is_sorted(
    journals: tuple[sqlite3.Connection, sqlite3.Connection], name: str
) -> None:
    _, large = journals
    asked: list[str] = []
    large.set_trace_callback(asked.append)
    LISTS[name](large, LARGE // 2)
    large.set_trace_callback(None)
    assert asked
    for sql in asked:
        plan = [row[3] for row in large.execute(f"EXPLAIN QUERY PLAN {sql}")]
        assert any(each.startswith("SEARCH") for each in plan), plan
        assert not [each for each in plan if each.startswith("SCAN")], plan
