"""Links to acknowledge with: what is stored, for how long, and that the token is not among it."""

import hashlib
from base64 import urlsafe_b64decode

import pytest

from daemon.alarm_desk_values import Seen
from daemon.storage import alarm_links, outbox
from daemon.storage.journal import Journal
from daemon.storage.outbox import OutboxMessage

NOW_MS = 1_780_000_000_000
WEEK_MS = 7 * 86_400_000
SEEN = (Seen("temperature-high:north-air/air", "o1", 2), Seen("no-data:south-air/air", "o7", 1))


def everything(journal: Journal) -> str:
    """All rows of all tables as one text."""
    with journal.read() as conn:
        tables = [name for (name,) in conn.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        return "\n".join(repr(row) for name in tables for row in conn.execute(f"SELECT * FROM {name}").fetchall())


def test_a_link_is_found_by_its_token_and_only_the_hash_is_kept(journal: Journal) -> None:
    token, row = alarm_links.new_link("ana", SEEN, NOW_MS)
    journal.write(lambda conn: alarm_links.store(conn, [row]))
    with journal.read() as conn:
        found = alarm_links.find(conn, token, NOW_MS + 1)
    assert found is not None
    assert (found.person, found.alarms) == ("ana", SEEN)
    kept = everything(journal)
    assert token not in kept
    assert hashlib.sha256(token.encode()).hexdigest() in kept


def test_a_token_has_at_least_128_bits_and_none_comes_twice() -> None:
    tokens = {alarm_links.new_link("ana", SEEN, NOW_MS)[0] for _ in range(500)}
    assert len(tokens) == 500
    assert all(8 * len(urlsafe_b64decode(f"{token}==")) >= 128 for token in tokens)


@pytest.mark.parametrize(("age_ms", "good"), [(0, True), (WEEK_MS - 1, True), (WEEK_MS, False), (9 * WEEK_MS, False)])
def test_a_link_is_good_for_a_week(journal: Journal, age_ms: int, good: bool) -> None:
    token, row = alarm_links.new_link("ana", SEEN, NOW_MS)
    journal.write(lambda conn: alarm_links.store(conn, [row]))
    with journal.read() as conn:
        assert (alarm_links.find(conn, token, NOW_MS + age_ms) is not None) is good


@pytest.mark.parametrize("token", ["", "x", "../etc", "\udcff", "é" * 5000, "%00", "' OR 1=1 --"])
def test_what_is_no_token_finds_nothing(journal: Journal, token: str) -> None:
    _, row = alarm_links.new_link("ana", SEEN, NOW_MS)
    journal.write(lambda conn: alarm_links.store(conn, [row]))
    with journal.read() as conn:
        assert alarm_links.find(conn, token, NOW_MS) is None
        assert alarm_links.find(conn, row.token_hash, NOW_MS) is None


def test_links_whose_time_is_over_are_forgotten_when_new_ones_come(journal: Journal) -> None:
    _, old = alarm_links.new_link("ana", SEEN, NOW_MS - WEEK_MS)
    _, new = alarm_links.new_link("ana", SEEN, NOW_MS)
    journal.write(lambda conn: alarm_links.store(conn, [old]))
    journal.write(lambda conn: alarm_links.store(conn, []))
    journal.write(lambda conn: alarm_links.store(conn, [new]))
    with journal.read() as conn:
        assert conn.execute("SELECT token_hash FROM alarm_link").fetchall() == [(new.token_hash,)]


@pytest.mark.parametrize("end", ["delivered", "abandoned", "superseded"])
def test_a_token_leaves_the_outbox_with_the_message(journal: Journal, end: str) -> None:
    link = "https://eggs.example.org/a/TOKEN-4711"
    body = f'{{"headline": "URGENT", "body": "Look.\\n{link}", "acknowledge_url": "{link}"}}'
    rows = [OutboxMessage(name, "ana/1", 1, NOW_MS, text, "i") for name, text in (("m", body), ("x", "not JSON"))]
    journal.write(lambda conn: outbox.enqueue(conn, rows))
    journal.write(lambda conn: outbox.record_attempt(conn, "m", "waiting", NOW_MS, NOW_MS + 5, "no answer"))
    assert "TOKEN-4711" in everything(journal)
    if end == "superseded":
        journal.write(lambda conn: outbox.supersede(conn, ["i"]))
    else:
        journal.write(lambda conn: outbox.record_attempt(conn, "m", end, NOW_MS, None, ""))  # type: ignore[arg-type]
    assert "TOKEN-4711" not in everything(journal)
    assert "URGENT" in everything(journal)
    assert "not JSON" in everything(journal)
