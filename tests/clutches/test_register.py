"""The register takes what can be true, refuses the rest in plain words, and keeps every change."""

import itertools
import json
import sqlite3
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from daemon.clutches import register
from daemon.clutches.register import Clutch, NewClutch, Placement, RegisterError
from daemon.storage.journal import Journal

DAY_MS = 86_400_000
LAID = 1_777_593_600_000
"""2026-05-01 00:00 UTC"""
SET_UP = LAID + 2 * DAY_MS
NOW = LAID + 30 * DAY_MS
N1, N2, SHELF = "north/upper/N1", "north/upper/N2", "north/upper"
NEW = NewClutch("ET-26-1", "elaphe-taeniura", "Taiwan", LAID, LAID + DAY_MS, 9, "first of the year", N1, SET_UP)


def add(conn: sqlite3.Connection, new: NewClutch = NEW) -> int:
    return register.add_clutch(conn, new, "kim", NOW)


def move(conn: sqlite3.Connection, clutch_id: int, place: str, from_ms: int, why: str = "") -> None:
    register.move_clutch(conn, clutch_id, place, from_ms, "kim", why, NOW)


def close(conn: sqlite3.Connection, clutch_id: int, at_ms: int = NOW) -> None:
    register.close_clutch(conn, clutch_id, at_ms, "kim", "hatched", NOW)


def everything(conn: sqlite3.Connection) -> list[str]:
    return list(conn.iterdump())


def refused(conn: sqlite3.Connection, work: Callable[[], object]) -> str:
    """Do work that must be refused and must change nothing; gives what the keeper reads."""
    before = everything(conn)
    with pytest.raises(RegisterError) as caught:
        work()
    assert everything(conn) == before
    assert caught.value.reason
    assert caught.value.hint
    return str(caught.value)


def test_a_clutch_comes_back_as_it_was_entered(conn: sqlite3.Connection) -> None:
    number = add(conn)
    assert register.clutches(conn) == [
        Clutch(
            number,
            "ET-26-1",
            "elaphe-taeniura",
            "Taiwan",
            LAID,
            LAID + DAY_MS,
            9,
            "first of the year",
            None,
            (Placement(N1, SET_UP),),
        )
    ]


def test_a_label_finds_its_clutch_whatever_its_capitals(conn: sqlite3.Connection) -> None:
    number = add(conn)
    assert register.open_clutch(conn, " et-26-1 ").clutch_id == number


def test_an_unknown_label_names_the_nearest(conn: sqlite3.Connection) -> None:
    add(conn)
    add(conn, replace(NEW, label="PG-26-7", place=N2))
    assert "ET-26-1" in refused(conn, lambda: register.open_clutch(conn, "ET-26-l"))


def test_an_unknown_label_in_an_empty_register_says_that_it_is_empty(conn: sqlite3.Connection) -> None:
    assert "No clutch is open" in refused(conn, lambda: register.open_clutch(conn, "ET-26-1"))


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"label": "  "}, "label is empty"),
        ({"label": "x" * 61}, "label is too long, 61 letters"),
        ({"label": "a\nb"}, "a sign in it that nobody sees"),
        ({"egg_count": 0}, "0 eggs"),
        ({"egg_count": -3}, "-3 eggs"),
        ({"laid_from_ms": LAID + 2 * DAY_MS}, "ends before it begins"),
        ({"laid_from_ms": NOW + 1, "laid_to_ms": NOW + 1}, "laid at 2026-05-31 00:00 UTC is in the future"),
        ({"laid_to_ms": NOW + 1}, "in the future"),
        ({"laid_from_ms": NOW + DAY_MS, "laid_to_ms": NOW}, "in the future"),
        ({"from_ms": NOW + 1}, "setting up at 2026-05-31 00:00 UTC is in the future"),
        ({"from_ms": LAID - 1}, "before it can have been laid"),
    ],
)
def test_what_cannot_be_true_of_a_new_clutch_is_refused(
    conn: sqlite3.Connection, wrong: dict[str, int | str], words: str
) -> None:
    assert words in refused(conn, lambda: add(conn, replace(NEW, **wrong)))  # type: ignore[arg-type]


def test_the_edges_of_what_can_be_true_are_taken(conn: sqlite3.Connection) -> None:
    at_once = replace(NEW, label="x" * 60, egg_count=1, laid_from_ms=NOW, laid_to_ms=NOW, from_ms=NOW)
    assert add(conn, at_once)


