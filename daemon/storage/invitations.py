"""Codes that make or renew an account, under their hash. Each works once. Times are UTC ms.

All functions work inside the caller's transaction.
"""

import sqlite3
from typing import NamedTuple


class Invitation(NamedTuple):
    """What a code is good for: the account, or None for the first one of the site."""

    number: int
    account_id: int | None


def add(conn: sqlite3.Connection, code_hash: str, account_id: int | None, by: str, now_ms: int, until_ms: int) -> None:
    """Keep a new code. The ones before it for the same account end."""
    withdraw(conn, account_id, now_ms)
    conn.execute(
        "INSERT INTO invitation (code_hash, account_id, made_by, made_ms, until_ms) VALUES (?, ?, ?, ?, ?)",
        (code_hash, account_id, by, now_ms, until_ms),
    )


def withdraw(conn: sqlite3.Connection, account_id: int | None, now_ms: int) -> None:
    """End the open codes for an account."""
    conn.execute(
        "UPDATE invitation SET withdrawn_ms = ? WHERE account_id IS ? AND used_ms IS NULL AND withdrawn_ms IS NULL",
        (now_ms, account_id),
    )


def withdraw_made_by(conn: sqlite3.Connection, by: str, now_ms: int) -> int:
    """End the open codes that somebody made; gives their number."""
    done = conn.execute(
        "UPDATE invitation SET withdrawn_ms = ? WHERE made_by = ? AND used_ms IS NULL AND withdrawn_ms IS NULL"
        " AND until_ms > ?",
        (now_ms, by, now_ms),
    )
    return done.rowcount


def find(conn: sqlite3.Connection, code_hash: str, now_ms: int) -> Invitation | None:
    """Give what a code is good for; None where it is unknown, used, withdrawn or too old, all in the same way.

    One that was made further ahead than it lasts was made while the clock was wrong, and would last until then.
    """
    row = conn.execute(
        "SELECT invitation_id, account_id FROM invitation"
        " WHERE code_hash = ? AND used_ms IS NULL AND withdrawn_ms IS NULL AND until_ms > ?"
        " AND made_ms - ? <= until_ms - made_ms",
        (code_hash, now_ms, now_ms),
    ).fetchone()
    return None if row is None else Invitation(*row)


def use(conn: sqlite3.Connection, number: int, now_ms: int) -> None:
    """Write down that a code was used."""
    conn.execute("UPDATE invitation SET used_ms = ? WHERE invitation_id = ?", (now_ms, number))
