"""Keys of programs in the journal, under their hash. Times are UTC ms.

All functions work inside the caller's transaction.
"""

import sqlite3

from daemon.access.values import ProgramKey, Role


def add(conn: sqlite3.Connection, key_hash: str, name: str, role: Role, by: str, now_ms: int) -> None:
    """Keep a new key. Its name must not be in use."""
    conn.execute(
        "INSERT INTO program_key (name, key_hash, role, made_ms, made_by) VALUES (?, ?, ?, ?, ?)",
        (name, key_hash, role, now_ms, by),
    )


def find(conn: sqlite3.Connection, key_hash: str) -> ProgramKey | None:
    """Give what a key is good for; None where it is unknown or withdrawn."""
    row = conn.execute(
        "SELECT name, role, made_ms, made_by, seen_ms FROM program_key WHERE key_hash = ? AND withdrawn_ms IS NULL",
        (key_hash,),
    ).fetchone()
    return None if row is None else _key(row)


def in_use(conn: sqlite3.Connection) -> tuple[ProgramKey, ...]:
    """Give the keys that are in use, by name."""
    rows = conn.execute(
        "SELECT name, role, made_ms, made_by, seen_ms FROM program_key WHERE withdrawn_ms IS NULL ORDER BY name"
    )
    return tuple(_key(row) for row in rows)


def _key(row: tuple[str, str, int, str, int | None]) -> ProgramKey:
    return ProgramKey(row[0], Role(row[1]), *row[2:])


def seen(conn: sqlite3.Connection, name: str, now_ms: int) -> None:
    """Write down that a key was used."""
    conn.execute("UPDATE program_key SET seen_ms = ? WHERE name = ? AND withdrawn_ms IS NULL", (now_ms, name))


def withdraw_made_by(conn: sqlite3.Connection, by: str, above: Role | None, now_ms: int) -> list[str]:
    """End the keys that somebody made, those above a role alone where one is given; gives their names."""
    ended = [key.name for key in in_use(conn) if key.made_by == by and (above is None or not above.may(key.role))]
    for name in ended:
        withdraw(conn, name, now_ms)
    return ended


def withdraw(conn: sqlite3.Connection, name: str, now_ms: int) -> ProgramKey | None:
    """End a key and give what it was good for; None where there is none of this name in use."""
    found = next((key for key in in_use(conn) if key.name.lower() == name.lower()), None)
    if found is not None:
        conn.execute(
            "UPDATE program_key SET withdrawn_ms = ? WHERE name = ? AND withdrawn_ms IS NULL", (now_ms, found.name)
        )
    return found
