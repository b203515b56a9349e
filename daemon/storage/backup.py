"""A copy of the journal while it is being written to, and the proof that a copy is whole."""

import os
import sqlite3
from collections.abc import Mapping
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

from daemon.backup_task import BackupTask
from daemon.backups.errors import BackupError
from daemon.storage import chain
from daemon.storage.connections import connect
from daemon.storage.errors import explained
from daemon.storage.journal import Journal
from daemon.storage.migrations import APPLICATION_ID, MIGRATIONS

_PAGES_AT_ONCE = 2_000
"""8 MB: the thread that copies lets others to the disk in between."""
_CACHE_KB = 65_536
_MOST_PROBLEMS = 5
# One search in an index for each channel; the plain maximum would walk through all readings.
_NEWEST = """SELECT max((SELECT max(measured_at_ms) FROM sample WHERE sample.channel_id = channel.channel_id))
    FROM channel"""


class PhotoRow(NamedTuple):
    """A photo on record: its file below the folder of photos, size, and SHA-256 in hexadecimal."""

    file: str
    byte_count: int
    sha256: str


@dataclass(frozen=True, slots=True)
class Snapshot:
    """What the journal held at the moment of the copy. Times: UTC ms."""

    origin: str
    schema: int
    counts: Mapping[str, int]
    newest_reading_ms: int | None
    photos: tuple[PhotoRow, ...]
    chain_head: str
    """the code of the newest link of the chain; empty where there is none"""


def origin(conn: sqlite3.Connection) -> str:
    """Give what tells the backups of this journal from those of others."""
    (found,) = conn.execute("SELECT origin FROM backup_origin").fetchone()
    return str(found)


def size_bytes(conn: sqlite3.Connection) -> int:
    """Give the size that a copy has."""
    (pages,) = conn.execute("PRAGMA page_count").fetchone()
    (page_bytes,) = conn.execute("PRAGMA page_size").fetchone()
    return int(pages) * int(page_bytes)


def photo_rows(conn: sqlite3.Connection) -> tuple[PhotoRow, ...]:
    """Give every photo on record."""
    rows = conn.execute("SELECT file, byte_count, sha256 FROM photo ORDER BY file")
    return tuple(PhotoRow(*row) for row in rows)


def copy(journal: Journal, target: Path, task: BackupTask) -> Snapshot:
    """Copy the journal into a new file as it is at one moment, and bring that to the disk.

    Writers go on meanwhile: the copy reads in one transaction, in which the counts are taken too. Raises JournalError,
    BackupError, OSError for the target, BackupStoppedError.
    """
    what = "Copying the journal"
    os.close(os.open(target, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o600))
    with journal.read() as conn:
        taken = snapshot(conn)
        with closing(connect(target, 0)) as copied:
            # It is worth nothing before it is whole, so it needs no undoing; it is brought to the disk at the end.
            # Exclusive: the memory that a write-ahead log shares between programs does not work on a network share.
            for setting in ("locking_mode = EXCLUSIVE", "journal_mode = OFF", "synchronous = OFF"):
                copied.execute(f"PRAGMA {setting}").fetchone()
            task.begin(what)

            def progress(_status: int, left: int, whole: int) -> None:
                task.step(what, 1 - left / whole if whole else 1.0)

            try:
                conn.backup(copied, pages=_PAGES_AT_ONCE, progress=progress, sleep=0)
                # It says that it has a write-ahead log, as the journal does; one file has to be enough to read it.
                copied.execute("PRAGMA journal_mode = DELETE").fetchone()
            except sqlite3.Error as error:
                raise _cannot_copy(error, target) from error
    sync(target)
    return taken


def snapshot(conn: sqlite3.Connection) -> Snapshot:
    """Take down what the transaction of a connection sees."""
    names = _tables(conn)
    (schema,) = conn.execute("SELECT max(number) FROM migration").fetchone()
    newest = conn.execute(_NEWEST).fetchone()[0]
    return Snapshot(
        origin=origin(conn),
        schema=int(schema),
        counts={name: _count(conn, name) for name in names},
        newest_reading_ms=newest,
        photos=photo_rows(conn),
        chain_head=chain.head_code(conn),
    )


def open_copy(path: Path) -> sqlite3.Connection:
    """Open a copy that nobody writes to, leaving no file beside it. Raises sqlite3.Error."""
    uri = f"{path.resolve().as_uri()}?mode=ro&immutable=1"
    conn = sqlite3.connect(uri, uri=True, isolation_level=None, check_same_thread=False)
    conn.execute(f"PRAGMA cache_size = -{_CACHE_KB}")
    return conn


def problems(path: Path, counts: Mapping[str, int], schema: int, task: BackupTask) -> list[str]:
    """Read all of a copy, and say what is wrong with it; nothing where it is whole. Raises BackupStoppedError.

    Every page and index (integrity_check), every reference, and as many rows of each table as are claimed.
    """
    try:
        with closing(open_copy(path)) as conn, task.interrupting(conn):
            return list(_problems(conn, counts, schema, task))
    except sqlite3.Error as error:
        return [f"its journal cannot be read ({error})"]


def _problems(conn: sqlite3.Connection, counts: Mapping[str, int], schema: int, task: BackupTask) -> list[str]:
    what = "Checking the copy"
    (application_id,) = conn.execute("PRAGMA application_id").fetchone()
    if application_id != APPLICATION_ID:
        return ["its journal is a database of another program"]
    (found,) = conn.execute("SELECT max(number) FROM migration").fetchone()
    if found > MIGRATIONS[-1].number:
        return [f"a newer version of clutchwarden wrote its journal (schema {found})"]
    task.begin(what)
    said = [str(text) for (text,) in conn.execute(f"PRAGMA integrity_check({_MOST_PROBLEMS})")]
    wrong = [] if said == ["ok"] else [f"its journal is damaged ({said[0].strip().splitlines()[-1]})"]
    task.step(what, 0.8)
    if conn.execute("PRAGMA foreign_key_check").fetchone() is not None:
        wrong.append("rows of its journal name others that are not there")
    task.step(what, 0.9)
    wrong += [] if found == schema else [f"its journal has schema {found} and not {schema}"]
    there = {name: _count(conn, name) for name in _tables(conn)}
    different = [name for name in sorted({*there, *counts}) if there.get(name) != counts.get(name)]
    wrong += [f"it has {there.get(name, 0)} rows of {name} and not {counts.get(name, 0)}" for name in different]
    return wrong[:_MOST_PROBLEMS]


def sync(path: Path) -> None:
    """Bring a file, or the names in a folder, to the disk. Raises OSError."""
    number = os.open(path, os.O_RDONLY)
    try:
        os.fsync(number)
    finally:
        os.close(number)


def _cannot_copy(error: sqlite3.Error, target: Path) -> BackupError:
    """The disk of the copy is the cause nearly always; that of the journal has an alarm of its own."""
    known = explained(error, "", "")
    what, hint = "cannot copy the journal", "Look at the disk or share of the backups, and at that of the journal."
    if known is None:
        return BackupError(what, str(target.parent), str(error), hint)
    return BackupError(what, str(target.parent), known.why, hint)


def _tables(conn: sqlite3.Connection) -> list[str]:
    rows = conn.execute("SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite%' ORDER BY name")
    return [name for (name,) in rows]


def _count(conn: sqlite3.Connection, table: str) -> int:
    quoted = table.replace('"', '""')
    (count,) = conn.execute(f'SELECT count(*) FROM "{quoted}"').fetchone()  # noqa: S608 - a name out of the schema
    return int(count)
