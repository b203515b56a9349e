"""Test messages in the journal: links by their hash alone, one confirmation each, and which are not confirmed."""

import sqlite3

import pytest

from daemon.storage import trials
from daemon.storage.alarm_links import new_link, store
from daemon.storage.journal import Journal, JournalError
from daemon.storage.trials import Trial

WEEK_MS = 7 * 86_400_000
NOW_MS = 1_780_000_000_000


def trial(number: int, contact: str = "ana/0") -> Trial:
    return Trial(f"m-{contact}-{number}", contact, "ana", f"week {number}", NOW_MS + number * WEEK_MS)


def put(journal: Journal, *numbers: int, contact: str = "ana/0") -> None:
    for each in [trial(number, contact) for number in numbers]:
        assert journal.write(lambda conn, one=each: trials.add(conn, one, ""))  # type: ignore[misc]


def confirm(journal: Journal, number: int, contact: str = "ana/0") -> bool:
    return journal.write(lambda conn: trials.confirm(conn, trial(number, contact).message_id, NOW_MS, "ana", "link"))


def unconfirmed(journal: Journal, contact: str = "ana/0") -> list[int]:
    with journal.read() as conn:
        found = trials.unconfirmed(conn, contact, NOW_MS, NOW_MS + 50 * WEEK_MS)
    return [(sent - NOW_MS) // WEEK_MS for sent in found]


def test_one_is_found_by_its_token_for_a_week_and_only_the_hash_is_kept(journal: Journal) -> None:
    token = trials.new_token()
    assert journal.write(lambda conn: trials.add(conn, trial(0), token))
    with journal.read() as conn:
        assert trials.find(conn, token, NOW_MS + WEEK_MS - 1) == trial(0)
        assert trials.find(conn, token, NOW_MS + WEEK_MS) is None
        assert token not in repr(conn.execute("SELECT * FROM trial").fetchall())


@pytest.mark.parametrize("token", ["", "x", "\udcff", "é" * 5000, "' OR 1=1 --"])
def test_what_is_no_token_finds_nothing(journal: Journal, token: str) -> None:
    put(journal, 0)
    with journal.read() as conn:
        assert trials.find(conn, token, NOW_MS) is None


def test_a_link_of_an_alarm_confirms_no_test(journal: Journal) -> None:
    put(journal, 0)
    token, row = new_link("ana", [], NOW_MS)
    journal.write(lambda conn: store(conn, [row]))
    with journal.read() as conn:
        assert trials.find(conn, token, NOW_MS) is None


def test_the_same_message_is_kept_once_and_the_first_confirmation_counts(journal: Journal) -> None:
    put(journal, 0)
    assert not journal.write(lambda conn: trials.add(conn, trial(0), "another"))
    assert confirm(journal, 0)
    assert not journal.write(lambda conn: trials.confirm(conn, trial(0).message_id, NOW_MS + 5, "ben", "command"))
    with journal.read() as conn:
        assert trials.newest(conn, "ana/0") == trial(0)._replace(confirmed_at_ms=NOW_MS)
        assert trials.newest(conn, "ben/0") is None


def test_a_confirmation_ends_it_for_that_test_and_all_before(journal: Journal) -> None:
    put(journal, 0, 1, 2, 3)
    put(journal, 0, 1, contact="ben/0")
    assert unconfirmed(journal) == [0, 1, 2, 3]
    confirm(journal, 1)
    assert unconfirmed(journal) == [2, 3]
    confirm(journal, 0)
    assert unconfirmed(journal) == [2, 3]
    confirm(journal, 3)
    assert unconfirmed(journal) == []
    assert unconfirmed(journal, "ben/0") == [0, 1]


@pytest.mark.parametrize("statement", ["DELETE FROM trial", "UPDATE trial_confirmed SET at_ms = 0"])
def test_what_was_sent_and_confirmed_is_never_changed(journal: Journal, statement: str) -> None:
    put(journal, 0)
    confirm(journal, 0)
    with pytest.raises((sqlite3.IntegrityError, JournalError), match="never changed or removed"):
        journal.write(lambda conn: conn.execute(statement))
