"""A journal with rows in every table that the chain covers, and what somebody can do to its file."""

import hashlib
import math
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from pathlib import Path

from config.words import Quantity
from daemon.day_digests import DayDigests
from daemon.storage import audit, photos, samples
from daemon.storage.audit import Change
from daemon.storage.chain_sources import Source, sources
from daemon.storage.connections import connect
from daemon.storage.journal import Journal
from daemon.storage.schema import append_only
from daemon.verify import verify
from daemon.verify_values import Fault, Verified
from sensors.reading import ChannelKey, Reading

DAY_MS = 86_400_000
START_MS = 20_454 * DAY_MS
"""1 January 2026, 0:00 UTC: day 20 454 after 1970."""
DAYS = ("2026-01-01", "2026-01-02", "2026-01-03")
AIR = ChannelKey("north-air/t", "north-air", "t", Quantity.AIR_TEMPERATURE)


def write_event(journal: Journal, number: int) -> None:
    """One change on record, on the day of that number."""
    change = Change(
        "ana", "host", "site", f"no {number}", old={"high_c": 30}, new={"high_c": 30 + number}, why="summer"
    )
    journal.write(lambda conn: audit.record(conn, change, START_MS + number * DAY_MS))


def store_readings(journal: Journal, received_ms: Sequence[int], first: int = 0) -> None:
    """One reading for each of these moments of arrival."""

    def work(conn: sqlite3.Connection) -> None:
        readings = [
            Reading(AIR.channel, START_MS + (first + n) * 1000, at_ms, 28 + n / 8, 0)
            for n, at_ms in enumerate(received_ms)
        ]
        samples.append(conn, samples.channel_ids(conn, [AIR]), readings)

    journal.write(work)


def digest_until(journal: Journal, now_ms: int) -> None:
    """Make the digests of the days that are over."""
    DayDigests(journal, lambda: now_ms).run()


def three_days(path: Path, each: int = 1500) -> None:
    """Three days of readings with their digests, and the beginning of a fourth without."""
    with Journal.open(path) as journal:
        received = [START_MS + day * DAY_MS + n * 1000 for day in range(3) for n in range(each)]
        store_readings(journal, received)
        store_readings(journal, [START_MS + 3 * DAY_MS + n for n in range(10)], first=len(received))
        digest_until(journal, START_MS + 3 * DAY_MS + 1000)


@contextmanager
def past_clutchwarden(path: Path) -> Iterator[sqlite3.Connection]:
    """A connection of somebody who can write the file: without triggers, checks or references. Triggers come back."""
    with closing(connect(path, 5)) as conn:
        conn.execute("PRAGMA foreign_keys = OFF")
        conn.execute("PRAGMA ignore_check_constraints = ON")
        triggers = conn.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
        for name, _ in triggers:
            conn.execute(f'DROP TRIGGER "{name}"')
        yield conn
        for _, sql in triggers:
            conn.execute(sql)


def fill_every_table(path: Path, rows: int = 3) -> None:
    """Put rows into every covered table, those of the first day first. Digests and photos are real ones."""
    three_days(path, each=10)
    with closing(connect(path, 5)) as conn:
        conn.execute("PRAGMA foreign_keys = OFF")
        conn.execute("PRAGMA ignore_check_constraints = ON")
        for source in sources(conn).values():
            if source.wanted.happening == "insert" and source.wanted.table not in ("chain_source", "sample_day"):
                for number in range(rows):
                    _put(conn, source.wanted.table, number)
        _photos(conn, path)
        conn.execute("UPDATE round SET ended_ms = started_ms + 1, ended_by = 'ana', note = 'all well'")
    with Journal.open(path) as journal:
        write_event(journal, 1)


def _photos(conn: sqlite3.Connection, path: Path) -> None:
    """Give each row of a photo a file that it fits; its links are not made yet."""
    conn.execute("DROP TRIGGER photo_refuses_update")
    for (photo_id,) in conn.execute("SELECT photo_id FROM photo").fetchall():
        file = photos.folder_of(path) / f"{photo_id}.jpg"
        file.parent.mkdir(exist_ok=True)
        file.write_bytes(photo_id.encode())
        hashed = hashlib.sha256(photo_id.encode()).hexdigest()
        conn.execute("UPDATE photo SET file = ?, sha256 = ? WHERE photo_id = ?", (file.name, hashed, photo_id))
    conn.execute(append_only("photo")[0])


def _put(conn: sqlite3.Connection, table: str, number: int) -> None:
    columns = conn.execute(f"PRAGMA table_info({table})").fetchall()
    names, values = [], []
    for _, name, kind, _, _, key in columns:
        if key and kind == "INTEGER":
            value: object = 1000 + number
        elif (table, name) == ("round", "ended_ms"):
            value = None
        else:
            value = {
                "INTEGER": START_MS + number * DAY_MS + 5,
                "REAL": 1.5 + number,
                "BLOB": b"bytes %d" % number,
            }.get(kind, f"{table} {name} {number}")
        names.append(f'"{name}"')
        values.append(value)
    conn.execute(f"INSERT INTO {table} ({', '.join(names)}) VALUES ({', '.join('?' * len(values))})", values)


def changed_a_little(value: object) -> object:
    """The least that can be changed of a value: one bit, one byte."""
    if isinstance(value, int):
        return value ^ 1
    if isinstance(value, float):
        return math.nextafter(value, math.inf)
    if isinstance(value, bytes):
        return value[:-1] + bytes([value[-1] ^ 1])
    if isinstance(value, str):
        return value[:-1] + chr(ord(value[-1]) ^ 1) if value else "x"
    return 0


def all_sources(path: Path) -> list[Source]:
    with closing(connect(path, 5)) as conn:
        return list(sources(conn).values())


def found(path: Path) -> list[Fault]:
    return list(verify(path).faults)


def whole(path: Path) -> Verified:
    """Verify, and hold that nothing is wrong."""
    result = verify(path)
    assert result.faults == (), result.faults[:5]
    return result