def test_a_label_in_use_is_taken_and_free_again_once_its_clutch_is_closed(conn: sqlite3.Connection) -> None:
    first = add(conn)
    again = replace(NEW, label="et-26-1", place=N2)
    message = refused(conn, lambda: add(conn, again))
    assert "taken" in message
    assert N1 in message
    close(conn, first)
    assert add(conn, again) != first


def test_a_change_that_nobody_stands_for_is_refused(conn: sqlite3.Connection) -> None:
    assert "nobody is named" in refused(conn, lambda: register.add_clutch(conn, NEW, " ", NOW))
    number = add(conn)
    assert "nobody is named" in refused(conn, lambda: register.move_clutch(conn, number, N2, NOW, "", "", NOW))
    assert "nobody is named" in refused(conn, lambda: register.close_clutch(conn, number, NOW, "", "", NOW))


def test_moves_are_kept_in_order_of_time_also_when_said_late(conn: sqlite3.Connection) -> None:
    number = add(conn)
    move(conn, number, SHELF, SET_UP + 20)
    move(conn, number, N2, SET_UP + 10)
    assert register.clutches(conn)[0].placements == (
        Placement(N1, SET_UP),
        Placement(N2, SET_UP + 10),
        Placement(SHELF, SET_UP + 20),
    )


def test_a_correction_adds_a_statement_and_the_first_one_stays_on_record(conn: sqlite3.Connection) -> None:
    number = add(conn)
    move(conn, number, N2, SET_UP + 10)
    move(conn, number, SHELF, SET_UP + 10, "typed the wrong box")
    assert register.clutches(conn)[0].placements[-1] == Placement(SHELF, SET_UP + 10)
    rows = conn.execute("SELECT place, from_ms FROM placement ORDER BY placement_id").fetchall()
    assert rows == [(N1, SET_UP), (N2, SET_UP + 10), (SHELF, SET_UP + 10)]


@pytest.mark.parametrize(
    ("place", "from_ms", "words"),
    [
        (N2, SET_UP - 1, "was set up at 2026-05-03 00:00 UTC"),
        (N2, NOW + 1, "the move at 2026-05-31 00:00 UTC is in the future"),
        (N1, NOW, "lies in north/upper/N1 already, since 2026-05-03 00:00 UTC"),
    ],
)
def test_a_move_that_cannot_be_true_is_refused(conn: sqlite3.Connection, place: str, from_ms: int, words: str) -> None:
    number = add(conn)
    assert words in refused(conn, lambda: move(conn, number, place, from_ms))


def test_an_unknown_number_names_the_open_clutches(conn: sqlite3.Connection) -> None:
    add(conn)
    message = refused(conn, lambda: move(conn, 99, N2, NOW))
    assert "99" in message
    assert "ET-26-1" in message
    assert "99" in refused(conn, lambda: close(conn, 99))


def test_an_occupied_box_is_refused_and_the_clutch_inside_is_named(conn: sqlite3.Connection) -> None:
    add(conn)
    other = replace(NEW, label="PG-26-7")
    assert "ET-26-1" in refused(conn, lambda: add(conn, other))
    second = add(conn, replace(other, place=N2))
    assert "ET-26-1" in refused(conn, lambda: move(conn, second, N1, NOW))


def test_a_shelf_may_hold_several(conn: sqlite3.Connection) -> None:
    add(conn, replace(NEW, place=SHELF))
    second = add(conn, replace(NEW, label="PG-26-7", place=N2))
    move(conn, second, SHELF, NOW)
    assert [clutch.placements[-1].place for clutch in register.clutches(conn)] == [SHELF, SHELF]


def test_a_box_is_free_from_the_moment_its_clutch_left_and_not_before(conn: sqlite3.Connection) -> None:
    first = add(conn)
    move(conn, first, SHELF, SET_UP + 100)
    other = replace(NEW, label="PG-26-7")
    message = refused(conn, lambda: add(conn, replace(other, from_ms=SET_UP + 99)))
    assert "holds ET-26-1 until" in message
    assert add(conn, replace(other, from_ms=SET_UP + 100))


def test_a_box_is_free_from_the_moment_its_clutch_was_closed(conn: sqlite3.Connection) -> None:
    close(conn, add(conn), SET_UP + 100)
    other = replace(NEW, label="PG-26-7")
    assert "holds ET-26-1 until" in refused(conn, lambda: add(conn, replace(other, from_ms=SET_UP + 99)))
    assert add(conn, replace(other, from_ms=SET_UP + 100))


