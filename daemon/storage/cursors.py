"""How far something has got in the journal, or how often it has changed: a number by name."""

import sqlite3


def put(conn: sqlite3.Connection, name: str, number: int) -> None:
    """Keep a number in place of the one of that name before, inside the caller's transaction."""
    conn.execute(
        "INSERT INTO cursor (name, seq) VALUES (?, ?) ON CONFLICT (name) DO UPDATE SET seq = excluded.seq",
        (name, number),
    )
