"""A clutch is closed with what became of every egg; who closed the wrong one opens it again."""

import sqlite3
from dataclasses import replace

import pytest

from daemon.clutches import corrections, register
from daemon.clutches.closing import Closing, close
from daemon.clutches.egg_rules import stated_as
from daemon.clutches.eggs import EggCounts
from daemon.clutches.rows import by_number
from tests.clutches.house import N1, N2, NEW, NOW, counts, day, enter, now, refused, say


def end(conn: sqlite3.Connection, clutch: int, how: Closing) -> EggCounts:
    return close(conn, clutch, how, "kim", NOW)


def test_eggs_that_nobody_accounted_for_are_named_and_asked_for(conn: sqlite3.Connection) -> None:
    clutch = enter(conn, egg_count=4)
    say(conn, clutch, "hatched", ["1", "2"], day(55))
    told = refused(conn, lambda: end(conn, clutch, Closing(NOW)))
    assert "what became of 2 of the 4 eggs of Juniper: 3, 4" in told
    assert "--rest" in told
    found = end(conn, clutch, Closing(NOW, rest=stated_as("removed:infertile"), why="over"))
    assert found == EggCounts(4, sound=0, hatched=2, lost=2)
    assert register.clutches(conn) == []


def test_stated_numbers_are_those_of_the_whole_clutch(conn: sqlite3.Connection) -> None:
    """By hand: 9 eggs, 1 hatched and 1 lost on record; 6 hatched, 2 lost and 1 given away in all."""
    clutch = enter(conn)
    say(conn, clutch, "hatched", ["1"], day(55))
    say(conn, clutch, "removed:mould", ["2"], day(20))
    found = end(conn, clutch, Closing(NOW, hatched=6, lost=2, given_away=1))
    assert found == EggCounts(9, sound=0, hatched=6, lost=2, given_away=1)


@pytest.mark.parametrize(
    ("how", "words"),
    [
        (Closing(NOW, hatched=9), "9 hatched, 0 given away, 1 lost are 10 eggs, and Juniper has 9"),
        (Closing(NOW, hatched=8, lost=0), "0 eggs of Juniper are said to be lost, and 1 are on record as lost"),
        (Closing(NOW, hatched=7), "what became of 1 of the 9 eggs"),
        (Closing(day(19), hatched=8), "egg 2 was removed: mould at 2026-05-21 00:00 UTC"),
        (Closing(NOW + 1, hatched=8), "in the future"),
    ],
)
def test_numbers_that_do_not_fit_the_eggs_are_refused(conn: sqlite3.Connection, how: Closing, words: str) -> None:
    clutch = enter(conn)
    say(conn, clutch, "removed:mould", ["2"], day(20))
    assert words in refused(conn, lambda: end(conn, clutch, how))


def test_opening_again_takes_back_what_closing_said_of_the_eggs_and_nothing_else(conn: sqlite3.Connection) -> None:
    clutch = enter(conn, egg_count=3)
    say(conn, clutch, "removed:stuck", ["1"], day(20))
    before = now(conn, clutch)
    end(conn, clutch, Closing(NOW, rest=stated_as("hatched")))
    assert counts(conn, clutch).hatched == 2
    again = corrections.reopen_clutch(conn, clutch, "ida", "it was the other box", NOW)
    assert again.is_open
    assert now(conn, clutch) == before
    assert "is open" in refused(conn, lambda: corrections.reopen_clutch(conn, clutch, "ida", "x", NOW))
    assert [row[0] for row in conn.execute("SELECT what FROM register_change ORDER BY change_id")][-2:] == [
        "close",
        "reopen",
    ]


def test_a_clutch_is_not_opened_again_where_its_box_or_its_label_is_taken(conn: sqlite3.Connection) -> None:
    clutch = enter(conn)
    register.close_clutch(conn, clutch, day(30), "kim", "", NOW)
    other = register.add_clutch(conn, replace(NEW, label="Bracken", from_ms=day(40)), "kim", NOW)
    reopen = lambda: corrections.reopen_clutch(conn, clutch, "kim", "mistake", NOW)  # noqa: E731
    assert "the box north/upper/N1 holds Bracken" in refused(conn, reopen)
    corrections.edit_clutch(conn, other, {"label": "Juniper"}, "kim", "", NOW)
    register.move_clutch(conn, other, N2, day(40), "kim", "", NOW)
    assert "the label 'Juniper' is taken" in refused(conn, reopen)
    assert "nothing says why" in refused(conn, lambda: corrections.reopen_clutch(conn, clutch, "kim", " ", NOW))


def test_what_was_seen_before_the_closing_may_be_written_down_after_it(conn: sqlite3.Connection) -> None:
    clutch = enter(conn, egg_count=2)
    register.close_clutch(conn, clutch, day(40), "kim", "", NOW)
    say(conn, clutch, "hatched", ["1"], day(39))
    assert "is closed already" in refused(conn, lambda: say(conn, clutch, "hatched", ["2"], day(41)))
    found = by_number(conn, clutch)
    assert found is not None
    assert found.placements[0].place == N1
