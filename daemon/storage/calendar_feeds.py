"""Calendar feeds in the journal, under the hash of their address, and what they show. Times are UTC ms.

All functions work inside the caller's transaction.
"""

import sqlite3
from collections.abc import Iterable

from daemon.calendar_feed import Feed, Kept, entry_from_json, entry_to_json

_FEED = "name, made_ms, made_by, seen_ms"


def add(conn: sqlite3.Connection, token_hash: str, name: str, by: str, now_ms: int) -> None:
    """Keep a new feed. Its name must not be in use."""
    conn.execute(
        "INSERT INTO calendar_feed (name, token_hash, made_ms, made_by) VALUES (?, ?, ?, ?)",
        (name, token_hash, now_ms, by),
    )


def find(conn: sqlite3.Connection, token_hash: str) -> Feed | None:
    """Give the feed of an address; None where it is unknown or withdrawn."""
    row = conn.execute(
        f"SELECT {_FEED} FROM calendar_feed WHERE token_hash = ? AND withdrawn_ms IS NULL",  # noqa: S608 - a constant
        (token_hash,),
    ).fetchone()
    return None if row is None else Feed(*row)


def in_use(conn: sqlite3.Connection) -> tuple[Feed, ...]:
    """Give the feeds that are in use, by name."""
    rows = conn.execute(f"SELECT {_FEED} FROM calendar_feed WHERE withdrawn_ms IS NULL ORDER BY name")  # noqa: S608
    return tuple(Feed(*row) for row in rows)


def seen(conn: sqlite3.Connection, name: str, now_ms: int) -> None:
    """Write down that a feed was read."""
    conn.execute("UPDATE calendar_feed SET seen_ms = ? WHERE name = ? AND withdrawn_ms IS NULL", (now_ms, name))


def withdraw(conn: sqlite3.Connection, name: str, now_ms: int) -> Feed | None:
    """End a feed and give it; None where there is none of this name in use."""
    found = next((feed for feed in in_use(conn) if feed.name.lower() == name.lower()), None)
    if found is not None:
        conn.execute(
            "UPDATE calendar_feed SET withdrawn_ms = ? WHERE name = ? AND withdrawn_ms IS NULL", (now_ms, found.name)
        )
    return found


def entries(conn: sqlite3.Connection) -> dict[str, Kept]:
    """Give all that was ever shown, by key."""
    rows = conn.execute("SELECT key, uid, sequence, created_ms, modified_ms, entry, gone_ms FROM calendar_entry")
    return {
        key: Kept(entry_from_json(text), uid, sequence, created_ms, modified_ms, gone_ms)
        for key, uid, sequence, created_ms, modified_ms, text, gone_ms in rows
    }


def put(conn: sqlite3.Connection, changed: Iterable[Kept]) -> None:
    """Store entries as they are now."""
    conn.executemany(
        "INSERT OR REPLACE INTO calendar_entry (key, uid, sequence, created_ms, modified_ms, entry, gone_ms)"
        " VALUES (?, ?, ?, ?, ?, ?, ?)",
        [
            (
                each.entry.key,
                each.uid,
                each.sequence,
                each.created_ms,
                each.modified_ms,
                entry_to_json(each.entry),
                each.gone_ms,
            )
            for each in changed
        ],
    )
