"""A large table is tried beside the journal, not inside it: readings are stored meanwhile, and rows cost the same."""

import sqlite3
from collections.abc import Iterator
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from daemon.clutches import register
from daemon.clutches.rows import last_change
from daemon.clutches.sheet_cells import Row, rows_of
from daemon.clutches.sheet_desk import Tried, try_sheet
from daemon.clutches.sheet_import import Known, SheetImport
from daemon.storage.journal import Journal
from tests.clutches.house import N1, N2, NEW, NOW, SHELF, enter, say
from tests.support.journals import new_journal

SITE = Known((N1, N2, SHELF), (NEW.species_id,), ZoneInfo("Europe/Madrid"))
TABLES = ("clutch", "placement", "register_change", "egg_event", "egg_measure", "clutch_note")


def table(clutches: int, eggs: int) -> list[Row]:
    """Clutches on a shelf, and of each egg that it is on watch and that it hatched."""
    lines = ["row,label,set_up,species,place,laid_from,egg_count,at,egg,state"]
    for number in range(clutches):
        key = f"C{number},2026-05-03 12:00"
        lines.append(f"clutch,{key},{NEW.species_id},{SHELF},2026-05-01,{eggs},,,")
        for egg in range(1, eggs + 1):
            lines += [
                f"egg,{key},,,,,2026-06-0{day} 12:00,{egg},{what}" for day, what in ((1, "watch"), (9, "hatched"))
            ]
    return rows_of("\n".join(lines))


@pytest.fixture
def journal(tmp_path: Path) -> Iterator[Journal]:
    with new_journal(tmp_path / "journal.sqlite3") as opened:
        yield opened


def whole(conn: sqlite3.Connection) -> list[list[tuple[object, ...]]]:
    return [conn.execute(f"SELECT * FROM {name} ORDER BY 1").fetchall() for name in TABLES]


def take(journal: Journal, rows: list[Row], keep: bool = True, tick: object = None) -> Tried:
    return try_sheet(journal, SITE, rows, "kim", NOW, lambda _: keep, tick or (lambda _: None))  # type: ignore[arg-type]


def test_while_a_table_is_tried_everybody_else_can_write(journal: Journal) -> None:
    """A journal of another process gives up after a tenth of a second: it never has to wait that long."""
    written = []

    def write(done: int) -> None:
        if done % 10 == 0:
            with Journal.open(journal.path, 0.1) as other:
                other.write(lambda conn: conn.execute("UPDATE register_version SET version = version"))
            journal.write(lambda conn: conn.execute("SELECT 1").fetchone())
            written.append(done)

    tried = take(journal, table(2, 20), keep=False, tick=write)
    assert (len(written), tried.kept, tried.refused) == (8, False, False)
    with journal.read() as conn:
        assert register.clutches(conn, include_closed=True) == []


def test_what_is_brought_back_is_what_the_table_did(journal: Journal, conn: sqlite3.Connection) -> None:
    """The same table row by row inside one transaction, on a register with something in it already."""
    rows = table(3, 4)
    both = rows_of(
        f"row,label,set_up,species,place,laid_from,egg_count,moves,closed,note,at,egg,mass_g\n"
        f"clutch,Juniper,2026-05-03 02:00,,,,,2026-05-09 12:00 {N2},2026-06-30 02:00,dark,,,\n"
        f"mark,Juniper,2026-05-03 02:00,,,,,,,A,2026-05-04,3,\nsize,Juniper,2026-05-03 02:00,,,,,,,,2026-05-04,A,21.5\n"
        f"note,Juniper,2026-05-03 02:00,,,,,,,moved,2026-05-09,,\n"
    )

    def before(at: sqlite3.Connection) -> None:
        say(at, enter(at), "watch", ("2",))

    journal.write(before)
    before(conn)
    SheetImport(conn, SITE, "kim", NOW).run([*both, *rows])
    tried = take(journal, [*both, *rows])
    assert [each.detail for each in tried.said if each.what == "refused"] == []
    assert tried.kept
    with journal.read() as at:
        assert whole(at) == whole(conn)
        assert register.version(at) > 0


def test_what_changed_while_it_was_tried_keeps_it_out(journal: Journal) -> None:
    def change(done: int) -> None:
        if done == 1:
            journal.write(enter)

    tried = take(journal, table(1, 2), tick=change)
    assert (tried.kept, tried.refused) == (False, False)
    with journal.read() as conn:
        assert [each.label for each in register.clutches(conn)] == ["Juniper"]
        assert last_change(conn) != tried.mark


def test_a_row_costs_no_more_where_a_clutch_has_more_eggs() -> None:
    """Counted in steps of the database, which are the same on every machine."""
    assert _steps_a_row(1, 300) < 1.5 * _steps_a_row(1, 60)


def test_a_row_costs_hardly_more_where_a_shelf_has_held_more_clutches() -> None:
    assert _steps_a_row(160, 1) < 2 * _steps_a_row(40, 1)


def _steps_a_row(clutches: int, eggs: int) -> float:
    from daemon.storage.connections import connect
    from daemon.storage.migrations import migrate

    conn, rows, count = connect(Path(":memory:"), 1), table(clutches, eggs), 0

    def step() -> int:
        nonlocal count
        count += 1
        return 0

    migrate(conn, "memory")
    conn.execute("BEGIN")
    conn.set_progress_handler(step, 100)
    said = SheetImport(conn, SITE, "kim", NOW).run(rows)
    conn.set_progress_handler(None, 100)
    conn.close()
    assert {each.what for each in said} == {"added"}
    return count / len(rows)
