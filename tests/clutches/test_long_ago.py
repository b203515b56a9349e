"""A year that was typed by half: nobody's eggs lie for centuries, and no step of the heat may take them for real."""

import sqlite3
from dataclasses import replace
from pathlib import Path

from config.check import check_site
from daemon.clutches import corrections, register
from daemon.clutches.placements import Placement
from daemon.clutches.values import Clutch
from daemon.heat_ledger import HOUR_MS, HeatLedger, Span
from tests.clutches.house import DAY_MS, LAID, N1, N2, NEW, NOW, SET_UP, enter, refused
from tests.support.household import write_site

YEAR_206_MS = -55_652_054_400_000
"""0206-06-17 00:00 UTC, by the proleptic Gregorian calendar: 644 121 days before 1970."""
YEAR_MS = 365 * DAY_MS


def test_a_clutch_that_would_lie_there_for_centuries_is_refused(conn: sqlite3.Connection) -> None:
    slip = replace(NEW, laid_from_ms=YEAR_206_MS, laid_to_ms=YEAR_206_MS, from_ms=YEAR_206_MS)
    said = refused(conn, lambda: register.add_clutch(conn, slip, "kim", NOW))
    assert "0206-" in said
    assert "Is the year right?" in said
    four_years = replace(NEW, laid_from_ms=LAID - 4 * YEAR_MS, from_ms=SET_UP)
    refused(conn, lambda: register.add_clutch(conn, four_years, "kim", NOW))
    register.add_clutch(conn, replace(NEW, laid_from_ms=LAID - 2 * YEAR_MS), "kim", NOW)


def test_what_ended_long_ago_can_be_entered_with_its_end(conn: sqlite3.Connection) -> None:
    begun = LAID - 20 * YEAR_MS
    old = replace(NEW, laid_from_ms=begun, laid_to_ms=begun, from_ms=begun)
    register.add_clutch(conn, old, "kim", NOW, closed_at_ms=begun + 70 * DAY_MS)
    refused(conn, lambda: register.add_clutch(conn, replace(old, place=N2), "kim", NOW, closed_at_ms=NOW))


def test_neither_an_edit_nor_a_move_brings_such_a_year_in(conn: sqlite3.Connection) -> None:
    clutch = enter(conn)
    for field in ("laid_from_ms", "set_up_ms"):
        change = {"laid_from_ms": YEAR_206_MS, field: YEAR_206_MS}
        refused(conn, lambda change=change: corrections.edit_clutch(conn, clutch, change, "kim", "", NOW))  # type: ignore[misc]
    moved = [Placement(N2, YEAR_206_MS)]
    refused(conn, lambda: register.add_clutch(conn, replace(NEW, label="Fig", place=N1), "kim", NOW, moved))


def test_the_hours_that_one_reading_touches_are_not_counted_out_for_centuries(tmp_path: Path) -> None:
    """Such a clutch may be on record from before. All of its hours would be 16 million numbers."""
    checked = check_site(write_site(tmp_path / "site", 1883))
    ledger = HeatLedger(dict(checked.profiles), {N1: ("probe/air",)}, 1_800_000)
    clutch = Clutch(
        1, "Juniper", NEW.species_id, None, YEAR_206_MS, YEAR_206_MS, 9, "", None, (Placement(N1, YEAR_206_MS),)
    )
    first = {"probe/air": [Span(None, NOW, {"probe/air": (NOW, NOW)})]}
    over, late = ledger.touched(first, clutch, YEAR_206_MS)
    assert (len(over), max(over), late) == (1, NOW - HOUR_MS, set())
    again = {"probe/air": [Span(NOW - 3 * HOUR_MS, NOW, {"probe/air": (NOW - 3 * HOUR_MS, NOW)})]}
    over, _ = ledger.touched(again, clutch, NOW - 2 * HOUR_MS)
    assert over == {NOW - 3 * HOUR_MS, NOW - HOUR_MS}
