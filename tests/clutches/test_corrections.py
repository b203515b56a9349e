"""What was entered wrongly is mended, and the old value stays on record."""

import json
import sqlite3
from dataclasses import replace
from typing import Any

import pytest

from daemon.clutches import corrections, egg_changes, register
from daemon.clutches.file import read_file
from daemon.clutches.placements import Placement
from daemon.clutches.rows import by_number
from daemon.clutches.values import Clutch
from tests.clutches.house import LAID, N1, N2, N3, NEW, NOW, SET_UP, SHELF, day, enter, refused, say


def edit(conn: sqlite3.Connection, clutch: int, **changes: Any) -> dict[str, tuple[Any, Any]]:
    return corrections.edit_clutch(conn, clutch, changes, "ida", "typing error", NOW)


def test_all_that_is_known_of_a_clutch_comes_back_as_it_was_entered(conn: sqlite3.Connection) -> None:
    new = replace(
        NEW,
        dam=" Wilma ",
        sire="Fred",
        found_ms=day(1.5),
        tags=(" season 26", "gift", "gift", ""),
        venomous=True,
        protected="Annex B",
    )
    found = by_number(conn, register.add_clutch(conn, new, "kim", NOW))
    assert found is not None
    assert (found.dam, found.sire, found.found_ms, found.tags) == ("Wilma", "Fred", day(1.5), ("season 26", "gift"))
    assert (found.venomous, found.protected) == (True, "Annex B")


def test_an_edit_says_what_changed_and_the_old_value_stays_on_record(conn: sqlite3.Connection) -> None:
    clutch = enter(conn)
    assert edit(conn, clutch, egg_count=11, dam="Wilma", sire="") == {"egg_count": (9, 11), "dam": ("", "Wilma")}
    what, who, why, old, new = conn.execute(
        "SELECT what, who, why, old, new FROM register_change ORDER BY change_id DESC"
    ).fetchone()
    assert (what, who, why) == ("edit", "ida", "typing error")
    assert json.loads(old) == {"egg_count": 9, "dam": ""}
    assert json.loads(new) == {"egg_count": 11, "dam": "Wilma"}
    assert edit(conn, clutch, egg_count=11) == {}
    found = by_number(conn, clutch)
    assert found is not None
    assert (found.egg_count, found.dam) == (11, "Wilma")


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"label": "Bracken"}, "the label 'Bracken' is taken"),
        ({"label": " "}, "label is empty"),
        ({"egg_count": 0}, "0 eggs are not a clutch"),
        ({"egg_count": 501}, "more than any clutch has"),
        ({"egg_count": 3}, "something is on record of egg 4, 5"),
        ({"laid_from_ms": day(11), "laid_to_ms": day(12)}, "before it can have been laid"),
        ({"laid_to_ms": NOW + 1}, "in the future"),
        ({"found_ms": LAID - 1}, "found at 2026-04-30"),
        ({"set_up_ms": NOW + 1}, "in the future"),
        ({"set_up_ms": LAID - 1}, "before it can have been laid"),
        ({"before_c": 75.0}, "is not what eggs were kept at"),
        ({"before_u_k": 1.0}, "says nothing of how warm"),
        ({"tags": ("a;b",)}, "semicolon"),
        ({"place": N2}, "cannot be edited"),
    ],
)
def test_an_edit_that_cannot_be_true_is_refused(conn: sqlite3.Connection, changes: dict[str, Any], words: str) -> None:
    clutch = enter(conn)
    enter(conn, "Bracken", N2)
    say(conn, clutch, "watch", ["4"], day(10))
    egg_changes.mark_egg(conn, clutch, "5", "A", NOW, "kim", NOW)
    assert words in refused(conn, lambda: edit(conn, clutch, **changes))


def test_a_laying_after_what_was_said_of_an_egg_is_refused(conn: sqlite3.Connection) -> None:
    clutch = enter(conn)
    say(conn, clutch, "watch", ["4"], day(0.2))
    told = refused(conn, lambda: edit(conn, clutch, laid_from_ms=day(0.5)))
    assert "egg 4 was on watch at 2026-05-01 04:48 UTC" in told


