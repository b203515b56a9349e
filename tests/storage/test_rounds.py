"""Rounds in the journal: started, ended once, and never changed or removed."""

import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest

from config.errors import StatedError
from daemon.alarms.classes import DAY_MS, MINUTE_MS
from daemon.storage import rounds
from daemon.storage.journal import Journal
from tests.support.journals import new_journal

START_MS = 1_780_000_000_000
HALF_HOUR_MS = 30 * MINUTE_MS


@pytest.fixture
def journal(tmp_path: Path) -> Iterator[Journal]:
    with new_journal(tmp_path / "journal.sqlite3") as opened:
        yield opened


def start(journal: Journal, incubator: str, at_ms: int, who: str = "ana") -> rounds.RoundOnRecord:
    return journal.write(lambda conn: rounds.start(conn, incubator, who, at_ms, HALF_HOUR_MS))


def end(journal: Journal, incubator: str, at_ms: int, note: str = "") -> rounds.RoundOnRecord:
    return journal.write(lambda conn: rounds.end(conn, incubator, "ben", note, at_ms))


def test_a_round_is_kept_with_who_when_and_what_was_noted(journal: Journal) -> None:
    begun = start(journal, "north", START_MS)
    assert (begun.number, begun.round.id, begun.round.hard_end_ms) == (1, "no. 1", START_MS + HALF_HOUR_MS)
    end(journal, "north", START_MS + 12 * MINUTE_MS, " one egg dented ")
    with journal.read() as conn:
        [found] = rounds.newest(conn, 10)
        assert rounds.going_on(conn, "north") is None
    assert (found.round.who, found.ended_by, found.note) == ("ana", "ben", "one egg dented")
    assert found.round.ended_ms == START_MS + 12 * MINUTE_MS


def test_two_incubators_have_rounds_of_their_own(journal: Journal) -> None:
    start(journal, "north", START_MS)
    start(journal, "south", START_MS)
    end(journal, "south", START_MS + MINUTE_MS)
    with journal.read() as conn:
        assert [each.incubator for each in rounds.not_settled(conn, START_MS + DAY_MS)] == ["north"]


def test_a_round_is_ended_even_where_the_clock_was_set_back_meanwhile(journal: Journal) -> None:
    start(journal, "north", START_MS)
    assert end(journal, "north", START_MS - DAY_MS).round.ended_ms == START_MS


@pytest.mark.parametrize("stated_ms", [0, HALF_HOUR_MS + 1])
def test_a_length_that_is_not_possible_leaves_no_round(journal: Journal, stated_ms: int) -> None:
    with pytest.raises(StatedError, match="is not possible"):
        journal.write(lambda conn: rounds.start(conn, "north", "ana", START_MS, stated_ms))
    with journal.read() as conn:
        assert rounds.newest(conn, 10) == []


def test_somebody_has_to_start_it(journal: Journal) -> None:
    with pytest.raises(StatedError, match="nobody is named"):
        start(journal, "north", START_MS, who=" ")


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE round SET who = 'cat'",
        "UPDATE round SET started_ms = started_ms - 1",
        "UPDATE round SET stated_ms = 86400000, ended_ms = started_ms",
        "UPDATE round SET ended_ms = ended_ms + 1",
        "UPDATE round SET ended_ms = NULL",
        "UPDATE round SET note = 'nothing found'",
        "DELETE FROM round",
        "INSERT INTO round (incubator, who, started_ms, stated_ms, settle_ms) VALUES ('south', 'cat', 1, 1, 0)",
    ],
)
def test_the_journal_itself_refuses_to_change_what_was(journal: Journal, statement: str) -> None:
    """One round that was ended, and one in the south that goes on, where no second may."""
    start(journal, "north", START_MS)
    end(journal, "north", START_MS + MINUTE_MS)
    start(journal, "south", START_MS)
    with pytest.raises(sqlite3.IntegrityError):
        journal.write(lambda conn: conn.execute(statement).rowcount)
