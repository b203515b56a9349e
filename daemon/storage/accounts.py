"""Accounts in the journal, and the wrong passwords that were tried. Times are UTC ms.

All functions work inside the caller's transaction. Whether a change is allowed is decided elsewhere.
"""

import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass

from daemon.access.values import Account, Role
from daemon.access.waiting import Tries
from daemon.storage.text import searchable

_COLUMNS = "account_id, name, role, created_ms, created_by, password_hash, factor_secret, factor_step, closed_ms"
STRANGERS = ""
"""The origin of all addresses from which an account was not signed in lately."""
NOBODY = 0
"""Stands for the names that no account has."""


@dataclass(frozen=True, slots=True)
class Kept:
    """An account as it is kept. Not for showing: it says what is kept in place of the password."""

    account_id: int
    name: str
    role: Role
    created_ms: int
    created_by: str
    password_hash: str | None
    factor_secret: str | None
    factor_step: int | None
    closed_ms: int | None

    @property
    def is_open(self) -> bool:
        """True where somebody can sign in with it."""
        return self.closed_ms is None and self.password_hash is not None

    def __repr__(self) -> str:
        return f"Kept({self.name!r})"


def find(conn: sqlite3.Connection, name: str) -> Kept | None:
    """Give the account of a name, in whichever case it is written."""
    row = conn.execute(f"SELECT {_COLUMNS} FROM account WHERE name = ?", (searchable(name),)).fetchone()  # noqa: S608
    return None if row is None else _kept(row)


def by_number(conn: sqlite3.Connection, account_id: int) -> Kept | None:
    """Give the account of a number."""
    row = conn.execute(f"SELECT {_COLUMNS} FROM account WHERE account_id = ?", (account_id,)).fetchone()  # noqa: S608
    return None if row is None else _kept(row)


def _kept(row: tuple[int, str, str, int, str, str | None, str | None, int | None, int | None]) -> Kept:
    return Kept(row[0], row[1], Role(row[2]), *row[3:])


def all_of(conn: sqlite3.Connection) -> Iterator[Kept]:
    """Give all accounts by name, the closed ones too."""
    for row in conn.execute(f"SELECT {_COLUMNS} FROM account ORDER BY name"):  # noqa: S608
        yield _kept(row)


def shown(conn: sqlite3.Connection) -> tuple[Account, ...]:
    """Give all accounts as they may be shown, with the longest wait of each."""
    waits = {
        number: (failures, until_ms)
        for number, failures, until_ms in conn.execute(
            "SELECT account_id, max(failures), max(from_ms + wait_ms) FROM sign_in_try GROUP BY account_id"
        )
    }
    return tuple(
        Account(
            each.name,
            each.role,
            each.created_ms,
            each.created_by,
            each.password_hash is not None,
            each.factor_secret is not None,
            *waits.get(each.account_id, (0, 0)),
            each.closed_ms,
        )
        for each in all_of(conn)
    )


def add(conn: sqlite3.Connection, name: str, role: Role, by: str, now_ms: int) -> int:
    """Make an account that nobody can sign in with yet, and give its number."""
    (number,) = conn.execute(
        "INSERT INTO account (name, role, created_ms, created_by) VALUES (?, ?, ?, ?) RETURNING account_id",
        (name, role, now_ms, by),
    ).fetchone()
    return int(number)


def open_again(conn: sqlite3.Connection, account_id: int) -> None:
    """Take the closing back; the password does not come back with it."""
    conn.execute("UPDATE account SET closed_ms = NULL, password_hash = NULL WHERE account_id = ?", (account_id,))


def close(conn: sqlite3.Connection, account_id: int, now_ms: int) -> None:
    """Keep somebody out. The row stays: journals name it."""
    conn.execute(
        "UPDATE account SET closed_ms = ?, password_hash = NULL, factor_secret = NULL, factor_step = NULL"
        " WHERE account_id = ?",
        (now_ms, account_id),
    )


def set_role(conn: sqlite3.Connection, account_id: int, role: Role) -> None:
    """Let an account do more or less from now on."""
    conn.execute("UPDATE account SET role = ? WHERE account_id = ?", (role, account_id))


def set_password(conn: sqlite3.Connection, account_id: int, password_hash: str) -> None:
    """Keep what stands for a new password."""
    conn.execute("UPDATE account SET password_hash = ? WHERE account_id = ?", (password_hash, account_id))


def set_factor(conn: sqlite3.Connection, account_id: int, secret: str | None, step: int | None) -> None:
    """Keep or drop the second factor."""
    conn.execute(
        "UPDATE account SET factor_secret = ?, factor_step = ? WHERE account_id = ?", (secret, step, account_id)
    )


def other_keepers(conn: sqlite3.Connection, account_id: int) -> int:
    """Count the keepers who can sign in, without this one."""
    (count,) = conn.execute(
        "SELECT count(*) FROM account WHERE role = 'keeper' AND password_hash IS NOT NULL AND closed_ms IS NULL"
        " AND account_id != ?",
        (account_id,),
    ).fetchone()
    return int(count)


def tries(conn: sqlite3.Connection, account_id: int, origin: str) -> Tries:
    """Give the wrong passwords in a row from an origin."""
    row = conn.execute(
        "SELECT failures, from_ms, wait_ms FROM sign_in_try WHERE account_id = ? AND origin = ?", (account_id, origin)
    ).fetchone()
    return Tries() if row is None else Tries(*row)


def set_tries(conn: sqlite3.Connection, account_id: int, origin: str, now: Tries) -> None:
    """Write down the wrong passwords in a row from an origin."""
    conn.execute(
        "INSERT OR REPLACE INTO sign_in_try (account_id, origin, failures, from_ms, wait_ms) VALUES (?, ?, ?, ?, ?)",
        (account_id, origin, now.failures, now.from_ms, now.wait_ms),
    )


def forget_tries(conn: sqlite3.Connection, account_id: int) -> None:
    """A right password ends the row of wrong ones."""
    conn.execute("DELETE FROM sign_in_try WHERE account_id = ?", (account_id,))