def test_a_number_that_is_the_mark_of_another_egg_stays_out_of_the_numbers(conn: sqlite3.Connection) -> None:
    clutch = enter(conn)
    egg_changes.mark_egg(conn, clutch, "1", "12", NOW, "kim", NOW)
    assert edit(conn, clutch, egg_count=11)
    assert "the mark 12" in refused(conn, lambda: edit(conn, clutch, egg_count=12))


def test_a_set_up_that_was_earlier_counts_from_then_if_the_box_was_free(conn: sqlite3.Connection) -> None:
    before = register.add_clutch(conn, replace(NEW, label="Bracken"), "kim", NOW)
    register.close_clutch(conn, before, day(5), "kim", "", NOW)
    clutch = register.add_clutch(conn, replace(NEW, from_ms=day(10)), "kim", NOW)
    assert "holds Bracken until 2026-05-06 00:00 UTC" in refused(conn, lambda: edit(conn, clutch, set_up_ms=day(4)))
    assert edit(conn, clutch, set_up_ms=day(5)) == {"set_up_ms": (day(10), day(5))}
    assert register.open_clutch(conn, "Juniper").placements == (Placement(N1, day(5)),)


def test_a_set_up_that_was_later_counts_from_then_and_frees_the_box_until_then(conn: sqlite3.Connection) -> None:
    clutch = enter(conn)
    assert edit(conn, clutch, set_up_ms=day(8)) == {"set_up_ms": (SET_UP, day(8))}
    assert register.open_clutch(conn, "Juniper").placements == (Placement(N1, day(8)),)
    # Until then the box was free, and not a moment longer.
    before = replace(NEW, label="Bracken")
    too_long = refused(conn, lambda: register.add_clutch(conn, before, "kim", NOW, closed_at_ms=day(8) + 1))
    assert "holds Juniper since 2026-05-09" in too_long
    register.add_clutch(conn, before, "kim", NOW, closed_at_ms=day(8))
    # As often as somebody is wrong, and back again; what was said meanwhile stays on record.
    for moment in (9, 8.5, 9.5, 9):
        edit(conn, clutch, set_up_ms=day(moment))
        assert register.open_clutch(conn, "Juniper").placements == (Placement(N1, day(moment)),)
    (count,) = conn.execute("SELECT count(*) FROM placement WHERE clutch_id = ?", (clutch,)).fetchone()
    assert count == 1 + 2 + 2 + 1 + 2 + 1


def test_a_set_up_is_not_put_behind_a_move(conn: sqlite3.Connection) -> None:
    clutch = enter(conn)
    register.move_clutch(conn, clutch, N2, day(9), "kim", "", NOW)
    told = refused(conn, lambda: edit(conn, clutch, set_up_ms=day(9)))
    assert f"was moved to {N2} at 2026-05-10 00:00 UTC, before that set-up" in told
    edit(conn, clutch, set_up_ms=day(8))
    assert register.open_clutch(conn, "Juniper").placements == (Placement(N1, day(8)), Placement(N2, day(9)))
    assert edit(conn, clutch, set_up_ms=day(1))
    assert register.open_clutch(conn, "Juniper").placements == (Placement(N1, day(1)), Placement(N2, day(9)))


def test_a_clutch_entered_by_mistake_frees_its_box_and_its_label_for_all_its_time(conn: sqlite3.Connection) -> None:
    wrong = enter(conn)
    say(conn, wrong, "watch", ["1"])
    version = register.version(conn)
    corrections.withdraw_clutch(conn, wrong, "ida", "was entered by mistake", NOW)
    assert register.version(conn) > version
    assert register.clutches(conn, include_closed=True) == []
    right = register.add_clutch(conn, replace(NEW, egg_count=8), "kim", NOW)
    assert [each.clutch_id for each in register.clutches(conn)] == [right]
    found = read_file(conn, wrong)
    assert found is not None
    assert found.clutch.withdrawn_at_ms == NOW
    assert [change.what for change in found.changes] == ["add", "eggs", "withdraw"]
    for work in (
        lambda: register.move_clutch(conn, wrong, N2, NOW, "kim", "", NOW),
        lambda: edit(conn, wrong, dam="x"),
        lambda: say(conn, wrong, "hatched", ["1"]),
        lambda: corrections.withdraw_clutch(conn, wrong, "kim", "", NOW),
    ):
        assert "was withdrawn at" in refused(conn, work)


