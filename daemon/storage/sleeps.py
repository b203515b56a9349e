"""When the machine slept, as the service noticed it: on record among the changes, since it has no table of its own."""

import json
import sqlite3
from typing import NamedTuple

from daemon.storage import audit
from daemon.storage.audit import HOST, Change

SLEPT = "slept"
MACHINE = "machine"
_LONGEST_MS = 60 * 86_400_000
_NEWEST = "SELECT at_ms, new FROM audit_event WHERE about = ? AND what = ? ORDER BY event_id DESC"


class Slept(NamedTuple):
    """The machine was seen awake at `from_ms` and then at `until_ms`, UTC ms, and slept for `slept_ms` in between."""

    from_ms: int
    until_ms: int
    slept_ms: int


def record(conn: sqlite3.Connection, slept: Slept) -> None:
    """Write down for ever that the machine slept."""
    change = Change(
        "clutchwarden", HOST, SLEPT, MACHINE, new=slept._asdict(), why="noticed by the clocks of the machine"
    )
    audit.record(conn, change, slept.until_ms)


def between(conn: sqlite3.Connection, from_ms: int, to_ms: int) -> list[Slept]:
    """Give the sleeps with a moment in a span, oldest first; one that was written down long before it is not found."""
    found: list[Slept] = []
    for at_ms, new in conn.execute(_NEWEST, (MACHINE, SLEPT)):
        if at_ms < from_ms - _LONGEST_MS:
            break
        slept = Slept(**json.loads(new))
        if slept.from_ms <= to_ms and slept.until_ms >= from_ms:
            found.append(slept)
    return found[::-1]
