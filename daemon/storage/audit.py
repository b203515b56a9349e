"""The audit: every change that has no journal of its own, with who made it, from where, and what it was before.

All functions work inside the caller's transaction. Rows are never changed or removed.
"""

import json
import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from daemon.storage.pages import below
from daemon.storage.text import storable

HOST = "host"
"""Where a change comes from that somebody makes by a command on the machine itself."""
_LONGEST_TEXT = 2_000
_COLUMNS = "event_id, at_ms, who, from_where, what, about, old, new, why"


@dataclass(frozen=True, slots=True)
class Change:
    """One change. `what` is a word such as `sign-in` or `site`, `about` what it was done to. No secret in any of it."""

    who: str
    from_where: str
    what: str
    about: str
    old: Mapping[str, Any] = field(default_factory=dict)
    new: Mapping[str, Any] = field(default_factory=dict)
    why: str = ""


@dataclass(frozen=True, slots=True)
class AuditEvent:
    """A change on record. `at_ms`: UTC ms."""

    event_id: int
    at_ms: int
    change: Change


def record(conn: sqlite3.Connection, change: Change, now_ms: int) -> int:
    """Write a change down, and give its number."""
    texts = (
        storable(text.strip(), _LONGEST_TEXT) for text in (change.who, change.from_where, change.what, change.about)
    )
    old, new = (json.dumps(dict(each), ensure_ascii=False, sort_keys=True) for each in (change.old, change.new))
    (number,) = conn.execute(
        "INSERT INTO audit_event (at_ms, who, from_where, what, about, old, new, why) VALUES (?, ?, ?, ?, ?, ?, ?, ?)"
        " RETURNING event_id",
        (now_ms, *texts, old, new, storable(change.why.strip(), _LONGEST_TEXT)),
    ).fetchone()
    return int(number)


def newest(conn: sqlite3.Connection, limit: int, before: int | None = None, about: str = "") -> list[AuditEvent]:
    """Give the newest changes first, those before a number where one is given, and those of one thing alone."""
    of_one = " AND about = :about" if about else ""
    sql = f"SELECT {_COLUMNS} FROM audit_event WHERE event_id < :before{of_one} ORDER BY event_id DESC LIMIT :limit"  # noqa: S608
    values = {"before": below(before), "about": about, "limit": limit}
    return [_on_record(row) for row in conn.execute(sql, values)]


def _on_record(row: tuple[int, int, str, str, str, str, str, str, str]) -> AuditEvent:
    number, at_ms, who, from_where, what, about, old, new, why = row
    return AuditEvent(number, at_ms, Change(who, from_where, what, about, json.loads(old), json.loads(new), why))
