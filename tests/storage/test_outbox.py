"""A message waits until it is delivered or given up, whatever the clock does."""

from dataclasses import replace
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


def test_a_message_that_is_held_back_waits_for_its_moment_and_is_not_told_of_as_undelivered(journal: Journal) -> None:
    put(journal, replace(message("a"), not_before_ms=5_000))
    assert due_ids(journal, 4_999) == []
    with journal.read() as conn:
        assert outbox.next_attempts_ms(conn, 4_999) == {"kim/0": 5_000}
        assert outbox.undelivered(conn, 0) == []
    assert due_ids(journal, 5_000) == ["a"]


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


def told(journal: Journal, since_ms: int) -> list[tuple[str, int, str]]:
    with journal.read() as conn:
        return [(one.contact, one.messages, one.error) for one in outbox.undelivered(conn, since_ms)]


def record(journal: Journal, name: str, state: outbox.State, at_ms: int, next_ms: int | None, error: str) -> None:
    journal.write(lambda conn: outbox.record_attempt(conn, name, state, at_ms, next_ms, error))


def test_a_message_that_will_soon_be_tried_again_is_told_of_after_its_second_attempt_however_old(
    journal: Journal,
) -> None:
    put(journal, message("a"))
    assert told(journal, 0) == []
    record(journal, "a", "waiting", 2_000, 7_000, "busy")
    assert told(journal, 0) == []
    record(journal, "a", "waiting", 7_000, 22_000, "still busy")
    assert told(journal, 0) == told(journal, 10**12) == [("kim/0", 1, "still busy")]
    record(journal, "a", "delivered", 22_000, None, "")
    assert told(journal, 0) == []


def test_a_message_that_has_long_to_wait_is_told_of_after_its_first_attempt(journal: Journal) -> None:
    put(journal, message("a"))
    record(journal, "a", "waiting", 2_000, 2_000 + 600_000, "refused")
    assert told(journal, 0) == [("kim/0", 1, "refused")]


def test_a_message_that_was_given_up_is_told_of_from_then_on_and_not_from_when_it_was_made(journal: Journal) -> None:
    """One that is given up after a day of attempts was made a day ago."""
    put(journal, message("a", created_at_ms=1000))
    record(journal, "a", "abandoned", 90_000_000, None, "given up after 9 attempts")
    assert told(journal, 90_000_000) == [("kim/0", 1, "given up after 9 attempts")]
    assert told(journal, 90_000_001) == []
