"""What each probe last said of itself: online or offline, and what its board had lost."""

import sqlite3
from typing import NamedTuple

from daemon.storage import cursors

_LOST, _LOST_AT = "board-lost ", "board-lost-at "
"""Names of cursors begin so; the rest is the id of the probe."""


def set_probe_status(conn: sqlite3.Connection, probe: str, online: bool, at_ms: int) -> None:
    """Keep what a probe said, in place of what it said before. Saying the same once more is no news.

    The status is retained: at each new connection the broker gives it again, which must not look like a change of now.
    """
    conn.execute(
        "INSERT INTO probe_status (probe, online, at_ms) VALUES (?, ?, ?)"
        " ON CONFLICT (probe) DO UPDATE SET online = excluded.online, at_ms = excluded.at_ms"
        " WHERE probe_status.online <> excluded.online",
        (probe, online, at_ms),
    )


def probe_statuses(conn: sqlite3.Connection) -> dict[str, tuple[bool, int]]:
    """Give (online, since when it says so in ms) of each probe that ever said it."""
    rows = conn.execute("SELECT probe, online, at_ms FROM probe_status")
    return {probe: (bool(online), at_ms) for probe, online, at_ms in rows}


class Losses(NamedTuple):
    """Readings that a board has lost in all, and when that was last seen to have grown; None where it never was."""

    lost: int
    grew_ms: int | None


def note_losses(conn: sqlite3.Connection, probe: str, lost: int, at_ms: int) -> None:
    """Keep how much a board has lost by its own word. What it had lost when it was first heard is no growth."""
    before = losses(conn).get(probe)
    if before is not None and before.lost == lost:
        return
    cursors.put(conn, _LOST + probe, lost)
    if before is not None and lost > before.lost:
        cursors.put(conn, _LOST_AT + probe, at_ms)


def losses(conn: sqlite3.Connection) -> dict[str, Losses]:
    """Give the losses of each board that ever spoke of them."""
    rows = dict(conn.execute("SELECT name, seq FROM cursor WHERE name GLOB 'board-lost*'").fetchall())
    return {
        name.removeprefix(_LOST): Losses(lost, rows.get(_LOST_AT + name.removeprefix(_LOST)))
        for name, lost in rows.items()
        if name.startswith(_LOST)
    }
