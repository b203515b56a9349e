"""Which address a contact had last, and what goes with it where contacts change their places in the site file.

All functions work inside the caller's transaction.
"""

import json
import sqlite3
from collections.abc import Collection, Mapping

from daemon.contact_changes import Way

KEY_OF_CONTACT = "coalesce((SELECT key FROM contact_way WHERE contact = :contact), :contact)"
"""SQL: what the tests of a contact are kept under."""
CONTACT_OF_KEY = "coalesce((SELECT w.contact FROM contact_way AS w WHERE w.key = trial.contact), trial.contact)"
"""SQL: the contact that a test went to, as the site file counts now."""
_NOBODY = ""
"""Stands for no contact: its row holds the salt, also where the site file has no contacts at all."""


def salt(conn: sqlite3.Connection) -> str | None:
    """Give what all digests were made with; None where there are none yet."""
    row = conn.execute("SELECT salt FROM contact_way WHERE contact = ?", (_NOBODY,)).fetchone()
    return None if row is None else str(row[0])


def kept(conn: sqlite3.Connection) -> dict[str, Way] | None:
    """Give the way of each contact when they were last looked at, by contact; None where nobody has looked yet."""
    found = {row[0]: Way(row[1], row[2]) for row in conn.execute("SELECT contact, key, digest FROM contact_way")}
    return None if found.pop(_NOBODY, None) is None else found


def keep(conn: sqlite3.Connection, ways: Mapping[str, Way], drawn: str) -> None:
    """Keep these in place of all others; `drawn` is their salt."""
    conn.execute("DELETE FROM contact_way")
    conn.executemany(
        "INSERT INTO contact_way (contact, key, digest, salt) VALUES (?, ?, ?, ?)",
        [(contact, way.key, way.digest, drawn) for contact, way in {**ways, _NOBODY: Way("", "")}.items()],
    )


def key_of(conn: sqlite3.Connection, contact: str) -> str:
    """Give what the tests of a contact are kept under."""
    (key,) = conn.execute(f"SELECT {KEY_OF_CONTACT}", {"contact": contact}).fetchone()
    return str(key)


def move(conn: sqlite3.Connection, moved: Mapping[str, str], forgotten: Collection[str]) -> None:
    """Let messages and failures go with the addresses, all at once; failures of forgotten contacts end."""
    conn.execute(
        "UPDATE outbox SET contact = one.value FROM json_each(?) AS one WHERE outbox.contact = one.key",
        (json.dumps(dict(moved)),),
    )
    rows = conn.execute("SELECT contact, failures, since_ms, gone, error FROM contact_failing").fetchall()
    conn.execute("DELETE FROM contact_failing")
    conn.executemany(
        "INSERT INTO contact_failing (contact, failures, since_ms, gone, error) VALUES (?, ?, ?, ?, ?)",
        [(moved.get(row[0], row[0]), *row[1:]) for row in rows if row[0] not in forgotten],
    )
