"""Tables that somebody wrote or changed by hand."""

import pytest

from daemon.clutches import register
from daemon.clutches.errors import RegisterError
from daemon.clutches.placements import Placement
from daemon.clutches.sheet_cells import rows_of, written
from tests.clutches.house import LAID, N1, N2, SHELF, day
from tests.clutches.sheets import HEAD, ROW, empty, into


def test_a_table_by_hand_is_understood() -> None:
    """As a keeper types it: semicolons, days, decimal commas, columns in another order, and one of their own."""
    text = (
        "label;species;place;laid_from;laid_to;set_up;egg_count;kept_at_c;kept_within_k;moves;#colour\n"
        "Juniper;elaphe-taeniura;north/upper/N1;2026-05-01;;2026-05-03 14:30;9;24,5;1;"
        "2026-05-10 12:00 north/upper;red\n"
    )
    with empty() as conn:
        assert [each.what for each in into(conn, text)] == ["added"]
        [found] = register.clutches(conn)
    hour_ms = 3_600_000
    assert (found.laid_from_ms, found.laid_to_ms) == (LAID - 2 * hour_ms, LAID + 22 * hour_ms - 1000)
    assert found.before_c == 24.5
    assert found.placements == (
        Placement(N1, day(2) + 12 * hour_ms + 30 * 60_000),
        Placement(SHELF, day(9) + 10 * hour_ms),
    )


@pytest.mark.parametrize(
    ("row", "words"),
    [
        (ROW.replace("taeniura", "taeniurus"), "no species 'elaphe-taeniurus'"),
        (ROW.replace("upper", "uper"), "no place 'north/uper/N1'"),
        (ROW.replace(",9,", ",nine,"), "egg_count: 'nine' is not a whole number"),
        (ROW.replace(",9,", ",0,"), "0 eggs are not a clutch"),
        (ROW.replace(",9,", ",,"), "egg_count of a new clutch is empty"),
        (ROW.replace("2026-05-03", "3rd of May"), "'3rd of May' is not a date"),
        (ROW.replace("2026-05-03", "2026-04-03"), "before it can have been laid (2026-05-01 00:00)"),
        (ROW.replace("2026-05-03", "2027-05-03"), "in the future"),
        (ROW.replace(",9,,", ",9,north/upper,"), "is not a time and a place"),
        (ROW.replace(",9,,,", ",9,,2026-05-02,"), "cannot be closed at 2026-05-02"),
        (ROW + ROW.replace("Juniper", "Bracken"), "holds Juniper since 2026-05-03 00:00"),
        (ROW + ROW.replace("N1", "N2"), "the label 'Juniper' is taken"),
    ],
)
def test_a_row_that_cannot_be_is_refused_with_the_reason_in_local_time(row: str, words: str) -> None:
    with empty() as conn:
        said = into(conn, HEAD + row)
    assert said[-1].what == "refused"
    assert words in said[-1].detail
    assert said[-1].line == len(said) + 1


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("name,species\r\nx,y\r\n", "no column named label"),
        ("label,egg_cuont\r\nx,9\r\n", 'Did you mean "egg_count"?'),
        ("label,label\r\nx,9\r\n", "two columns are named 'label'"),
        ("label\r\nx,9\r\n", "line 2 has 2 cells for 1 columns"),
        ('label,note\r\nx,"open\r\n', "line 2 cannot be read as CSV"),
    ],
)
def test_a_table_that_cannot_be_read_is_refused_as_a_whole(text: str, words: str) -> None:
    with pytest.raises(RegisterError) as caught:
        rows_of(text)
    assert words in str(caught.value)


def test_a_changed_table_changes_what_it_says_and_leaves_what_it_does_not_say() -> None:
    with empty() as conn:
        into(conn, HEAD + ROW.replace(",,,,", ",,,wet,Wilma"))
        changed = ROW.replace(",9,,,,", ",11,2026-05-10 north/upper/N2,,,Dora")
        [said] = into(conn, HEAD + changed)
        assert said.what == "changed"
        assert "egg_count was 9" in said.detail
        assert "moved to north/upper/N2" in said.detail
        [found] = register.clutches(conn)
        assert (found.egg_count, found.dam, found.note) == (11, "Dora", "wet")
        assert found.placements[-1].place == N2
        [said] = into(conn, HEAD + changed)
        assert said.what == "as on record"
        [said] = into(conn, HEAD + changed.replace(",,,Dora", ",2026-06-20,,Dora"))
        assert said.detail == "closed"
        assert register.clutches(conn) == []


def test_rows_below_a_refused_clutch_say_so() -> None:
    rows = (
        "row,label,set_up,egg_count,at,egg,state\r\n"
        "clutch,J,2026-05-03,9,,,\r\n"
        "egg,J,2026-05-03,,2026-05-20,1,watch\r\n"
    )
    with empty() as conn:
        first, second = into(conn, rows)
    assert "species, place, laid_from of a new clutch are empty" in first.detail
    assert "its clutch is refused, in line 2" in second.detail


def test_an_empty_table_is_a_table() -> None:
    assert rows_of(written(("label", "note"), [])) == []
