"""What somebody made that lets others in, and ends where they may not make it any more: they may have copied it."""

import sqlite3

from daemon.access.values import Role
from daemon.storage import calendar_feeds, invitations, program_keys


def end_what_they_made(conn: sqlite3.Connection, name: str, role: Role | None, now_ms: int) -> dict[str, object]:
    """End invitations, keys and addresses of calendars; `role` is what they are now, None where they are out.

    Keys of their own role or below stay where they have one. Gives what ended, for the record.
    """
    found = {
        "invitations withdrawn": 0 if role is Role.KEEPER else invitations.withdraw_made_by(conn, name, now_ms),
        "keys withdrawn": program_keys.withdraw_made_by(conn, name, role, now_ms),
        "calendars withdrawn": [] if role is not None else _calendars(conn, name, now_ms),
    }
    return {what: ended for what, ended in found.items() if ended}


def _calendars(conn: sqlite3.Connection, name: str, now_ms: int) -> list[str]:
    theirs = [feed.name for feed in calendar_feeds.in_use(conn) if feed.made_by == name]
    for each in theirs:
        calendar_feeds.withdraw(conn, each, now_ms)
    return theirs
