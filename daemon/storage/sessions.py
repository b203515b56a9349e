"""Sessions of browsers in the journal, under the hash of their token. Times are UTC ms.

All functions work inside the caller's transaction.
"""

import sqlite3
from dataclasses import dataclass

from daemon.access.session_life import IDLE_MS, LIFE_MS
from daemon.access.values import Role, Session
from daemon.storage.text import storable

_LONGEST_TEXT = 200


@dataclass(frozen=True, slots=True)
class Found:
    """A session that nobody ended, of an account that is open."""

    number: int
    account_id: int
    account: str
    role: Role
    seen_ms: int
    until_ms: int
    confirmed_ms: int
    address: str


def find(conn: sqlite3.Connection, token_hash: str) -> Found | None:
    """Give the session of a token; whether its time is over is asked elsewhere."""
    row = conn.execute(
        "SELECT session_id, account_id, name, role, seen_ms, until_ms, confirmed_ms, address"
        " FROM session JOIN account USING (account_id)"
        " WHERE token_hash = ? AND ended_ms IS NULL AND closed_ms IS NULL",
        (token_hash,),
    ).fetchone()
    if row is None:
        return None
    number, account_id, name, role, *rest = row
    return Found(number, account_id, name, Role(role), *rest)


def begin(
    conn: sqlite3.Connection, account_id: int, token_hash: str, address: str, device: str, now_ms: int
) -> tuple[int, int]:
    """Write a new session down; gives its number and its end."""
    until_ms = now_ms + LIFE_MS
    (number,) = conn.execute(
        "INSERT INTO session (token_hash, account_id, begun_ms, seen_ms, until_ms, confirmed_ms, address, device)"
        " VALUES (?, ?, ?, ?, ?, ?, ?, ?) RETURNING session_id",
        (
            token_hash,
            account_id,
            now_ms,
            now_ms,
            until_ms,
            now_ms,
            storable(address, _LONGEST_TEXT),
            storable(device, _LONGEST_TEXT),
        ),
    ).fetchone()
    return int(number), until_ms


def renew(conn: sqlite3.Connection, number: int, token_hash: str, confirmed_ms: int, now_ms: int) -> None:
    """Give a session another token, since the password was given again. Its end stays."""
    conn.execute(
        "UPDATE session SET token_hash = ?, confirmed_ms = ?, seen_ms = ? WHERE session_id = ?",
        (token_hash, confirmed_ms, now_ms, number),
    )


def seen(conn: sqlite3.Connection, number: int, address: str, now_ms: int) -> None:
    """Write down that a page was asked for, and from where.

    One that was begun while the clock was ahead gets a whole life from now on, and no more. By a clock from
    before the account was made nothing is written: it is the one that is wrong, and would end the session.
    """
    conn.execute(
        "UPDATE session SET seen_ms = :now_ms, address = :address, until_ms = min(until_ms, :now_ms + :life_ms)"
        " WHERE session_id = :number AND ended_ms IS NULL"
        " AND :now_ms >= (SELECT created_ms FROM account WHERE account_id = session.account_id)",
        {"now_ms": now_ms, "address": storable(address, _LONGEST_TEXT), "number": number, "life_ms": LIFE_MS},
    )


def end(conn: sqlite3.Connection, number: int, now_ms: int) -> bool:
    """End one session; False where it had ended."""
    done = conn.execute("UPDATE session SET ended_ms = ? WHERE session_id = ? AND ended_ms IS NULL", (now_ms, number))
    return done.rowcount == 1


def end_all(conn: sqlite3.Connection, account_id: int, now_ms: int, but: int | None = None) -> int:
    """End all sessions of an account, but one where its number is given; gives how many those were."""
    done = conn.execute(
        "UPDATE session SET ended_ms = ? WHERE account_id = ? AND ended_ms IS NULL AND session_id IS NOT ?",
        (now_ms, account_id, but),
    )
    return done.rowcount


def alive(conn: sqlite3.Connection, now_ms: int, account_id: int | None = None) -> tuple[Session, ...]:
    """Give the sessions that still count, of one account or of all, those seen last first."""
    rows = conn.execute(
        "SELECT session_id, name, begun_ms, seen_ms, until_ms, address, device"
        " FROM session JOIN account USING (account_id)"
        " WHERE ended_ms IS NULL AND closed_ms IS NULL AND until_ms > ? AND seen_ms > ?"
        " AND (? IS NULL OR account_id = ?) ORDER BY seen_ms DESC, session_id DESC",
        (now_ms, now_ms - IDLE_MS, account_id, account_id),
    )
    return tuple(Session(*row) for row in rows)


def account_of(conn: sqlite3.Connection, number: int) -> tuple[int, str, str] | None:
    """Give number and name of the account of a session that nobody ended, and the session's address."""
    row = conn.execute(
        "SELECT account_id, name, address FROM session JOIN account USING (account_id)"
        " WHERE session_id = ? AND ended_ms IS NULL",
        (number,),
    ).fetchone()
    return None if row is None else (int(row[0]), str(row[1]), str(row[2]))


def addresses(conn: sqlite3.Connection, account_id: int, now_ms: int) -> set[str]:
    """Give the addresses from which an account was signed in lately."""
    rows = conn.execute(
        "SELECT DISTINCT address FROM session WHERE account_id = ? AND seen_ms > ?", (account_id, now_ms - LIFE_MS)
    )
    return {str(address) for (address,) in rows}
