"""Incidents in the journal: each with a number of its own for ever, and what people wrote about them.

All functions work inside the caller's transaction. Times are UTC ms.
"""

import json
import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, NamedTuple

from daemon.review.values import Cause, Fact, FactKind, Incident, Span
from daemon.storage import cursors
from daemon.storage.pages import below
from daemon.storage.text import storable

NOTE_FIELDS = ("cause", "action", "outcome", "prevention")
LONGEST_NOTE = 4_000
_COLUMNS = "incident_id, from_ms, to_ms, cause, facts, evidence, places, review"
_OVERLAPPING = f"""SELECT {_COLUMNS} FROM incident WHERE joined_into IS NULL AND from_ms <= :until_ms
    AND to_ms >= :since_ms UNION ALL SELECT {_COLUMNS} FROM incident
    WHERE joined_into IS NULL AND to_ms IS NULL AND from_ms <= :until_ms ORDER BY 2, 1"""  # noqa: S608 - constants
_CURSORS = ("review settled", "review reading", "review event")


@dataclass(frozen=True, slots=True)
class Note:
    """What somebody wrote about an incident; `field` is one of `NOTE_FIELDS`. The newest of a field counts."""

    note_id: int
    incident_id: int
    at_ms: int
    who: str
    field: str
    text: str


class Looked(NamedTuple):
    """How far the journal was looked through: settled up to a moment, a reading and an event of an alarm."""

    settled_ms: int
    reading: int
    event: int


def between(conn: sqlite3.Connection, since_ms: int, until_ms: int) -> list[Incident]:
    """Give the incidents with a moment in a span, both ends included, the oldest first."""
    rows = conn.execute(_OVERLAPPING, {"since_ms": since_ms, "until_ms": until_ms})
    return [_incident(row) for row in rows]


def newest(conn: sqlite3.Connection, limit: int, before: int | None = None) -> list[Incident]:
    """Give the incidents with the highest numbers, the highest first; those below a number where one is given."""
    rows = conn.execute(
        f"SELECT {_COLUMNS} FROM incident WHERE joined_into IS NULL AND incident_id < :before"  # noqa: S608
        " ORDER BY incident_id DESC LIMIT :limit",
        {"before": below(before), "limit": limit},
    )
    return [_incident(row) for row in rows]


def above(conn: sqlite3.Connection, number: int, limit: int) -> list[Incident]:
    """Give the incidents with the next numbers above one, the lowest first."""
    rows = conn.execute(
        f"SELECT {_COLUMNS} FROM incident WHERE joined_into IS NULL AND incident_id > ? ORDER BY incident_id LIMIT ?",  # noqa: S608
        (number, limit),
    )
    return [_incident(row) for row in rows]


def under_review(conn: sqlite3.Connection) -> list[Incident]:
    """Give the incidents that have to be reviewed and of which nobody has written the outcome, the oldest first."""
    rows = conn.execute(
        f"SELECT {_COLUMNS} FROM incident AS i WHERE joined_into IS NULL AND review != '' AND NOT EXISTS ("  # noqa: S608
        "WITH RECURSIVE part (id) AS (SELECT i.incident_id UNION"
        " SELECT incident_id FROM incident JOIN part ON joined_into = part.id)"
        " SELECT 1 FROM incident_note AS n JOIN part ON n.incident_id = part.id WHERE n.field = 'outcome')"
        " ORDER BY from_ms, incident_id"
    )
    return [_incident(row) for row in rows]


def present_number(conn: sqlite3.Connection, number: int) -> int | None:
    """Give the number of the incident in which this one ended, which is its own where it did not; None: no such one."""
    row = conn.execute(
        "WITH RECURSIVE chain (id, next) AS (SELECT incident_id, joined_into FROM incident WHERE incident_id = ?"
        " UNION SELECT incident_id, joined_into FROM incident JOIN chain ON incident_id = chain.next)"
        " SELECT id FROM chain WHERE next IS NULL",
        (number,),
    ).fetchone()
    return None if row is None else int(row[0])


def get(conn: sqlite3.Connection, number: int) -> Incident | None:
    """Give an incident by its number, or the one in which it ended; None where there is none of that number."""
    present = present_number(conn, number)
    row = conn.execute(f"SELECT {_COLUMNS} FROM incident WHERE incident_id = ?", (present,)).fetchone()  # noqa: S608
    return None if row is None else _incident(row)


