"""Sizes and notes of a clutch, with their dates, and how far eggs have swollen."""

import sqlite3
from dataclasses import replace

import pytest

from daemon.clutches import register, remarks
from daemon.clutches.measures import Measure, NewMeasure, swelling
from daemon.clutches.remarks import Note
from tests.clutches.house import LAID, NEW, NOW, SET_UP, day, enter, refused


def sizes(*of: tuple[float, float | None, float | None, int]) -> list[Measure]:
    return [
        Measure(number, NewMeasure(day(on), mass_g, length_mm, together), "kim")
        for number, (on, mass_g, length_mm, together) in enumerate(of)
    ]


def test_swelling_is_the_newest_mass_of_one_egg_over_the_first() -> None:
    """By hand: 20 g at first; 9 eggs of 270 g together are 30 g each."""
    found = swelling(sizes((2, 20.0, None, 1), (20, 225.0, None, 9), (40, 270.0, None, 9)))
    assert found is not None
    assert (found.ratio, found.of, found.since_ms, found.at_ms) == (1.5, "mass", day(2), day(40))
    assert "1.5 times their first size by mid-term (common practice, no source)" in found.hint


def test_without_two_masses_lengths_are_compared_and_without_two_sizes_nothing() -> None:
    found = swelling(sizes((2, 20.0, 40.0, 1), (20, None, 44.0, 1)))
    assert found is not None
    assert found.ratio == pytest.approx(1.1)
    assert found.of == "length"
    assert swelling(sizes((2, 20.0, None, 1), (20, None, 44.0, 1))) is None
    assert swelling(sizes((2, 20.0, None, 1), (2, 22.0, None, 1))) is None
    assert swelling(sizes((2, 20.0, None, 1), (9, 22.0, None, 1)), egg=3) is None


@pytest.mark.parametrize(
    ("course", "words"),
    [((20.0, 18.0), "Smaller than at first"), ((20.0, 28.0, 26.0), "Smaller than last time"), ((20.0, 24.0), "Eggs")],
)
def test_what_shrinks_is_told_with_what_to_look_at(course: tuple[float, ...], words: str) -> None:
    found = swelling(sizes(*((on, mass_g, None, 1) for on, mass_g in enumerate(course))))
    assert found is not None
    assert found.hint.startswith(words)


def test_a_size_that_was_taken_back_does_not_count_and_stays_on_record(conn: sqlite3.Connection) -> None:
    clutch = register.add_clutch(conn, replace(NEW, first_mass_g=20.0), "kim", NOW)
    wrong = remarks.add_measure(conn, clutch, NewMeasure(day(20), 2400.0, None, 9), "kim", NOW)
    assert swelling(remarks.measures(conn, clutch)) is not None
    remarks.withdraw_measure(conn, clutch, wrong, "ida", "typing error", NOW)
    found = remarks.measures(conn, clutch)
    assert [(one.measured.at_ms, one.withdrawn) for one in found] == [(SET_UP, False), (day(20), True)]
    assert swelling(found) is None
    assert "has no measurement number" in refused(
        conn, lambda: remarks.withdraw_measure(conn, clutch, wrong, "ida", "", NOW)
    )


@pytest.mark.parametrize(
    ("new", "words"),
    [
        (NewMeasure(NOW), "no size is given"),
        (NewMeasure(NOW, mass_g=0.0), "0 g is not the size of an egg"),
        (NewMeasure(NOW, mass_g=float("nan")), "nan g is not the size"),
        (NewMeasure(NOW, length_mm=900.0), "900 mm is not the size"),
        (NewMeasure(NOW, mass_g=20.0, eggs=10), "10 eggs were not weighed together"),
        (NewMeasure(NOW, mass_g=20.0, egg=10), "has no egg 10"),
        (NewMeasure(NOW + 1, mass_g=20.0), "in the future"),
        (NewMeasure(LAID - 1, mass_g=20.0), "before it can have been laid"),
    ],
)
def test_sizes_that_no_egg_has_are_refused(conn: sqlite3.Connection, new: NewMeasure, words: str) -> None:
    clutch = enter(conn)
    assert words in refused(conn, lambda: remarks.add_measure(conn, clutch, new, "kim", NOW))


def test_notes_have_a_date_and_a_person_and_a_corrected_one_gives_way(conn: sqlite3.Connection) -> None:
    clutch = enter(conn)
    first = remarks.add_note(conn, clutch, day(20), " feels dry ", "kim", NOW)
    later = remarks.add_note(conn, clutch, day(10), "veins seen", "ida", NOW)
    assert remarks.notes(conn, clutch) == [
        Note(later, day(10), "ida", "veins seen"),
        Note(first, day(20), "kim", "feels dry"),
    ]
    new = remarks.add_note(conn, clutch, day(20), "feels wet", "kim", NOW, corrects=first)
    assert [one.text for one in remarks.notes(conn, clutch)] == ["veins seen", "feels wet"]
    remarks.add_note(conn, clutch, NOW, "", "kim", NOW, corrects=new)
    assert [one.number for one in remarks.notes(conn, clutch)] == [later]
    assert conn.execute("SELECT count(*) FROM clutch_note").fetchone() == (4,)
    assert "the note is empty" in refused(conn, lambda: remarks.add_note(conn, clutch, NOW, " ", "kim", NOW))
    assert "has no note number" in refused(conn, lambda: remarks.add_note(conn, clutch, NOW, "x", "kim", NOW, first))
    assert "in the future" in refused(conn, lambda: remarks.add_note(conn, clutch, NOW + 1, "x", "kim", NOW))
    assert "nobody is named" in refused(conn, lambda: remarks.add_note(conn, clutch, NOW, "x", " ", NOW))
