"""Messages whose time is not known yet, because the clock of the machine is not right: held until it is."""

import sqlite3
from collections.abc import Iterable
from typing import NamedTuple

MOST_HELD = 50_000


class HeldMessage(NamedTuple):
    """A message as it came, `steady_ms` after the start of the machine that `boot` names."""

    held_id: int
    topic: str
    payload: bytes
    retained: bool
    boot: str
    steady_ms: int


def hold(conn: sqlite3.Connection, messages: Iterable[HeldMessage]) -> list[HeldMessage]:
    """Keep messages, in their order; gives those for which there is no room."""
    wanted = list(messages)
    (count,) = conn.execute("SELECT count(*) FROM held_message").fetchone()
    room = max(0, MOST_HELD - count)
    conn.executemany(
        "INSERT INTO held_message (topic, payload, retained, boot, steady_ms) VALUES (?, ?, ?, ?, ?)",
        [(one.topic, one.payload, one.retained, one.boot, one.steady_ms) for one in wanted[:room]],
    )
    return wanted[room:]


def oldest(conn: sqlite3.Connection, after_id: int, limit: int) -> list[HeldMessage]:
    """Give the messages behind a number in the order in which they came, at most `limit`."""
    rows = conn.execute(
        "SELECT held_id, topic, payload, retained, boot, steady_ms FROM held_message WHERE held_id > ?"
        " ORDER BY held_id LIMIT ?",
        (after_id, limit),
    )
    return [HeldMessage(number, topic, payload, bool(kept), *rest) for number, topic, payload, kept, *rest in rows]


def let_go(conn: sqlite3.Connection, first_id: int, last_id: int) -> None:
    """Forget messages that have found their time, in the transaction that stores what they say."""
    conn.execute("DELETE FROM held_message WHERE held_id BETWEEN ? AND ?", (first_id, last_id))
