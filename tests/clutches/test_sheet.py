"""The register as a CSV table: out, in again and out is the same, byte for byte; what is wrong is told by row.

The form is that of RFC 4180: CRLF at the end of a record, cells with commas, quotes or line breaks in double quotes.
"""

import csv
import io
import sqlite3
from collections.abc import Callable
from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from daemon.clutches import corrections, egg_changes, register, remarks
from daemon.clutches.egg_records import events
from daemon.clutches.errors import RegisterError
from daemon.clutches.measures import NewMeasure
from daemon.clutches.sheet_cells import moment_cell, moment_of, rows_of, written
from daemon.clutches.sheet_import import SheetImport
from tests.clutches.house import LAID, N1, N2, N3, NEW, NOW, SHELF, counts, day, enter, now, say
from tests.clutches.sheets import HEAD, MADRID, ROW, SITE, empty, facts, into, out

# Spreadsheets take such beginnings for formulas.
texts = st.one_of(
    st.text(st.characters(exclude_categories=["Cs"]), max_size=12),
    st.sampled_from(
        ["=1+1", "+49", "-3", "@SUM(A1)", "'quoted", "'=x", "''=x", "\t=x", 'say "wet"', "a, b; c", "a\r\nb", "'"]
    ),
)
labels = st.text(st.characters(categories=["L", "N", "P", "S"]), min_size=1, max_size=8)
moments = st.integers(LAID + 3 * 86_400_000, NOW)


@st.composite
def lives(draw: st.DrawFn) -> Callable[[sqlite3.Connection, str], None]:
    """The life of one clutch, in steps of the register's own functions; a step that is refused did not happen."""
    new = replace(
        NEW,
        label=draw(labels),
        population=draw(st.none() | texts),
        laid_to_ms=draw(st.integers(LAID, LAID + 86_400_000)),
        note=draw(texts),
        place=SHELF,
        before_c=draw(st.none() | st.floats(15, 30)),
        dam=draw(texts),
        sire=draw(texts),
        found_ms=draw(st.none() | moments),
        tags=tuple(draw(st.lists(st.sampled_from(["gift", "=2", "season 26"]), max_size=3))),
        venomous=draw(st.none() | st.booleans()),
        protected=draw(texts),
    )
    steps = draw(st.lists(st.tuples(st.integers(0, 7), moments, texts, st.integers(1, 9)), max_size=12))
    closed_ms = draw(st.none() | moments)

    def live(conn: sqlite3.Connection, box: str) -> None:
        clutch = register.add_clutch(conn, new, "kim", NOW)
        for step in steps:
            _tried(conn, lambda step=step: _step(conn, clutch, box, *step))  # type: ignore[misc]
        if closed_ms is not None:
            _tried(conn, lambda: register.close_clutch(conn, clutch, closed_ms, "kim", "", NOW))

    return live


def _step(conn: sqlite3.Connection, clutch: int, box: str, what: int, at_ms: int, text: str, number: int) -> None:
    states = ("watch", "sound", "removed:other", "removed:stuck", "pipped", "hatched")
    if what == 0:
        register.move_clutch(conn, clutch, box if number % 2 else SHELF, at_ms, "kim", text, NOW)
    elif what == 1:
        egg_changes.mark_egg(conn, clutch, str(number), text, at_ms, "kim", NOW)
    elif what == 2:
        remarks.add_note(conn, clutch, at_ms, text, text or "kim", NOW)
    elif what == 3:
        remarks.add_measure(conn, clutch, NewMeasure(at_ms, number * 3.3, None, 1, number, text), "kim", NOW)
    elif what == 4:
        said = [one.number for one in events(conn, clutch) if not one.withdrawn]
        if said:
            egg_changes.withdraw_event(conn, clutch, said[number % len(said)], "kim", text, NOW)
    elif what == 5:
        say(conn, clutch, states[number % 6], number, at_ms, text)
    else:
        say(conn, clutch, states[number % 6], [str(number)], at_ms, text)


def _tried(conn: sqlite3.Connection, work: Callable[[], object]) -> None:
    conn.execute("SAVEPOINT tried")
    try:
        work()
    except RegisterError:
        conn.execute("ROLLBACK TO tried")
    conn.execute("RELEASE tried")


