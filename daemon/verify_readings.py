"""Holds the readings against their daily digests, and the photos against their hashes."""

import hashlib
import sqlite3
from pathlib import Path
from typing import NamedTuple

from daemon.chain_rules import day_name, day_of, packed
from daemon.storage import day_digests
from daemon.storage.day_digests import DayDigest
from daemon.verify_values import PHOTO_UNIT, Advance, Faults, Wrong

_SAMPLE, _DAY, _PHOTO = "sample", "sample_day", "photo"
_CHUNK = 1 << 20


class Readings(NamedTuple):
    """How many readings of how many days were looked at, how many are behind the last digest, and of which days."""

    readings: int
    days: int
    waiting: int
    waiting_days: tuple[str, str] = ("", "")


def check_readings(conn: sqlite3.Connection, since: str, faults: Faults, advance: Advance) -> Readings:
    """Hash the readings of all digests, or of those from a day on."""
    count, days = 0, set()
    expected = None if since else 1
    try:
        digests = day_digests.stored(conn, since)
    except sqlite3.DatabaseError:
        faults.add("", _DAY, "all", Wrong.UNREADABLE)
        return Readings(0, 0, 0)
    for digest in digests:
        if expected is not None and digest.first_seq != expected:
            faults.add(digest.day, _DAY, f"readings {expected} to {digest.first_seq - 1}", Wrong.DIGEST_MISSING)
        expected = digest.last_seq + 1
        count += _check_day(conn, digest, faults, advance)
        days.add(digest.day)
    return Readings(count, len(days), *_behind(conn, faults))


def _check_day(conn: sqlite3.Connection, digest: DayDigest, faults: Faults, advance: Advance) -> int:
    hashed, count = hashlib.sha256(), 0
    where = f"{digest.first_seq} to {digest.last_seq}"
    try:
        for block in day_digests.blocks(conn, digest.first_seq, digest.last_seq):
            hashed.update(packed(block))
            count += len(block)
            advance(len(block))
    except sqlite3.DatabaseError:
        faults.add(digest.day, _SAMPLE, where, Wrong.UNREADABLE)
        return count
    except ValueError:
        faults.add(digest.day, _SAMPLE, where, Wrong.READINGS_CHANGED)
        return count
    if count < digest.readings:
        faults.add(digest.day, _SAMPLE, _first_gap(conn, digest), Wrong.READING_REMOVED)
    elif hashed.hexdigest() != digest.sha256 or count != digest.readings:
        faults.add(digest.day, _SAMPLE, where, Wrong.READINGS_CHANGED)
    return count


def _first_gap(conn: sqlite3.Connection, digest: DayDigest) -> int:
    rows = conn.execute(
        "SELECT seq FROM sample WHERE seq BETWEEN ? AND ? ORDER BY seq", (digest.first_seq, digest.last_seq)
    )
    return next((place for place, (seq,) in enumerate(rows, start=digest.first_seq) if seq != place), digest.last_seq)


def _behind(conn: sqlite3.Connection, faults: Faults) -> tuple[int, tuple[str, str]]:
    """Count the readings behind the last digest, and give the first and the last day on which they came.

    Those that are missing there, or that stand before the first, are told.
    """
    try:
        last = day_digests.digested_to(conn)
        count, newest, oldest_ms, newest_ms = conn.execute(
            "SELECT count(*), max(seq), min(received_at_ms), max(received_at_ms) FROM sample WHERE seq > ?", (last,)
        ).fetchone()
        for seq, at_ms in conn.execute("SELECT seq, received_at_ms FROM sample WHERE seq < 1 LIMIT 100"):
            faults.add(_day(at_ms), _SAMPLE, seq, Wrong.READING_ADDED)
        # The roll-ups follow the readings, so what they have seen was there.
        (seen,) = conn.execute("SELECT coalesce(max(seq), 0) FROM cursor WHERE name = 'roll-ups'").fetchone()
    except sqlite3.DatabaseError:
        faults.add("", _SAMPLE, "behind the last digest", Wrong.UNREADABLE)
        return 0, ("", "")
    there = last if newest is None else newest
    if seen > there:
        faults.add(_day(newest_ms), _SAMPLE, f"{there + 1} to {seen}", Wrong.READING_REMOVED)
    elif there - last != count:
        faults.add(_day(newest_ms), _SAMPLE, f"between {last + 1} and {there}", Wrong.READING_REMOVED)
    return int(count), (_day(oldest_ms), _day(newest_ms))


def _day(at_ms: object) -> str:
    return day_name(day_of(at_ms)) if isinstance(at_ms, int) else ""


def check_photos(conn: sqlite3.Connection, folder: Path, since_ms: int | None, faults: Faults, advance: Advance) -> int:
    """Hash the file of each photo, or of those from a moment on; gives how many there are."""
    count = 0
    try:
        for photo_id, received_ms, file, sha256 in conn.execute(
            "SELECT photo_id, received_ms, file, sha256 FROM photo WHERE received_ms >= ? ORDER BY received_ms",
            (since_ms or 0,),
        ):
            count += 1
            hashed = _hash_of(folder, str(file), advance)
            if hashed != sha256:
                wrong = Wrong.PHOTO_MISSING if hashed is None else Wrong.PHOTO_CHANGED
                faults.add(_day(received_ms), _PHOTO, photo_id, wrong)
    except sqlite3.DatabaseError:
        faults.add("", _PHOTO, f"after {count} photos", Wrong.UNREADABLE)
    return count


def _hash_of(folder: Path, name: str, advance: Advance) -> str | None:
    hashed = hashlib.sha256()
    try:
        with (folder / name).open("rb") as file:
            while chunk := file.read(_CHUNK):
                hashed.update(chunk)
                advance(len(chunk) // PHOTO_UNIT)
    except OSError:
        return None
    return hashed.hexdigest()
