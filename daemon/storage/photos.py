"""Photos of rounds: rows in the journal, files beside it. Functions with a connection work inside its transaction."""

import os
import sqlite3
import threading
from collections.abc import Collection
from pathlib import Path

from daemon.clock import as_datetime
from daemon.rounds.values import Photo

_COLUMNS = (
    "photo_id, entry_id, round_id, box, clutch_id, who, made_ms, received_ms, file, byte_count, width, height, sha256"
)
_READ = f"SELECT {_COLUMNS} FROM photo"  # noqa: S608 - a constant


def folder_of(journal: Path) -> Path:
    """Give the folder of the photos: beside the journal."""
    return journal.parent / "photos"


def file_of(photo_id: str, received_ms: int) -> str:
    """Give the name of a photo's file in that folder: one folder for each year."""
    return f"{as_datetime(received_ms):%Y}/{photo_id}.jpg"


def write_file(folder: Path, name: str, data: bytes) -> None:
    """Write a photo so that it is there whole or not at all, also after a power cut. Raises OSError."""
    path = folder / name
    path.parent.mkdir(parents=True, exist_ok=True)
    # The same photo may be sent twice at one moment: each thread writes a file of its own.
    part = path.with_suffix(f".{os.getpid()}-{threading.get_ident()}.part")
    try:
        with part.open("wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        part.replace(path)
        _sync_folder(path.parent)
    except OSError:
        part.unlink(missing_ok=True)
        raise


def _sync_folder(folder: Path) -> None:
    """Bring the name of a new file to the disk; without that a power cut can leave the row and take the file."""
    opened = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(opened)
    finally:
        os.close(opened)


def append(conn: sqlite3.Connection, photo: Photo) -> None:
    """Store the row of a photo whose file is there."""
    row = (
        photo.photo_id,
        photo.entry_id,
        photo.round_number,
        photo.box,
        photo.clutch_id,
        photo.who,
        photo.made_ms,
        photo.received_ms,
        photo.file,
        photo.byte_count,
        photo.width,
        photo.height,
        photo.sha256,
    )
    conn.execute(f"INSERT INTO photo ({_COLUMNS}) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)", row)  # noqa: S608


def with_id(conn: sqlite3.Connection, photo_id: str) -> Photo | None:
    """Give one photo; None where there is none."""
    row = conn.execute(f"{_READ} WHERE photo_id = ?", (photo_id,)).fetchone()
    return None if row is None else Photo(*row)


def of_round(conn: sqlite3.Connection, round_number: int) -> dict[str, list[Photo]]:
    """Give the photos of a round by box, in the order in which they came."""
    found: dict[str, list[Photo]] = {}
    for row in conn.execute(f"{_READ} WHERE round_id = ? ORDER BY received_ms, photo_id", (round_number,)):
        photo = Photo(*row)
        found.setdefault(photo.box, []).append(photo)
    return found


def count(conn: sqlite3.Connection, round_numbers: Collection[int]) -> int:
    """Count the photos of these rounds."""
    sql = "SELECT count(*) FROM photo WHERE round_id = ?"
    return sum(int(conn.execute(sql, (each,)).fetchone()[0]) for each in round_numbers)


def of_clutch(conn: sqlite3.Connection, clutch_id: int) -> list[Photo]:
    """Give the photos of a clutch in the order in which they came."""
    rows = conn.execute(f"{_READ} WHERE clutch_id = ? ORDER BY received_ms, photo_id", (clutch_id,))
    return [Photo(*row) for row in rows]
