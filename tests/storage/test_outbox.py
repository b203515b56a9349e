"""A message waits until it is delivered or given up, whatever the clock does."""

from pathlib import Path

import pytest

from daemon.storage import outbox
from daemon.storage.journal import Journal
from daemon.storage.outbox import OutboxMessage, OutboxRow


def message(name: str, priority: int = 2, created_at_ms: int = 1000) -> OutboxMessage:
    return OutboxMessage(name, "kim/0", priority, created_at_ms, '{"headline": "Too hot"}')


def put(journal: Journal, *msgs: OutboxMessage) -> None:
    journal.write(lambda conn: outbox.enqueue(conn, msgs))


def due_ids(journal: Journal, now_ms: int) -> list[str]:
    with journal.read() as conn:
        return [row.message_id for row in outbox.due(conn, now_ms)]


def test_a_new_message_is_due_at_once_even_where_the_clock_was_set_back_since(journal: Journal) -> None:
    put(journal, message("a", created_at_ms=9000))
    with journal.read() as conn:
        assert outbox.due(conn, 10) == [OutboxRow("a", "kim/0", 2, '{"headline": "Too hot"}', 0, 9000)]


def test_urgent_before_old_and_old_before_new(journal: Journal) -> None:
    put(journal, message("late", 2, 3000), message("early", 2, 1000), message("urgent", 1, 5000))
    assert due_ids(journal, 9000) == ["urgent", "early", "late"]


def test_the_same_message_put_in_twice_is_one_and_a_delivered_one_stays_delivered(journal: Journal) -> None:
    put(journal, message("a"), message("a"))
    journal.write(lambda conn: outbox.record_attempt(conn, "a", "delivered", 2000, None, ""))
    put(journal, message("a"))
    assert due_ids(journal, 9000) == []
    with journal.read() as conn:
        assert outbox.totals(conn) == {"waiting": 0, "delivered": 1, "abandoned": 0, "superseded": 0}


def test_after_a_failed_attempt_it_waits_for_its_time_and_counts_attempts(path: Path) -> None:
    with Journal.open(path) as journal:
        put(journal, message("a"))
        journal.write(lambda conn: outbox.record_attempt(conn, "a", "waiting", 2000, 7000, "no route"))
    with Journal.open(path) as journal:
        assert due_ids(journal, 6999) == []
        with journal.read() as conn:
            assert [row.attempts for row in outbox.due(conn, 7000)] == [1]


def test_a_clock_set_back_delays_no_message(journal: Journal) -> None:
    put(journal, message("a"))
    journal.write(lambda conn: outbox.record_attempt(conn, "a", "waiting", 1_000_000, 1_060_000, "no route"))
    assert due_ids(journal, 1_030_000) == []
    assert due_ids(journal, 5000) == ["a"]


def test_delivered_and_abandoned_are_final(journal: Journal) -> None:
    put(journal, message("a"), message("b"))
    journal.write(lambda conn: outbox.record_attempt(conn, "a", "delivered", 2000, None, ""))
    journal.write(lambda conn: outbox.record_attempt(conn, "b", "abandoned", 2000, None, "contact removed"))
    for name in ("a", "b", "never-heard-of"):
        with pytest.raises(LookupError, match=name):
            journal.write(
                lambda conn, name=name: outbox.record_attempt(conn, name, "waiting", 3000, 4000, "")  # type: ignore[misc]
            )
    with journal.read() as conn:
        assert outbox.totals(conn) == {"waiting": 0, "delivered": 1, "abandoned": 1, "superseded": 0}
