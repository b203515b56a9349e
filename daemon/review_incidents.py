"""The desk of incidents: what commands and pages ask, and where people write what it was and what they did."""

import sqlite3
from collections.abc import Callable
from dataclasses import dataclass

from config.errors import StatedError
from daemon.review.values import Incident
from daemon.storage import incidents
from daemon.storage.incidents import NOTE_FIELDS, Note
from daemon.storage.journal import Journal

__all__ = ["NOTE_FIELDS", "IncidentDesk", "Note", "Reviewed", "UnknownIncidentError"]

NEWEST = 50


class UnknownIncidentError(LookupError):
    """There is no incident of this number."""

    def __init__(self, number: int) -> None:
        super().__init__(f"there is no incident {number}")
        self.number = number


@dataclass(frozen=True, slots=True)
class Reviewed:
    """An incident with all that was written about it, the oldest first.

    `asked` is the number that was asked for: another one than its own where that incident ended in this one.
    """

    incident: Incident
    notes: tuple[Note, ...]
    asked: int

    @property
    def is_open(self) -> bool:
        """True where a review is due: nobody has written yet what came of it."""
        return self.incident.needs_review and not any(note.field == "outcome" for note in self.notes)

    def said(self, field: str) -> str:
        """What was written last of cause, action, outcome or prevention; empty where nothing was."""
        return next((note.text for note in reversed(self.notes) if note.field == field), "")


class IncidentDesk:
    """Reads the incidents that were found, and takes notes. Safe to use from any thread. Times are UTC ms."""

    def __init__(self, journal: Journal, now_ms: Callable[[], int]) -> None:
        self._journal, self._now_ms = journal, now_ms

    def incidents(self, since_ms: int, until_ms: int) -> list[Incident]:
        """Give the incidents with a moment in a span, the oldest first.

        Raises StatedError for a span that ends before it begins.
        """
        if until_ms < since_ms:
            raise StatedError("the time ends before it begins", "give the earlier moment first")
        with self._journal.read() as conn:
            return incidents.between(conn, since_ms, until_ms)

    def incident(self, number: int) -> Reviewed:
        """Give one incident, or the one in which it ended. Raises UnknownIncidentError."""
        with self._journal.read() as conn:
            return _reviewed(conn, number)

    def newest(self, limit: int = NEWEST, before: int | None = None) -> list[Incident]:
        """Give the incidents with the highest numbers, the highest first; those below a number where one is given."""
        with self._journal.read() as conn:
            return incidents.newest(conn, limit, before)

    def open_reviews(self) -> list[Incident]:
        """Give the incidents that have to be reviewed and were not yet, the oldest first."""
        with self._journal.read() as conn:
            return incidents.under_review(conn)

    def note(self, number: int, who: str, field: str, text: str) -> Reviewed:
        """Write down for ever what somebody says; the newest of each field counts, the older ones stay.

        What was written last already is not written again. Raises UnknownIncidentError, and StatedError for what cannot
        be a note.
        """
        if field not in NOTE_FIELDS:
            raise StatedError(f"{field!r} is no part of a review", f"use one of {', '.join(NOTE_FIELDS)}")
        if not text.strip():
            raise StatedError("nothing is written there", "write a few words, or leave it")
        if len(text.strip()) > incidents.LONGEST_NOTE:
            raise StatedError("this is too long", f"use at most {incidents.LONGEST_NOTE} letters")
        now_ms = self._now_ms()

        def write(conn: sqlite3.Connection) -> Reviewed:
            before = _reviewed(conn, number)
            if before.said(field) == text.strip():
                return before
            incidents.add_note(conn, number, now_ms, who, field, text)
            return _reviewed(conn, number)

        return self._journal.write(write)


def _reviewed(conn: sqlite3.Connection, number: int) -> Reviewed:
    found = incidents.get(conn, number)
    if found is None:
        raise UnknownIncidentError(number)
    return Reviewed(found, tuple(incidents.notes(conn, number)), number)
