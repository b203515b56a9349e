"""How fast readings are stored through the journal, beside bare sqlite3 with the same schema and durability."""

import sqlite3
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

from config.words import Quantity
from daemon.storage import samples
from daemon.storage.connections import connect
from daemon.storage.journal import Journal
from sensors.reading import ChannelKey, Reading

READINGS = 100_000
BATCH = 1000
CHANNELS = 20
ROUNDS = 5
GOAL = 0.6

INSERT = """INSERT OR IGNORE INTO sample (channel_id, measured_at_ms, received_at_ms, value, quality)
    VALUES (?, ?, ?, ?, ?)"""
KEYS = [ChannelKey(f"probe-{n:02}/t", f"probe-{n:02}", "t", Quantity.AIR_TEMPERATURE) for n in range(CHANNELS)]


def batches() -> list[list[Reading]]:
    """Make a reading a minute of every channel, in the order in which they come, cut into batches."""
    start_ms = 1_767_225_600_000
    readings = [
        Reading(KEYS[n % CHANNELS].channel, at_ms, at_ms + 40, 28.0 + (n * 7919 % 997) / 500, 0)
        for n in range(READINGS)
        for at_ms in [start_ms + n // CHANNELS * 60_000 + n % CHANNELS]
    ]
    return [readings[first : first + BATCH] for first in range(0, READINGS, BATCH)]


def journal_seconds(path: Path, work: list[list[Reading]]) -> float:
    """Time to store all batches through the journal, each committed before the next."""
    with Journal.open(path) as journal:
        ids = journal.write(lambda conn: samples.channel_ids(conn, KEYS))
        started = time.perf_counter()
        for batch in work:
            journal.write(lambda conn, batch=batch: samples.append(conn, ids, batch))  # type: ignore[misc]
        return time.perf_counter() - started


def bare_seconds(path: Path, work: list[list[Reading]]) -> float:
    """Time to store the same with `executemany` alone, from rows that lie ready, and a commit per batch."""
    with Journal.open(path) as journal:
        ids = journal.write(lambda conn: samples.channel_ids(conn, KEYS))
    rows = [[(ids[one.channel], *one[1:]) for one in batch] for batch in work]
    conn = connect(path, 5)
    for pragma in ("journal_mode = WAL", "synchronous = FULL", "foreign_keys = ON"):
        conn.execute(f"PRAGMA {pragma}")
    started = time.perf_counter()
    for batch in rows:
        _store_bare(conn, batch)
    elapsed = time.perf_counter() - started
    conn.close()
    return elapsed


def _store_bare(conn: sqlite3.Connection, batch: Sequence[tuple[object, ...]]) -> None:
    conn.execute("BEGIN IMMEDIATE")
    conn.executemany(INSERT, batch)
    conn.execute("COMMIT")


def append_seconds(rounds: int = ROUNDS) -> tuple[float, float]:
    """Best time (s) of the journal and best time of bare sqlite3, turn by turn in one run, each on a new file."""
    work = batches()
    through, bare = [], []
    with tempfile.TemporaryDirectory() as folder:
        for turn in range(rounds):
            bare.append(bare_seconds(Path(folder) / f"bare-{turn}.sqlite3", work))
            through.append(journal_seconds(Path(folder) / f"journal-{turn}.sqlite3", work))
    return min(through), min(bare)


def append_ratio(rounds: int = ROUNDS) -> float:
    """Give readings per second through the journal over those of bare sqlite3."""
    through_s, bare_s = append_seconds(rounds)
    return bare_s / through_s


def main() -> None:
    """Print both speeds and the ratio."""
    through_s, bare_s = append_seconds()
    sys.stdout.write(
        f"journal: {READINGS / through_s:,.0f} readings/s in batches of {BATCH}; "
        f"bare sqlite3: {READINGS / bare_s:,.0f}; {bare_s / through_s:.2f} of bare (goal: at least {GOAL})\n"
    )


if __name__ == "__main__":
    main()
