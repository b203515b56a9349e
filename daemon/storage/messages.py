"""What became of the messages: a count per outcome, and the newest that could not be used."""

import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from daemon.storage.text import storable
from sensors.reading import Outcome

LARGEST_KEPT_PAYLOAD_BYTES = 4096
MOST_KEPT = 10_000
_LONGEST_TEXT = 1000


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
    rows = conn.execute(
        "SELECT topic, payload, retained, received_at_ms, outcome, reason FROM kept_message ORDER BY id DESC LIMIT ?",
        (limit,),
    )
    return [
        KeptMessage(topic, payload, bool(retained), received_at_ms, Outcome(outcome), reason)
        for topic, payload, retained, received_at_ms, outcome, reason in rows
    ]