def test_a_stay_said_late_may_fill_the_time_before_another_clutch_came(conn: sqlite3.Connection) -> None:
    add(conn, replace(NEW, from_ms=SET_UP + 100))
    second = add(conn, replace(NEW, label="PG-26-7", place=N2))
    move(conn, second, SHELF, SET_UP + 100)
    move(conn, second, N1, SET_UP + 50)
    assert register.open_clutch(conn, "PG-26-7").placements[1] == Placement(N1, SET_UP + 50)


def test_two_clutches_change_boxes_by_way_of_a_shelf(conn: sqlite3.Connection) -> None:
    first, second = add(conn), add(conn, replace(NEW, label="PG-26-7", place=N2))
    assert "swap" in refused(conn, lambda: move(conn, first, N2, NOW))
    move(conn, first, SHELF, NOW - 2)
    move(conn, second, N1, NOW - 1)
    move(conn, first, N2, NOW)
    assert [clutch.placements[-1].place for clutch in register.clutches(conn)] == [N2, N1]


def test_a_closed_clutch_is_listed_only_when_asked_for_and_changes_no_more(conn: sqlite3.Connection) -> None:
    number = add(conn)
    close(conn, number, SET_UP + 5)
    assert register.clutches(conn) == []
    assert [clutch.closed_at_ms for clutch in register.clutches(conn, include_closed=True)] == [SET_UP + 5]
    assert "closed already" in refused(conn, lambda: close(conn, number))
    assert "closed already" in refused(conn, lambda: move(conn, number, N2, NOW))


def test_closing_cannot_come_before_the_setting_up_or_the_last_move_or_in_the_future(conn: sqlite3.Connection) -> None:
    number = add(conn)
    assert "it was set up at" in refused(conn, lambda: close(conn, number, SET_UP - 1))
    assert "in the future" in refused(conn, lambda: close(conn, number, NOW + 1))
    move(conn, number, N2, SET_UP + 100)
    assert "moved to north/upper/N2" in refused(conn, lambda: close(conn, number, SET_UP + 99))
    close(conn, number, SET_UP + 100)


def test_every_change_says_who_when_what_why_and_what_was_before(conn: sqlite3.Connection) -> None:
    number = add(conn)
    register.move_clutch(conn, number, N2, SET_UP + 10, "ida", "mould in N1", NOW + 1)
    register.close_clutch(conn, number, NOW, "kim", "hatched", NOW + 2)
    rows = conn.execute("SELECT at_ms, who, what, why, old, new FROM register_change ORDER BY change_id").fetchall()
    assert [row[:4] for row in rows] == [
        (NOW, "kim", "add", ""),
        (NOW + 1, "ida", "move", "mould in N1"),
        (NOW + 2, "kim", "close", "hatched"),
    ]
    assert json.loads(rows[0][5])["egg_count"] == 9
    assert [json.loads(row[4]) for row in rows] == [{}, {"place": N1, "from_ms": SET_UP}, {"closed_at_ms": None}]
    assert [json.loads(row[5]) for row in rows[1:]] == [{"place": N2, "from_ms": SET_UP + 10}, {"closed_at_ms": NOW}]


def test_every_change_raises_the_version_and_a_refused_one_does_not(conn: sqlite3.Connection) -> None:
    seen = [register.version(conn)]
    number = add(conn)
    seen.append(register.version(conn))
    move(conn, number, N2, SET_UP + 10)
    seen.append(register.version(conn))
    refused(conn, lambda: move(conn, number, N2, SET_UP + 20))
    assert register.version(conn) == seen[-1]
    close(conn, number)
    seen.append(register.version(conn))
    assert all(later > earlier for earlier, later in itertools.pairwise(seen))


def test_a_change_made_through_another_opening_of_the_journal_is_seen(tmp_path: Path) -> None:
    path = tmp_path / "journal.sqlite3"
    with Journal.open(path) as daemon, Journal.open(path) as command_line:
        with daemon.read() as conn:
            before = register.version(conn)
        command_line.write(add)
        with daemon.read() as conn:
            assert register.version(conn) > before
            assert [clutch.label for clutch in register.clutches(conn)] == ["ET-26-1"]


def test_text_that_utf_8_cannot_hold_stops_no_change(conn: sqlite3.Connection) -> None:
    add(conn, replace(NEW, note="\udcff"))
    assert register.clutches(conn)[0].note == "?"
