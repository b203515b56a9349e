"""Test messages in the journal: to whom, when, and whether somebody said that they arrived.

Of the link in one only the hash of its token is kept: whoever reads the journal cannot confirm with it. It is looked
for among tests alone, so a link to acknowledge with is good for nothing here, nor this one there.
"""

import hashlib
import secrets
import sqlite3
from typing import Literal, NamedTuple

TOKEN_BYTES = 24
"""192 bits from the system's random source."""
GOOD_FOR_MS = 7 * 24 * 3_600_000
"""So long a link can be used; the next test has come by then."""

How = Literal["link", "command"]
_COLUMNS = (
    "SELECT message_id, contact, person, occasion, sent_at_ms, at_ms FROM trial LEFT JOIN trial_confirmed"
    " USING (message_id)"
)


class Trial(NamedTuple):
    """One test message. `confirmed_at_ms` is None as long as nobody said that it arrived. UTC ms."""

    message_id: str
    contact: str
    person: str
    occasion: str
    sent_at_ms: int
    confirmed_at_ms: int | None = None


def new_token() -> str:
    """Draw the token of a link."""
    return secrets.token_urlsafe(TOKEN_BYTES)


def add(conn: sqlite3.Connection, trial: Trial, token: str) -> bool:
    """Keep one that is sent now; `token` is empty where it has no link. False where it is kept already."""
    added = conn.execute(
        "INSERT INTO trial (message_id, contact, person, occasion, sent_at_ms, token_hash) VALUES (?, ?, ?, ?, ?, ?)"
        " ON CONFLICT (message_id) DO NOTHING",
        (*trial[:5], _hash(token) if token else ""),
    )
    return added.rowcount == 1


def find(conn: sqlite3.Connection, token: str, now_ms: int) -> Trial | None:
    """Give the test that a link is about; None where it is unknown, malformed or its time is over, all in one way."""
    row = conn.execute(
        f"{_COLUMNS} WHERE token_hash = ? AND token_hash != '' AND sent_at_ms > ?", (_hash(token), now_ms - GOOD_FOR_MS)
    ).fetchone()
    return None if row is None else Trial(*row)


def newest(conn: sqlite3.Connection, contact: str) -> Trial | None:
    """Give the newest test of a contact; None where it had none."""
    row = conn.execute(f"{_COLUMNS} WHERE contact = ? ORDER BY sent_at_ms DESC LIMIT 1", (contact,)).fetchone()
    return None if row is None else Trial(*row)


def confirm(conn: sqlite3.Connection, message_id: str, at_ms: int, who: str, how: How) -> bool:
    """Write down that a test arrived. False where that is known already: the first time counts."""
    added = conn.execute(
        "INSERT INTO trial_confirmed (message_id, at_ms, who, how) VALUES (?, ?, ?, ?)"
        " ON CONFLICT (message_id) DO NOTHING",
        (message_id, at_ms, who, how),
    )
    return added.rowcount == 1


def unconfirmed(conn: sqlite3.Connection, contact: str, start_ms: int, end_ms: int) -> list[int]:
    """Give when the tests of a contact were sent that nobody confirmed, nor any later one, oldest first. UTC ms.

    From start to end, both included; what it costs depends on that span and not on the history.
    """
    rows = conn.execute(
        f"{_COLUMNS} WHERE contact = ? AND sent_at_ms BETWEEN ? AND ? ORDER BY sent_at_ms DESC",
        (contact, start_ms, end_ms),
    )
    found: list[int] = []
    for trial in map(Trial._make, rows):
        if trial.confirmed_at_ms is not None:
            break
        found.append(trial.sent_at_ms)
    return found[::-1]


def _hash(token: str) -> str:
    return hashlib.sha256(token.encode("utf-8", "replace")).hexdigest()
