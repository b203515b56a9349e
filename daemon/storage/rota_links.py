"""Links to take over a duty with, in the journal: what each is good for, under the hash of its token.

They are of their own kind: a token of another kind of link is unknown here, and one of these is unknown elsewhere.
"""

import hashlib
import secrets
import sqlite3
from collections.abc import Iterable
from typing import NamedTuple

from daemon.storage.alarm_links import GOOD_FOR_MS, TOKEN_BYTES


class RotaLink(NamedTuple):
    """Good for this person to accept this duty. Times are UTC ms."""

    token_hash: str
    number: int
    person: str
    created_at_ms: int
    expires_at_ms: int


def new_link(number: int, person: str, now_ms: int) -> tuple[str, RotaLink]:
    """Draw a token, and give it with the row to store."""
    token = secrets.token_urlsafe(TOKEN_BYTES)
    return token, RotaLink(_hash(token), number, person, now_ms, now_ms + GOOD_FOR_MS)


def store(conn: sqlite3.Connection, links: Iterable[RotaLink]) -> None:
    """Keep links, and forget those whose time was over when these were made."""
    rows = list(links)
    if not rows:
        return
    conn.execute("DELETE FROM rota_link WHERE expires_at_ms <= ?", (max(row.created_at_ms for row in rows),))
    conn.executemany(
        "INSERT INTO rota_link (token_hash, entry_id, person, created_at_ms, expires_at_ms) VALUES (?, ?, ?, ?, ?)",
        rows,
    )


def find(conn: sqlite3.Connection, token: str, now_ms: int) -> RotaLink | None:
    """Give what a token is good for; None where it is unknown, malformed or its time is over, all in the same way."""
    row = conn.execute(
        "SELECT token_hash, entry_id, person, created_at_ms, expires_at_ms FROM rota_link"
        " WHERE token_hash = ? AND expires_at_ms > ?",
        (_hash(token), now_ms),
    ).fetchone()
    return None if row is None else RotaLink(*row)


def _hash(token: str) -> str:
    return hashlib.sha256(token.encode("utf-8", "replace")).hexdigest()
