"""Messages to people that must not be lost: written with the alarm that causes them, sent afterwards."""

import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal, NamedTuple

from daemon.storage.text import storable

State = Literal["waiting", "delivered", "abandoned"]
_LONGEST_ERROR = 500
_LONG_WAIT_MS = 600_000
"""A message that has so long to wait after its first attempt is told of at once."""


@dataclass(frozen=True, slots=True)
class OutboxMessage:
    """A message for one contact. `priority` 1 is the most urgent; `body` is JSON text.

    `incident` is what it calls for: once that is over, a call that still waits goes no further. `not_before_ms`: it
    waits until then.
    """

    message_id: str
    contact: str
    priority: int
    created_at_ms: int
    body: str
    incident: str = ""
    not_before_ms: int | None = None


_FORGET_LINK = (
    "UPDATE outbox SET body = replace(body, coalesce(json_extract(body, '$.acknowledge_url'), ''), '')"
    " WHERE json_valid(body) AND state != 'waiting'"
)
"""A link is kept as long as it has to be sent, and no longer: whoever reads it can use it."""


class OutboxRow(NamedTuple):
    """A message that waits, with the number of attempts so far."""

    message_id: str
    contact: str
    priority: int
    body: str
    attempts: int
    created_at_ms: int


def enqueue(conn: sqlite3.Connection, msgs: Iterable[OutboxMessage]) -> None:
    """Put messages in. A message id that is there already is left alone: a replay sends nothing twice."""
    conn.executemany(
        "INSERT INTO outbox (message_id, contact, priority, created_at_ms, body, incident, next_attempt_at_ms)"
        " VALUES (?, ?, ?, ?, ?, ?, ?) ON CONFLICT (message_id) DO NOTHING",
        [
            (one.message_id, one.contact, one.priority, one.created_at_ms, one.body, one.incident, one.not_before_ms)
            for one in msgs
        ],
    )


def due(conn: sqlite3.Connection, now_ms: int) -> list[OutboxRow]:
    """Give the messages to send now, most urgent first, then oldest first.

    One whose last attempt lies in the future is due as well: the clock was set back, and an alarm must not wait for it.
    """
    rows = conn.execute(
        "SELECT message_id, contact, priority, body, attempts, created_at_ms FROM outbox WHERE state = 'waiting'"
        " AND (next_attempt_at_ms IS NULL OR next_attempt_at_ms <= :now_ms OR last_attempt_at_ms > :now_ms)"
        " ORDER BY priority, created_at_ms, rowid",
        {"now_ms": now_ms},
    )
    return [OutboxRow(*row) for row in rows]


def record_attempt(
    conn: sqlite3.Connection, message_id: str, state: State, at_ms: int, next_attempt_at_ms: int | None, error: str
) -> None:
    """Write down an attempt and what the message became by it; `error` is empty where it was delivered.

    Raises LookupError where no such message waits: delivered and abandoned are final.
    """
    changed = conn.execute(
        "UPDATE outbox SET state = ?, attempts = attempts + 1, last_attempt_at_ms = ?, next_attempt_at_ms = ?,"
        " error = ? WHERE message_id = ? AND state = 'waiting'",
        (state, at_ms, next_attempt_at_ms, storable(error, _LONGEST_ERROR), message_id),
    )
    if changed.rowcount != 1:
        raise LookupError(f"no message {message_id} waits in the outbox")
    conn.execute(f"{_FORGET_LINK} AND message_id = ?", (message_id,))


def supersede(conn: sqlite3.Connection, incidents: Iterable[str]) -> None:
    """Let calls that still wait go no further: their incident is over or acknowledged, and another message says so."""
    for incident in incidents:
        conn.execute(
            "UPDATE outbox SET state = 'superseded', error = 'over or acknowledged before it could be sent'"
            " WHERE incident = ? AND state = 'waiting'",
            (incident,),
        )
        conn.execute(f"{_FORGET_LINK} AND incident = ? AND state = 'superseded'", (incident,))


class Undelivered(NamedTuple):
    """Messages to one contact that did not arrive, and what the last attempt said."""

    contact: str
    messages: int
    error: str


def undelivered(conn: sqlite3.Connection, since_ms: int) -> list[Undelivered]:
    """Give, per contact, the messages given up since then, and those that wait after two attempts or wait long."""
    rows = conn.execute(
        "SELECT contact, count(*), error, max(last_attempt_at_ms) FROM outbox"
        " WHERE (state = 'abandoned' AND last_attempt_at_ms >= ?)"
        " OR (state = 'waiting' AND (attempts >= 2 OR next_attempt_at_ms - last_attempt_at_ms >= ?)) GROUP BY contact",
        (since_ms, _LONG_WAIT_MS),
    )
    return [Undelivered(contact, messages, error) for contact, messages, error, _ in rows]


class CallSent(NamedTuple):
    """A message that called somebody for an incident, and what became of it."""

    contact: str
    created_at_ms: int
    state: str
    incident: str
    occurrence: str


def calls_since(conn: sqlite3.Connection, since_ms: int) -> list[CallSent]:
    """Give the messages that called people since then, oldest first."""
    # Every state and priority is named so that the index over them finds the moment.
    rows = conn.execute(
        "SELECT contact, created_at_ms, state, incident,"
        " CASE WHEN json_valid(body) THEN coalesce(json_extract(body, '$.occurrence'), '') ELSE '' END"
        " FROM outbox WHERE state IN ('waiting', 'delivered', 'abandoned', 'superseded') AND priority IN (1, 2, 3)"
        " AND created_at_ms >= ? AND incident != '' ORDER BY created_at_ms, rowid",
        (since_ms,),
    )
    return [CallSent(*row) for row in rows]


class Fate(NamedTuple):
    """What became of a message: its state, how often it was tried, what the last attempt said, and when the next is."""

    state: State | Literal["superseded"]
    attempts: int
    last_attempt_at_ms: int | None
    next_attempt_at_ms: int | None
    error: str


def fate(conn: sqlite3.Connection, message_id: str) -> Fate | None:
    """Give what became of a message; None where there is none of that id."""
    row = conn.execute(
        "SELECT state, attempts, last_attempt_at_ms, next_attempt_at_ms, coalesce(error, '') FROM outbox"
        " WHERE message_id = ?",
        (message_id,),
    ).fetchone()
    return None if row is None else Fate(*row)


def waiting_contacts(conn: sqlite3.Connection) -> set[str]:
    """Give the contacts with a message that waits."""
    return {contact for (contact,) in conn.execute("SELECT DISTINCT contact FROM outbox WHERE state = 'waiting'")}


def next_attempts_ms(conn: sqlite3.Connection, now_ms: int) -> dict[str, int]:
    """Give, per contact with a message that waits for a later moment, the earliest such moment."""
    rows = conn.execute(
        "SELECT contact, min(next_attempt_at_ms) FROM outbox"
        " WHERE state = 'waiting' AND next_attempt_at_ms > ? GROUP BY contact",
        (now_ms,),
    )
    return dict(rows.fetchall())


def totals(conn: sqlite3.Connection) -> dict[str, int]:
    """Give the number of messages that are waiting, delivered, abandoned and superseded."""
    found = conn.execute("SELECT state, count(*) FROM outbox GROUP BY state").fetchall()
    return {"waiting": 0, "delivered": 0, "abandoned": 0, "superseded": 0, **dict(found)}
