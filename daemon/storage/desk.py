"""What the alarm desk remembers, in the journal: rows of text by name, with a number that every change raises.

The service, its pages and a command beside it all change the desk. Each reads it, works out what follows, and stores
the whole of it with the number it began from; where somebody was faster, it begins again.
"""

import sqlite3
from collections.abc import Mapping

from daemon.storage import cursors

_VERSION = "alarm desk"


class DeskMovedError(Exception):
    """Somebody else changed the desk meanwhile; nothing was stored. Read it again."""


def version(conn: sqlite3.Connection) -> int:
    """Give the number of changes so far."""
    found = conn.execute("SELECT seq FROM cursor WHERE name = ?", (_VERSION,)).fetchone()
    return 0 if found is None else int(found[0])


def load(conn: sqlite3.Connection) -> dict[str, str]:
    """Give all rows by name."""
    return dict(conn.execute("SELECT name, state FROM alarm_desk").fetchall())


def save(conn: sqlite3.Connection, rows: Mapping[str, str], began_from: int) -> int:
    """Put these rows in the place of all others and give the new number; unchanged rows cost nothing.

    Raises DeskMovedError where the desk is not at `began_from` any more.
    """
    if version(conn) != began_from:
        raise DeskMovedError
    before = load(conn)
    if before == rows:
        return began_from
    conn.executemany("DELETE FROM alarm_desk WHERE name = ?", [(name,) for name in before.keys() - rows.keys()])
    changed = [(name, text) for name, text in rows.items() if before.get(name) != text]
    conn.executemany("INSERT OR REPLACE INTO alarm_desk (name, state) VALUES (?, ?)", changed)
    cursors.put(conn, _VERSION, began_from + 1)
    return began_from + 1
