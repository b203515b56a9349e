"""Looks whether a journal is as it was written. It changes nothing, not even to bring an older file up to date."""

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from datetime import date
from pathlib import Path

from daemon.chain_rules import Head, TypedCode, first_ms_of
from daemon.storage import chain, photos
from daemon.storage.connections import open_reader
from daemon.storage.errors import JournalError, explained
from daemon.storage.migrations import refuse_unusable
from daemon.verify_events import EventWalk
from daemon.verify_readings import check_photos, check_readings
from daemon.verify_values import PHOTO_UNIT, Advance, Faults, Verified, Wrong

_BUSY_TIMEOUT_S = 5.0
_MIGRATION = 14
WRITTEN = "it was written by a version of clutchwarden that kept no chain"


def nothing(_done: int) -> None:
    """Show no progress."""


def verify(
    path: Path,
    since: date | None = None,
    head: TypedCode | None = None,
    started: Callable[[int], Advance] = lambda _total: nothing,
    photo_folder: Path | None = None,
) -> Verified:
    """Walk through chain, digests and photos of a journal, all as of one moment.

    `since` leaves out what is older than a UTC day, `head` is a code to look for. `started` is called with how much
    there is to look at. Photos lie beside the journal unless another folder is given. Raises JournalError where the
    file cannot be opened or keeps no chain.
    """
    with _reading(path) as conn:
        faults, since_ms = Faults(), None if since is None else first_ms_of(since)
        day = "" if since is None else since.isoformat()
        advance = started(_total(conn, day, since_ms))
        events = EventWalk(conn, faults, advance).walk(since_ms)
        readings = check_readings(conn, day, faults, advance)
        folder = photos.folder_of(path) if photo_folder is None else photo_folder
        photo_count = check_photos(conn, folder, since_ms, faults, advance)
        found = None if head is None else _is_in_chain(conn, head)
        if found is False and head is not None:
            faults.add("", "chain_link", head.link, Wrong.NOT_IN_CHAIN)
        newest = conn.execute("SELECT at_ms FROM chain_link ORDER BY link DESC LIMIT 1").fetchone()
        return Verified(
            events=events,
            readings=readings.readings,
            days=readings.days,
            photos=photo_count,
            waiting_events=chain.waiting_count(conn),
            waiting_readings=readings.waiting,
            waiting_days=readings.waiting_days,
            code=chain.head_code(conn),
            newest_ms=None if newest is None else int(newest[0]),
            since=day,
            faults=tuple(faults.kept),
            fault_count=faults.count,
            head_found=found,
        )


@contextmanager
def _reading(path: Path) -> Iterator[sqlite3.Connection]:
    where = str(path)
    if not path.is_file():
        raise JournalError("cannot verify", where, "there is no such file", "Name the journal, or start the service.")
    try:
        with closing(open_reader(path, _BUSY_TIMEOUT_S)) as conn:
            conn.execute("BEGIN")
            if _MIGRATION not in refuse_unusable(conn, where):
                hint = "Start this version of the service once: it seals what is there, and whatever comes after."
                raise JournalError("cannot verify the journal", where, WRITTEN, hint)
            yield conn
    except sqlite3.DatabaseError as error:
        raise (explained(error, "cannot read the journal", where) or error) from error


def _total(conn: sqlite3.Connection, day: str, since_ms: int | None) -> int:
    (links,) = conn.execute("SELECT count(*) FROM chain_link WHERE at_ms >= ?", (since_ms or 0,)).fetchone()
    (readings,) = conn.execute("SELECT coalesce(sum(readings), 0) FROM sample_day WHERE day >= ?", (day,)).fetchone()
    (size,) = conn.execute(
        "SELECT coalesce(sum(byte_count), 0) FROM photo WHERE received_ms >= ?", (since_ms or 0,)
    ).fetchone()
    return int(links) + int(readings) + int(size) // PHOTO_UNIT


def _is_in_chain(conn: sqlite3.Connection, head: TypedCode) -> bool:
    row = conn.execute("SELECT link, hash FROM chain_link WHERE link = ?", (head.link,)).fetchone()
    return row is not None and isinstance(row[1], bytes) and head.is_of(Head(*row))
