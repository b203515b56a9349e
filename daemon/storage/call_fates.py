"""What became of messages that called people, in a span of time: by the index over state, priority and time."""

import sqlite3
from typing import NamedTuple

_ABOUT = "CASE WHEN json_valid(body) THEN coalesce(json_extract(body, '$.occurrence'), '') ELSE '' END"
_COLUMNS = f"incident, created_at_ms, contact, state, attempts, last_attempt_at_ms, coalesce(error, ''), {_ABOUT}"
# Every state and priority is named so that the index finds the moment.
_BETWEEN = f"""SELECT {_COLUMNS} FROM outbox
    WHERE state IN ('waiting', 'delivered', 'abandoned', 'superseded') AND priority IN (1, 2, 3)
    AND created_at_ms >= ? AND created_at_ms <= ? AND incident != '' ORDER BY created_at_ms, message_id"""  # noqa: S608
_MESSAGES = """SELECT created_at_ms, contact, state, attempts, last_attempt_at_ms, coalesce(error, ''), incident, body
    FROM outbox WHERE state IN ('waiting', 'delivered', 'abandoned', 'superseded') AND priority IN (1, 2, 3)
    AND created_at_ms >= ? AND created_at_ms <= ? ORDER BY created_at_ms, message_id"""
_WAITING = f"""SELECT {_COLUMNS} FROM outbox WHERE state = 'waiting' AND created_at_ms < ? AND incident != ''
    ORDER BY created_at_ms, message_id"""  # noqa: S608 - constants


class CallFate(NamedTuple):
    """One message of a call, and what became of it. `occurrence` names the alarm that it leads with."""

    incident: str
    created_ms: int
    contact: str
    state: str
    attempts: int
    last_attempt_ms: int | None
    error: str
    occurrence: str


def between(conn: sqlite3.Connection, start_ms: int, end_ms: int) -> list[CallFate]:
    """Give the messages made in a span, and those made before that still wait, oldest first."""
    waiting = conn.execute(_WAITING, (start_ms,)).fetchall()
    return [CallFate(*row) for row in (*waiting, *conn.execute(_BETWEEN, (start_ms, end_ms)))]


class MessageFate(NamedTuple):
    """Any message, one that calls nobody too, and what became of it; `body` is its JSON text."""

    created_ms: int
    contact: str
    state: str
    attempts: int
    last_attempt_ms: int | None
    error: str
    incident: str
    body: str


def messages(conn: sqlite3.Connection, start_ms: int, end_ms: int) -> list[MessageFate]:
    """Give all messages that were written in a span, both ends included, oldest first."""
    return [MessageFate(*row) for row in conn.execute(_MESSAGES, (start_ms, end_ms))]
