"""Photos of boxes: made small, stored as files beside the journal, each with a row in it."""

import errno
import hashlib
import sqlite3
from pathlib import Path

from config.errors import StatedError
from daemon.clutches.rows import by_number
from daemon.photo_image import small_photo
from daemon.round_entries import RefusedError, RoundEntries
from daemon.rounds.entries import is_uuid, moment_of
from daemon.rounds.stops import last_lay_ms, place_of
from daemon.rounds.values import Already, Photo, Refused
from daemon.storage import photos, rounds
from daemon.storage.journal import Journal
from daemon.storage.text import storable

_KEPT = "What was entered for the box is kept."


class RoundPhotos:
    """Keeps the photos of one journal. Safe to use from any thread."""

    def __init__(self, journal: Journal, entries: RoundEntries) -> None:
        self._journal = journal
        self._entries = entries
        self._folder = photos.folder_of(journal.path)

    def add(
        self,
        round_number: int,
        box: str,
        photo_id: str,
        data: bytes,
        who: str,
        entry_id: str,
        made_ms: int | None,
        now_ms: int,
        shown: int | None = None,
    ) -> Photo | Already | Refused:
        """Keep a photo; the same id again is stored once. A refusal says why, and costs nothing that was entered.

        `shown`: the clutch that the page showed, 0 for an empty box, None where that is not known.
        """
        refused = self._refusal(photo_id, who, entry_id)
        if refused is not None:
            return refused
        with self._journal.read() as conn:
            if photos.with_id(conn, photo_id) is not None:
                return Already(photo_id)
            try:
                clutch_id = self._clutch_id(conn, round_number, box, made_ms, now_ms, shown)
            except RefusedError as error:
                return error.refused
        try:
            small = small_photo(data)
            file = photos.file_of(photo_id, now_ms)
            photos.write_file(self._folder, file, small.data)
        except StatedError as error:
            return Refused(error.reason, f"{error.hint} {_KEPT}", "photo")
        except OSError as error:
            return _not_written(error)
        photo = Photo(
            photo_id=photo_id,
            entry_id=entry_id,
            round_number=round_number,
            box=box,
            clutch_id=clutch_id,
            who=storable(who.strip(), 200),
            made_ms=made_ms,
            received_ms=now_ms,
            file=file,
            byte_count=len(small.data),
            width=small.width,
            height=small.height,
            sha256=hashlib.sha256(small.data).hexdigest(),
        )
        return photo if self._journal.write(lambda conn: _append(conn, photo)) else Already(photo_id)

    def find(self, photo_id: str) -> tuple[Photo, Path] | None:
        """Give a photo and its file; None where there is none."""
        with self._journal.read() as conn:
            photo = photos.with_id(conn, photo_id)
        return None if photo is None else (photo, self._folder / photo.file)

    def _refusal(self, photo_id: str, who: str, entry_id: str) -> Refused | None:
        if not is_uuid(photo_id):
            return Refused("this photo has no id by which a repeat is known", "Load the page again.", "photo")
        if entry_id and not is_uuid(entry_id):
            return Refused("the entry of this photo is not named by its id", "Load the page again.", "entry_id")
        return None if who.strip() else Refused("nobody is named for this photo", "Say who took it.", "who")

    def _clutch_id(
        self, conn: sqlite3.Connection, round_number: int, box: str, made_ms: int | None, now_ms: int, shown: int | None
    ) -> int | None:
        found = rounds.of_number(conn, round_number)
        if found is None:
            raise RefusedError(Refused(f"there is no round no. {round_number}", "Load the page again.", "round"))
        at_ms, _ = moment_of(made_ms, found.round.started_ms, now_ms, found.round.ended_ms)
        place = place_of(box)[0]
        meant = by_number(conn, shown) if shown and place.partition("/")[0] == found.round.incubator else None
        if meant is not None and last_lay_ms(meant, place, found.round.started_ms, at_ms) is not None:
            # Whoever took it had this clutch before them, whatever lies there by now and whatever their clock says.
            return meant.clutch_id
        return self._entries.stop(conn, found, box, at_ms).clutch_id


def _append(conn: sqlite3.Connection, photo: Photo) -> bool:
    """Store the row; False where the same photo came twice at one moment."""
    if photos.with_id(conn, photo.photo_id) is not None:
        return False
    photos.append(conn, photo)
    return True


def _not_written(error: OSError) -> Refused:
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return Refused("the photo could not be stored: the disk is full", f"{_KEPT} Free some space.", "photo")
    why = error.strerror or "unknown cause"
    return Refused(f"the photo could not be stored: {why}", f"{_KEPT} Check the disk of the service.", "photo")
