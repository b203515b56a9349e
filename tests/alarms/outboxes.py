"""An outbox for the tests of delivery: messages put in and rows looked at."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, NamedTuple

from config.words import Priority
from daemon.alarms.courier import Courier
from daemon.storage import outbox
from daemon.storage.journal import Journal
from daemon.storage.outbox import OutboxMessage
from tests.alarms.messages import message
from tests.support.processes import wait_until

NOW_MS = 1_767_225_600_000


class Row(NamedTuple):
    """What the outbox knows of one message."""

    state: str
    attempts: int
    next_attempt_at_ms: int | None
    error: str


def put(
    journal: Journal,
    message_id: str,
    contact: str = "ada/0",
    priority: Priority = Priority.CRITICAL,
    created_at_ms: int = NOW_MS,
    **changes: Any,
) -> None:
    """Put one message into the outbox, as the evaluation does; `body` may be given to store another text."""
    body = changes.pop("stored", None) or message(message_id=message_id, priority=priority, **changes).to_json()
    journal.write(
        lambda conn: outbox.enqueue(conn, [OutboxMessage(message_id, contact, priority, created_at_ms, body)])
    )


def rows(journal: Journal) -> dict[str, Row]:
    """Everything in the outbox, by message id."""
    with journal.read() as conn:
        found = conn.execute("SELECT message_id, state, attempts, next_attempt_at_ms, error FROM outbox").fetchall()
    return {message_id: Row(*rest) for message_id, *rest in found}


def all_text(journal: Journal) -> str:
    """Every column of every row, as one text."""
    with journal.read() as conn:
        return repr(conn.execute("SELECT * FROM outbox").fetchall())


def wait_for_state(journal: Journal, message_id: str, state: str) -> Row:
    """Give the row, once it has the state."""
    wait_until(lambda: rows(journal)[message_id].state == state, f"{message_id} {state}")
    return rows(journal)[message_id]


def wait_for_attempts(journal: Journal, message_id: str, attempts: int) -> Row:
    """Give the row, once at least so many attempts are recorded."""
    wait_until(lambda: rows(journal)[message_id].attempts >= attempts, f"{attempts} attempts for {message_id}")
    return rows(journal)[message_id]


@contextmanager
def running(courier: Courier) -> Iterator[Courier]:
    """Run a courier for the length of a block; it must come to its end."""
    courier.start()
    try:
        yield courier
        assert courier.alive
    finally:
        assert courier.stop()
