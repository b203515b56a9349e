"""What each probe last said of itself: online or offline."""

import sqlite3


def set_probe_status(conn: sqlite3.Connection, probe: str, online: bool, at_ms: int) -> None:
    """Keep what a probe said, in place of what it said before."""
    conn.execute(
        "INSERT INTO probe_status (probe, online, at_ms) VALUES (?, ?, ?)"
        " ON CONFLICT (probe) DO UPDATE SET online = excluded.online, at_ms = excluded.at_ms",
        (probe, online, at_ms),
    )


def probe_statuses(conn: sqlite3.Connection) -> dict[str, tuple[bool, int]]:
    """Give (online, since when it said so in ms) of each probe that ever said it."""
    rows = conn.execute("SELECT probe, online, at_ms FROM probe_status")
    return {probe: (bool(online), at_ms) for probe, online, at_ms in rows}
