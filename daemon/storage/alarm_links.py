"""Links to acknowledge with, in the journal: what each is good for, under the hash of its token.

The token itself is in the message alone; whoever reads the journal cannot acknowledge with it.
"""

import hashlib
import json
import secrets
import sqlite3
from collections.abc import Iterable
from typing import NamedTuple

from daemon.alarm_desk_values import Seen

TOKEN_BYTES = 24
"""192 bits from the system's random source."""
GOOD_FOR_MS = 7 * 24 * 3_600_000


class AlarmLink(NamedTuple):
    """Good for this person to acknowledge these alarms, each in the version that the message told of. UTC ms."""

    token_hash: str
    person: str
    alarms: tuple[Seen, ...]
    created_at_ms: int
    expires_at_ms: int


def new_link(
    person: str, alarms: Iterable[Seen], now_ms: int, expires_at_ms: int | None = None
) -> tuple[str, AlarmLink]:
    """Draw a token, and give it with the row to store."""
    token = secrets.token_urlsafe(TOKEN_BYTES)
    ends_ms = now_ms + GOOD_FOR_MS if expires_at_ms is None else expires_at_ms
    return token, AlarmLink(_hash(token), person, tuple(alarms), now_ms, ends_ms)


def store(conn: sqlite3.Connection, links: Iterable[AlarmLink]) -> None:
    """Keep links, and forget those whose time was over when these were made."""
    rows = list(links)
    if not rows:
        return
    conn.execute("DELETE FROM alarm_link WHERE expires_at_ms <= ?", (max(row.created_at_ms for row in rows),))
    conn.executemany(
        "INSERT INTO alarm_link (token_hash, person, alarms, created_at_ms, expires_at_ms) VALUES (?, ?, ?, ?, ?)",
        [row._replace(alarms=json.dumps(row.alarms, separators=(",", ":"))) for row in rows],  # type: ignore[arg-type]
    )


def find(conn: sqlite3.Connection, token: str, now_ms: int) -> AlarmLink | None:
    """Give what a token is good for; None where it is unknown, malformed or its time is over, all in the same way."""
    row = conn.execute(
        "SELECT token_hash, person, alarms, created_at_ms, expires_at_ms FROM alarm_link"
        " WHERE token_hash = ? AND expires_at_ms > ?",
        (_hash(token), now_ms),
    ).fetchone()
    if row is None:
        return None
    token_hash, person, alarms, created_at_ms, expires_at_ms = row
    return AlarmLink(
        token_hash, person, tuple(Seen(*each) for each in json.loads(alarms)), created_at_ms, expires_at_ms
    )


def _hash(token: str) -> str:
    return hashlib.sha256(token.encode("utf-8", "replace")).hexdigest()