def put(conn: sqlite3.Connection, incident: Incident, now_ms: int) -> int:
    """Store an incident, a new one where its number is 0; gives the number."""
    values = {
        "number": incident.incident_id or None,
        "from_ms": incident.span.from_ms,
        "to_ms": incident.span.to_ms,
        "cause": incident.cause.value,
        "facts": json.dumps([_fields(fact) for fact in incident.facts], ensure_ascii=False, separators=(",", ":")),
        "evidence": json.dumps(incident.evidence, ensure_ascii=False),
        "places": json.dumps(incident.places),
        "review": incident.review,
        "now_ms": now_ms,
    }
    (number,) = conn.execute(
        "INSERT INTO incident (incident_id, from_ms, to_ms, cause, facts, evidence, places, review, found_at_ms,"
        " changed_at_ms) VALUES (:number, :from_ms, :to_ms, :cause, :facts, :evidence, :places, :review, :now_ms,"
        " :now_ms) ON CONFLICT (incident_id) DO UPDATE SET from_ms = excluded.from_ms, to_ms = excluded.to_ms,"
        " cause = excluded.cause, facts = excluded.facts, evidence = excluded.evidence, places = excluded.places,"
        " review = excluded.review, changed_at_ms = excluded.changed_at_ms RETURNING incident_id",
        values,
    ).fetchone()
    return int(number)


def join_into(conn: sqlite3.Connection, numbers: Iterable[tuple[int, int]], now_ms: int) -> None:
    """Write down which incidents (first number) ended in which others (second number)."""
    conn.executemany(
        "UPDATE incident SET joined_into = ?, changed_at_ms = ? WHERE incident_id = ? AND joined_into IS NULL",
        [(into, now_ms, number) for number, into in numbers],
    )


def add_note(conn: sqlite3.Connection, number: int, at_ms: int, who: str, field: str, text: str) -> int:
    """Write down for ever what somebody says of an incident; gives the number of the note.

    Raises LookupError for an incident that there is not, ValueError for another field or a text without words.
    """
    present = present_number(conn, number)
    if present is None:
        raise LookupError(f"there is no incident {number}")
    if field not in NOTE_FIELDS:
        raise ValueError(f"{field!r} is none of {', '.join(NOTE_FIELDS)}")
    if not text.strip():
        raise ValueError("nothing is written there")
    (note_id,) = conn.execute(
        "INSERT INTO incident_note (incident_id, at_ms, who, field, text) VALUES (?, ?, ?, ?, ?) RETURNING note_id",
        (present, at_ms, storable(who, 200), field, storable(text.strip(), LONGEST_NOTE)),
    ).fetchone()
    return int(note_id)


def notes(conn: sqlite3.Connection, number: int) -> list[Note]:
    """Give all that was written about an incident and those that ended in it, the oldest first."""
    rows = conn.execute(
        "WITH RECURSIVE part (id) AS (SELECT ? UNION"
        " SELECT incident_id FROM incident JOIN part ON joined_into = part.id)"
        " SELECT note_id, incident_id, at_ms, who, field, text FROM incident_note JOIN part ON incident_id = part.id"
        " ORDER BY note_id",
        (present_number(conn, number),),
    )
    return [Note(*row) for row in rows]


def looked(conn: sqlite3.Connection) -> Looked | None:
    """Give how far the journal was looked through; None where nobody has looked yet."""
    found = dict(conn.execute("SELECT name, seq FROM cursor WHERE name IN (?, ?, ?)", _CURSORS).fetchall())
    return Looked(*(int(found[name]) for name in _CURSORS)) if len(found) == len(_CURSORS) else None


def set_looked(conn: sqlite3.Connection, to: Looked) -> None:
    """Note how far the journal was looked through."""
    for name, number in zip(_CURSORS, to, strict=True):
        cursors.put(conn, name, number)


def _fields(fact: Fact) -> dict[str, Any]:
    return {
        "kind": fact.kind.value,
        "span": list(fact.span),
        "place": fact.place,
        "subject": fact.subject,
        "words": fact.words,
        "critical": fact.critical,
    }


def _fact(fields: dict[str, Any]) -> Fact:
    return Fact(
        FactKind(fields["kind"]),
        Span(*fields["span"]),
        fields["place"],
        fields["subject"],
        fields["words"],
        fields["critical"],
    )


def _incident(row: tuple[Any, ...]) -> Incident:
    number, from_ms, to_ms, cause, facts, evidence, places, review = row
    return Incident(
        int(number),
        Span(from_ms, to_ms),
        tuple(_fact(each) for each in json.loads(facts)),
        Cause(cause),
        tuple(json.loads(evidence)),
        tuple(json.loads(places)),
        review,
    )