@settings(max_examples=60, deadline=None)
@given(st.lists(lives(), min_size=1, max_size=3))
def test_out_and_in_and_out_again_is_the_same(
    of_all: list[Callable[[sqlite3.Connection, str], None]],
) -> None:
    with empty() as conn, empty() as other:
        for box, live in zip((N1, N2, N3), of_all, strict=False):
            _tried(conn, lambda live=live, box=box: live(conn, box))  # type: ignore[misc]
        whole, short = out(conn), out(conn, with_eggs=False)
        said = into(other, whole)
        assert {each.what for each in said} <= {"added"}
        assert out(other) == whole
        assert out(other, with_eggs=False) == short
        assert facts(other) == facts(conn)
        # Once more into the same register, nothing is left to do.
        assert {each.what for each in into(other, whole)} <= {"as on record"}
        assert out(other) == whole


def test_a_cell_that_a_spreadsheet_would_run_is_written_as_text(conn: sqlite3.Connection) -> None:
    register.add_clutch(
        conn, replace(NEW, note='=HYPERLINK("http://x")', dam="@x", sire="-2", protected="+1"), "k", NOW
    )
    [_, row] = csv.reader(io.StringIO(out(conn, with_eggs=False), newline=""))
    assert [cell[:2] for cell in row if cell[:1] in "=+-@" and cell] == []
    assert '\'=HYPERLINK("http://x")' in row


@given(st.text(st.sampled_from("=+-@'\t\r\n\" ,;x"), max_size=6))
def test_every_cell_reads_back_as_it_was(cell: str) -> None:
    [row] = rows_of(written(("label", "note"), [{"label": "x", "note": cell}]))
    assert row["note"] == cell


def test_the_form_is_that_of_the_standard(conn: sqlite3.Connection) -> None:
    register.add_clutch(conn, replace(NEW, note='wet, "dry"\nturned'), "kim", NOW)
    text = out(conn, with_eggs=False)
    assert text.endswith("\r\n")
    assert ',"wet, ""dry""\nturned"\r\n' in text
    assert "2026-05-01T02:00:00+02:00" in text  # the laying, local to the site


@given(st.integers(0, 4_102_444_800_000))  # 1970 to 2100
def test_a_moment_reads_back_as_the_same_also_in_the_hour_that_comes_twice(moment_ms: int) -> None:
    assert moment_of(moment_cell(moment_ms, MADRID), "at", MADRID) == moment_ms


def test_rows_of_eggs_find_their_clutch_and_are_entered_once() -> None:
    rows = (
        "row,label,set_up,species,place,laid_from,egg_count,at,egg,state,note,mass_g,who\r\n"
        "clutch,Juniper,2026-05-03,elaphe-taeniura,north/upper/N1,2026-05-01,9,,,,,,\r\n"
        "mark,Juniper,2026-05-03,,,,,,1,,A,,\r\n"
        "egg,Juniper,2026-05-03,,,,,2026-05-20,A,removed:mould,grey,,ida\r\n"
        "size,Juniper,2026-05-03,,,,,2026-05-20,2,,,21.5,\r\n"
        "note,Juniper,2026-05-03,,,,,2026-05-20,,,feels dry,,\r\n"
    )
    with empty() as conn:
        assert [each.what for each in into(conn, rows)] == ["added"] * 5
        assert now(conn, 1)["A"] == "removed: mould"
        assert [one.who for one in events(conn, 1)] == ["importer, the table says ida"]
        assert [each.what for each in into(conn, rows)] == ["as on record"] * 5
        only_eggs = "\r\n".join([rows.partition("\r\n")[0], "egg,juniper,,,,,,2026-06-20,2,hatched,,,"])
        assert [each.what for each in into(conn, only_eggs)] == ["added"]
        assert counts(conn, 1).hatched == 1
        wrong = only_eggs.replace("juniper", "Bracken")
        assert "there is no clutch 'Bracken'" in into(conn, wrong)[0].detail


