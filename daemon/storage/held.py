"""Messages whose time is not known yet, because the clock of the machine is not right: held until it is."""

import sqlite3
from collections.abc import Iterable
from typing import NamedTuple

MOST_HELD = 50_000
MOST_HELD_BYTES = 256 * 2**20
"""Topics and payloads. What comes first is kept: a board holds a day of ten probes, and its card does not fill up.

Project choices, both.
"""
BYTES_AT_ONCE = 8 * 2**20
_LOAD = "SELECT count(*), coalesce(sum(length(payload) + length(topic)), 0) FROM held_message"


class HeldMessage(NamedTuple):
    """A message as it came, `steady_ms` after the start of the machine that `boot` names."""

    held_id: int
    topic: str
    payload: bytes
    retained: bool
    boot: str
    steady_ms: int


class Load(NamedTuple):
    """How many messages are held, and how large they are."""

    messages: int
    size_bytes: int

    def room_for(self, message: HeldMessage) -> bool:
        """Tell whether one more can be held."""
        return self.messages < MOST_HELD and self.size_bytes + _size_bytes(message) <= MOST_HELD_BYTES

    def and_with(self, message: HeldMessage) -> "Load":
        """Give it with one more."""
        return Load(self.messages + 1, self.size_bytes + _size_bytes(message))


def load(conn: sqlite3.Connection) -> Load:
    """Give how much is held. It reads no payload, so it costs little for few messages, and some ms for the most."""
    return Load(*conn.execute(_LOAD).fetchone())


def hold(conn: sqlite3.Connection, messages: Iterable[HeldMessage]) -> list[HeldMessage]:
    """Keep messages, in their order; gives the newest, for which there is no room. What is held is never dropped."""
    wanted, room, present = list(messages), 0, load(conn)
    while room < len(wanted) and present.room_for(wanted[room]):
        present, room = present.and_with(wanted[room]), room + 1
    conn.executemany(
        "INSERT INTO held_message (topic, payload, retained, boot, steady_ms) VALUES (?, ?, ?, ?, ?)",
        [(one.topic, one.payload, one.retained, one.boot, one.steady_ms) for one in wanted[:room]],
    )
    return wanted[room:]


def oldest(conn: sqlite3.Connection, after_id: int, limit: int) -> list[HeldMessage]:
    """Give the messages behind a number in the order in which they came, at most `limit` and some 8 MB of them."""
    rows = conn.execute(
        "SELECT held_id, topic, payload, retained, boot, steady_ms FROM held_message WHERE held_id > ?"
        " ORDER BY held_id LIMIT ?",
        (after_id, limit),
    )
    found, size_bytes = list[HeldMessage](), 0
    for number, topic, payload, kept, *rest in rows:
        found.append(HeldMessage(number, topic, payload, bool(kept), *rest))
        size_bytes += _size_bytes(found[-1])
        if size_bytes >= BYTES_AT_ONCE:
            break
    return found


def let_go(conn: sqlite3.Connection, first_id: int, last_id: int) -> None:
    """Forget messages that have found their time, in the transaction that stores what they say."""
    conn.execute("DELETE FROM held_message WHERE held_id BETWEEN ? AND ?", (first_id, last_id))


def _size_bytes(message: HeldMessage) -> int:
    return len(message.payload) + len(message.topic)
