"""Which contacts take alerts and which do not, by the attempts that were made."""

import sqlite3
from typing import NamedTuple

from daemon.storage.text import storable

_LONGEST_ERROR = 200


class Failing(NamedTuple):
    """A contact that took nothing at its last attempts.

    `since_ms` is the first of the attempts that failed in a row. `gone`: its receiver has said, since the last message
    that it took, that the address is not in use any more. `error` is what the last attempt said.
    """

    contact: str
    failures: int
    since_ms: int
    gone: bool
    error: str


def note_accepted(conn: sqlite3.Connection, contact: str) -> None:
    """A message to this contact was accepted: whatever was wrong with it is over."""
    conn.execute("DELETE FROM contact_failing WHERE contact = ?", (contact,))


def note_failed(conn: sqlite3.Connection, contact: str, at_ms: int, error: str, *, gone: bool) -> None:
    """An attempt was made and failed."""
    # The smaller of two beginnings: a clock that was set back must not hold an alarm up until it has caught up.
    conn.execute(
        "INSERT INTO contact_failing (contact, failures, since_ms, gone, error) VALUES (?, 1, ?, ?, ?)"
        " ON CONFLICT (contact) DO UPDATE SET failures = failures + 1, since_ms = min(since_ms, excluded.since_ms),"
        " gone = max(gone, excluded.gone), error = excluded.error",
        (contact, at_ms, gone, storable(error, _LONGEST_ERROR)),
    )


def failing(conn: sqlite3.Connection) -> list[Failing]:
    """Give every contact whose last attempt failed, by contact."""
    rows = conn.execute("SELECT contact, failures, since_ms, gone, error FROM contact_failing ORDER BY contact")
    return [
        Failing(contact, failures, since_ms, bool(gone), error) for contact, failures, since_ms, gone, error in rows
    ]
