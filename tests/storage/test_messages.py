"""Every outcome is counted; messages that could not be used are kept, but not without end."""

from daemon.storage import messages
from daemon.storage.journal import Journal
from daemon.storage.messages import KeptMessage
from sensors.reading import Outcome


def kept(
    n: int = 0, payload: bytes = b"{", topic: str = "clutchwarden/x/senml", reason: str = "not JSON"
) -> KeptMessage:
    return KeptMessage(topic, payload, n % 2 == 1, n, Outcome.MALFORMED, reason)


def test_counts_add_up_over_batches(journal: Journal) -> None:
    journal.write(lambda conn: messages.record(conn, {Outcome.STORED: 3, Outcome.DUPLICATE: 1}, []))
    journal.write(lambda conn: messages.record(conn, {Outcome.STORED: 2, Outcome.CONFLICT: 0}, []))
    with journal.read() as conn:
        assert messages.outcome_counts(conn) == {Outcome.STORED: 5, Outcome.DUPLICATE: 1}


def test_kept_messages_come_back_newest_first(journal: Journal) -> None:
    journal.write(lambda conn: messages.record(conn, {}, [kept(1), kept(2), kept(3)]))
    with journal.read() as conn:
        assert messages.newest_kept(conn, 2) == [kept(3), kept(2)]


def test_of_a_large_payload_the_first_4096_bytes_are_kept(journal: Journal) -> None:
    journal.write(lambda conn: messages.record(conn, {}, [kept(payload=b"a" * 4095 + b"bc")]))
    with journal.read() as conn:
        assert messages.newest_kept(conn, 1)[0].payload == b"a" * 4095 + b"b"


def test_the_newest_ten_thousand_are_kept(journal: Journal) -> None:
    journal.write(lambda conn: messages.record(conn, {}, [kept(n) for n in range(10_004)]))
    journal.write(lambda conn: messages.record(conn, {}, [kept(10_004)]))
    with journal.read() as conn:
        found = messages.newest_kept(conn, 20_000)
    assert [message.received_at_ms for message in found] == list(range(10_004, 4, -1))


def test_half_a_surrogate_pair_from_a_json_text_stops_nothing(journal: Journal) -> None:
    strange = kept(topic="clutchwarden/\udcff/senml", reason="there is no channel '\ud800'")
    journal.write(lambda conn: messages.record(conn, {Outcome.MALFORMED: 1}, [strange, kept(2)]))
    with journal.read() as conn:
        assert [message.reason for message in messages.newest_kept(conn, 5)] == ["not JSON", "there is no channel '?'"]
