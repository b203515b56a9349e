"""What tells this journal from every other. All functions work inside the caller's transaction."""

import sqlite3


def journal_id(conn: sqlite3.Connection) -> str:
    """Give the identity of this journal, twelve characters."""
    (found,) = conn.execute("SELECT journal FROM journal_identity").fetchone()
    return str(found)


def take(conn: sqlite3.Connection, journal: str) -> None:
    """Go on as another journal, one that was lost and that this one is made to replace."""
    conn.execute("UPDATE journal_identity SET journal = ?", (journal,))
