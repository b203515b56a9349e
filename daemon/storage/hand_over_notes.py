"""What the keeper states for a hand-over, as it stood at any time. Appended, never changed. Times are UTC ms."""

import sqlite3

from daemon.hand_over_sheet import Note
from daemon.storage.text import storable


def newest(conn: sqlite3.Connection) -> Note | None:
    """Give the note that counts; None where none was ever written."""
    row = conn.execute("SELECT note_id, at_ms, who, text FROM hand_over_note ORDER BY note_id DESC LIMIT 1").fetchone()
    return None if row is None else Note(*row)


def add(conn: sqlite3.Connection, who: str, text: str, now_ms: int) -> None:
    """Write a note in place of the one before."""
    conn.execute(
        "INSERT INTO hand_over_note (at_ms, who, text) VALUES (?, ?, ?)",
        (now_ms, storable(who, 200), storable(text, 2_000)),
    )
