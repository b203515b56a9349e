"""What became of the messages: a count per outcome, and the newest that could not be used."""

import sqlite3
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from daemon.storage.text import storable
from sensors.reading import Outcome

LARGEST_KEPT_PAYLOAD_BYTES = 4096
MOST_KEPT = 10_000
LOOKED_THROUGH = 2_000
_LONGEST_TEXT = 1000
_COLUMNS = "SELECT topic, payload, retained, received_at_ms, outcome, reason FROM kept_message"
_AMONG_THE_NEWEST = "WHERE id > (SELECT max(id) FROM kept_message) - ?"
_UNUSED = f"SELECT topic, count(*), min(received_at_ms), max(id) FROM kept_message {_AMONG_THE_NEWEST}"  # noqa: S608
_OF_TOPIC = f"{_COLUMNS} {_AMONG_THE_NEWEST} AND topic = ? ORDER BY id DESC LIMIT ?"


@dataclass(frozen=True, slots=True)
class KeptMessage:
    """A message that could not be used, kept with the reason so that a keeper can see what a probe really sent."""

    topic: str
    payload: bytes
    retained: bool
    received_at_ms: int
    outcome: Outcome
    reason: str


def record(conn: sqlite3.Connection, outcomes: Mapping[Outcome, int], kept: Sequence[KeptMessage]) -> None:
    """Count outcomes and keep messages: the first 4096 bytes of each payload, and the newest 10,000 messages."""
    conn.executemany(
        "INSERT INTO message_count (outcome, n) VALUES (?, ?) ON CONFLICT (outcome) DO UPDATE SET n = n + excluded.n",
        [(outcome.value, n) for outcome, n in outcomes.items() if n],
    )
    if not kept:
        return
    conn.executemany(
        "INSERT INTO kept_message (topic, payload, retained, received_at_ms, outcome, reason)"
        " VALUES (?, ?, ?, ?, ?, ?)",
        [
            (
                storable(message.topic, _LONGEST_TEXT),
                message.payload[:LARGEST_KEPT_PAYLOAD_BYTES],
                message.retained,
                message.received_at_ms,
                message.outcome.value,
                storable(message.reason, _LONGEST_TEXT),
            )
            for message in kept
        ],
    )
    # The numbers have no gaps, so the oldest to go are found by number and nothing is counted.
    conn.execute("DELETE FROM kept_message WHERE id <= (SELECT max(id) FROM kept_message) - ?", (MOST_KEPT,))


def outcome_counts(conn: sqlite3.Connection) -> dict[Outcome, int]:
    """Give the number of messages per outcome since the journal began; outcomes that never came are left out."""
    return {Outcome(outcome): n for outcome, n in conn.execute("SELECT outcome, n FROM message_count")}


def newest_kept(conn: sqlite3.Connection, limit: int) -> list[KeptMessage]:
    """Give the kept messages, newest first."""
    return [_message(row) for row in conn.execute(f"{_COLUMNS} ORDER BY id DESC LIMIT ?", (limit,))]


class UnusedTopic(NamedTuple):
    """A topic on which came what could not be used: how often, since when and until when, and what came last."""

    topic: str
    times: int
    first_ms: int
    newest: KeptMessage


def unused_topics(conn: sqlite3.Connection, outcomes: Collection[Outcome], limit: int) -> list[UnusedTopic]:
    """Give the topics of the newest kept messages with one of these outcomes, the last heard first.

    Only the newest `LOOKED_THROUGH` messages are looked through, so that it costs the same in any case.
    """
    marks = ", ".join("?" for _ in outcomes)
    rows = conn.execute(
        f"{_UNUSED} AND outcome IN ({marks}) GROUP BY topic ORDER BY 4 DESC LIMIT ?",
        (LOOKED_THROUGH, *(each.value for each in outcomes), limit),
    ).fetchall()
    return [UnusedTopic(topic, count, first_ms, _kept(conn, number)) for topic, count, first_ms, number in rows]


def kept_of(conn: sqlite3.Connection, topic: str, limit: int) -> list[KeptMessage]:
    """Give the newest kept messages of one topic, newest first, of those that `unused_topics` looks through."""
    rows = conn.execute(_OF_TOPIC, (LOOKED_THROUGH, storable(topic, _LONGEST_TEXT), limit)).fetchall()
    return [_message(row) for row in rows]


def _kept(conn: sqlite3.Connection, number: int) -> KeptMessage:
    return _message(conn.execute(f"{_COLUMNS} WHERE id = ?", (number,)).fetchone())


def _message(row: tuple[str, bytes, int, int, str, str]) -> KeptMessage:
    topic, payload, retained, received_at_ms, outcome, reason = row
    return KeptMessage(topic, payload, bool(retained), received_at_ms, Outcome(outcome), reason)