def test_a_withdrawal_is_taken_back_where_box_and_label_are_free(conn: sqlite3.Connection) -> None:
    clutch = enter(conn)
    corrections.withdraw_clutch(conn, clutch, "ida", "was entered by mistake", NOW)
    other = enter(conn, "Bracken")

    def reopen() -> Clutch:
        return corrections.reopen_clutch(conn, clutch, "ida", "it is real", NOW)

    assert "holds Bracken" in refused(conn, reopen)
    register.move_clutch(conn, other, SHELF, SET_UP, "kim", "", NOW)
    assert reopen().is_open
    assert register.open_clutch(conn, "Juniper").clutch_id == clutch


def test_two_clutches_swap_their_boxes_in_one_step(conn: sqlite3.Connection) -> None:
    first, second = enter(conn), enter(conn, "Bracken", N2)
    corrections.swap_clutches(conn, first, second, day(20), "kim", "warmer", NOW)
    assert [each.placements for each in register.clutches(conn)] == [
        (Placement(N1, SET_UP), Placement(N2, day(20))),
        (Placement(N2, SET_UP), Placement(N1, day(20))),
    ]
    changes = conn.execute("SELECT clutch_id, what, why FROM register_change WHERE what = 'move'").fetchall()
    assert changes == [(first, "move", "warmer"), (second, "move", "warmer")]


@pytest.mark.parametrize(
    ("pair", "at_ms", "words"),
    [
        ((0, 0), day(20), "cannot swap places with itself"),
        ((0, 1), day(1), "it was set up at"),
        ((0, 1), NOW + 1, "in the future"),
        ((1, 2), day(20), "both lay in north/upper"),
        ((0, 99), day(20), "there is no clutch number"),
    ],
)
def test_a_swap_that_cannot_be_is_refused(
    conn: sqlite3.Connection, pair: tuple[int, int], at_ms: int, words: str
) -> None:
    numbers = [enter(conn), enter(conn, "Bracken", SHELF), enter(conn, "Tansy", SHELF)]
    one, other = (numbers[each] if each < len(numbers) else each for each in pair)
    swap = lambda: corrections.swap_clutches(conn, one, other, at_ms, "kim", "", NOW)  # noqa: E731
    assert words in refused(conn, swap)


def test_a_swap_in_the_past_must_not_meet_a_third_clutch_or_a_later_move(conn: sqlite3.Connection) -> None:
    """Juniper left N1 on day 30, Tansy came there on day 35: Bracken, swapped in on day 20, would still be there."""
    first, second = enter(conn), enter(conn, "Bracken", N2)
    register.move_clutch(conn, first, N3, day(30), "kim", "", NOW)
    register.add_clutch(conn, replace(NEW, label="Tansy", from_ms=day(35)), "kim", NOW)

    def swap() -> object:
        return corrections.swap_clutches(conn, first, second, day(20), "kim", "", NOW)

    assert "holds Tansy" in refused(conn, swap)
    register.move_clutch(conn, second, SHELF, day(33), "kim", "", NOW)
    swap()
    assert register.open_clutch(conn, "Bracken").placements[1:] == (Placement(N1, day(20)), Placement(SHELF, day(33)))


def test_a_swap_in_the_past_must_not_meet_the_partner_where_it_came_back(conn: sqlite3.Connection) -> None:
    """Bracken left N2 on day 25 and came back on day 30: Juniper, swapped into N2 on day 20, would still be there."""
    first, second = enter(conn), enter(conn, "Bracken", N2)
    register.move_clutch(conn, second, N3, day(25), "kim", "", NOW)
    register.move_clutch(conn, second, N2, day(30), "kim", "", NOW)

    def swap() -> object:
        return corrections.swap_clutches(conn, first, second, day(20), "kim", "", NOW)

    assert "holds Bracken since" in refused(conn, swap)