def test_what_was_entered_twice_is_twice_on_record_and_a_state_may_come_twice_in_a_row(
    conn: sqlite3.Connection,
) -> None:
    clutch = enter(conn)
    for _ in range(2):
        remarks.add_note(conn, clutch, day(20), "dry", "kim", NOW)
        remarks.add_measure(conn, clutch, NewMeasure(day(20), 21.0), "kim", NOW)
    say(conn, clutch, "watch", ["1"], day(10))
    (between,) = say(conn, clutch, "sound", ["1"], day(15))
    say(conn, clutch, "watch", ["1"], day(20))
    egg_changes.withdraw_event(conn, clutch, between, "kim", "", NOW)
    with empty() as other:
        assert [each.what for each in into(other, out(conn))] == ["added"] * 7
        assert facts(other) == facts(conn)
        assert [each.what for each in into(other, out(conn))] == ["as on record"] * 7


def test_three_clutches_of_one_label_and_one_set_up_stay_three(conn: sqlite3.Connection) -> None:
    for on in (10, 20):
        register.add_clutch(conn, replace(NEW, place=SHELF), "kim", NOW, closed_at_ms=day(on))
    say(conn, enter(conn, place=SHELF), "watch", ["1"])
    with empty() as other:
        assert [each.what for each in into(other, out(conn))] == ["added"] * 4
        assert facts(other) == facts(conn)
        assert [each.what for each in into(other, out(conn))] == ["as on record"] * 4


def test_clutches_that_were_withdrawn_are_not_written_and_do_not_hinder() -> None:
    with empty() as conn:
        corrections.withdraw_clutch(conn, enter(conn), "kim", "", NOW)
        assert out(conn).count("\r\n") == 1
        assert [each.what for each in into(conn, HEAD + ROW)] == ["added"]


def test_closed_clutches_with_eggs_of_unknown_fate_are_named() -> None:
    with empty() as conn:
        at_work = SheetImport(conn, SITE, "kim", NOW)
        at_work.run(rows_of(HEAD + ROW.replace(",9,,,", ",9,,2026-06-20,")))
        assert at_work.left_open() == [("Juniper", 9)]


def test_whoever_takes_a_table_in_answers_for_its_rows_and_whom_it_names_is_kept_beside() -> None:
    """Into an empty register and out again the table names the same people."""
    head = "row,label,set_up,species,place,laid_from,egg_count,at,egg,state,mass_g,note,who\r\n"
    clutch = f"clutch,Juniper,2026-05-03,elaphe-taeniura,{N1},2026-05-01,9,,,,,,\r\n"
    egg = "egg,Juniper,2026-05-03,,,,,2026-05-09,3,watch,,,{who}\r\n"
    size = "size,Juniper,2026-05-03,,,,,2026-05-09,3,,21.5,,ben\r\n"
    note = "note,Juniper,2026-05-03,,,,,2026-05-09,,,,fine,importer\r\n"
    mark = "mark,Juniper,2026-05-03,,,,,2026-05-04,4,,,B,ben\r\n"
    table = head + clutch + egg.format(who="the keeper") + size + note + mark

    def said(conn: sqlite3.Connection) -> set[str]:
        names = "SELECT who FROM egg_event UNION SELECT who FROM egg_measure UNION SELECT who FROM clutch_note"
        return {who for (who,) in conn.execute(names)} | {
            who for (who,) in conn.execute("SELECT who FROM register_change")
        }

    with empty() as conn:
        assert {each.what for each in into(conn, table)} == {"added"}
        assert all(each.startswith("importer") for each in said(conn))
        assert {"importer, the table says the keeper", "importer, the table says ben", "importer"} <= said(conn)
        once = out(conn)
        assert ",the keeper\r\n" in once
        assert "the table says" not in once
        # The same table, and the one that came out of it, change nothing.
        assert {each.what for each in into(conn, table)} == {"as on record"}
        assert {each.what for each in into(conn, once)} == {"as on record"}
        # A name that looks like that of somebody who took a table in is still only what the table says.
        odd = egg.format(who='"ana, the table says kim"').replace("05-09", "05-10").replace("watch", "sound")
        assert [each.what for each in into(conn, head + odd)] == ["added"]
        assert "importer, the table says ana, the table says kim" in said(conn)
