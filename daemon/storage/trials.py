"""Test messages in the journal: to whom, when, and whether somebody said that they arrived.

Of the link in one only the hash of its token is kept: whoever reads the journal cannot confirm with it. It is looked
for among tests alone, so a link to acknowledge with is good for nothing here, nor this one there.
"""

import hashlib
import secrets
import sqlite3
from typing import Literal, NamedTuple

from daemon.storage.contact_ways import CONTACT_OF_KEY, KEY_OF_CONTACT

TOKEN_BYTES = 24
"""192 bits from the system's random source."""
GOOD_FOR_MS = 7 * 24 * 3_600_000
"""So long a link can be used; the next test has come by then."""

ASKED = "asked"
"""The occasion of a test that somebody asked for at a page. Nobody has to confirm it, and whoever does is believed."""

How = Literal["link", "command", "page"]
_COLUMNS = (
    f"SELECT message_id, {CONTACT_OF_KEY}, person, occasion, sent_at_ms, at_ms"  # noqa: S608
    " FROM trial LEFT JOIN trial_confirmed USING (message_id)"
)
_TO = f"WHERE trial.contact = {KEY_OF_CONTACT}"
"""Tests to the address that a contact has now; what arrived at another says nothing of it."""


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
        "INSERT INTO trial (message_id, contact, person, occasion, sent_at_ms, token_hash)"  # noqa: S608
        f" VALUES (:message_id, {KEY_OF_CONTACT}, :person, :occasion, :sent_at_ms, :token_hash)"
        " ON CONFLICT (message_id) DO NOTHING",
        {**trial._asdict(), "token_hash": _hash(token) if token else ""},
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
    row = conn.execute(f"{_COLUMNS} {_TO} ORDER BY sent_at_ms DESC LIMIT 1", {"contact": contact}).fetchone()
    return None if row is None else Trial(*row)


def newest_weekly(conn: sqlite3.Connection, contact: str) -> Trial | None:
    """Give the newest test of a contact that came by the calendar; None where it had none."""
    row = conn.execute(
        f"{_COLUMNS} {_TO} AND occasion != :asked ORDER BY sent_at_ms DESC LIMIT 1",
        {"contact": contact, "asked": ASKED},
    ).fetchone()
    return None if row is None else Trial(*row)


def last_confirmed_ms(conn: sqlite3.Connection, contact: str) -> int | None:
    """Give when somebody said last that a test of a contact arrived; None where nobody ever did. UTC ms."""
    row = conn.execute(
        f"SELECT at_ms FROM trial JOIN trial_confirmed USING (message_id) {_TO} ORDER BY sent_at_ms DESC LIMIT 1",  # noqa: S608
        {"contact": contact},
    ).fetchone()
    return None if row is None else int(row[0])


def last_asked(conn: sqlite3.Connection, contact: str, since_ms: int, now_ms: int) -> Trial | None:
    """Give the newest test of a contact that somebody asked for since a moment; None where there is none.

    One from after `now_ms` was asked for while the clock was ahead: when that was, nobody knows.
    """
    row = conn.execute(
        f"{_COLUMNS} {_TO} AND sent_at_ms BETWEEN :since_ms AND :now_ms AND occasion = :asked"
        " ORDER BY sent_at_ms DESC LIMIT 1",
        {"contact": contact, "since_ms": since_ms, "now_ms": now_ms, "asked": ASKED},
    ).fetchone()
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
    """Give when the weekly tests of a contact were sent that nobody confirmed, nor any later test, oldest first.

    UTC ms. From start to end, both included; what it costs depends on that span and not on the history.
    """
    rows = conn.execute(
        f"{_COLUMNS} {_TO} AND sent_at_ms BETWEEN :start_ms AND :end_ms ORDER BY sent_at_ms DESC",
        {"contact": contact, "start_ms": start_ms, "end_ms": end_ms},
    )
    found: list[int] = []
    for trial in map(Trial._make, rows):
        if trial.confirmed_at_ms is not None:
            break
        if trial.occasion != ASKED:
            found.append(trial.sent_at_ms)
    return found[::-1]


def _hash(token: str) -> str:
    return hashlib.sha256(token.encode("utf-8", "replace")).hexdigest()
