"""Calibrations in the journal: kept as they were, in order, never changed; applied from their date."""

import sqlite3
from dataclasses import replace

import pytest

from daemon.storage import calibrations
from daemon.storage.journal import Journal
from sensors.calibration import Record
from sensors.calibration_line import UNCORRECTED, Line, Point
from tests.sensors.example_site import SITE

LINE = Line(
    1.0169856,
    -2.9162,
    (
        Point(32.78, 35.1, 0.0924, 0.3, "MgCl2 at 25.0 °C"),
        Point(75.29, 76.9, 0.0693, 0.3, "NaCl at 25.0 °C"),
    ),
    0.5,
    1.5,
    0.0,
    False,
)
RECORD = Record("north-air/rh", 1000, LINE, "salt, two-point", 900, 90_000, 1100, "kim", "box 3")


def store(journal: Journal, *records: Record) -> list[int]:
    return [journal.write(lambda conn, one=each: calibrations.append(conn, one)) for each in records]  # type: ignore[misc]


def test_a_record_comes_back_as_it_was_stored(journal: Journal) -> None:
    other = replace(RECORD, channel="north-air/t", due_at_ms=None, line=replace(LINE, slope_u=0.01, one_reference=True))
    assert store(journal, RECORD, other) == [1, 2]
    with journal.read() as conn:
        assert calibrations.history(conn) == [RECORD, other]
        assert calibrations.history(conn, "north-air/t") == [other]
        assert calibrations.history(conn, "nobody/t") == []


def test_every_new_record_raises_the_version(journal: Journal) -> None:
    seen = []
    for record in (RECORD, RECORD, replace(RECORD, valid_from_ms=5)):
        with journal.read() as conn:
            seen.append(calibrations.version(conn))
        store(journal, record)
    with journal.read() as conn:
        assert [*seen, calibrations.version(conn)] == [0, 1, 2, 3]


def test_what_is_loaded_corrects_from_its_date_and_a_later_record_of_the_same_date_wins(journal: Journal) -> None:
    store(journal, RECORD)
    with journal.read() as conn:
        found = calibrations.load(conn, SITE)
    assert found.corrected("north-air/rh", 60.0, 999) == 60.0
    # 1.0169856 * 60 - 2.9162 = 58.1029, by hand; also the worked table of tests/tables/two-point-check.csv
    assert found.corrected("north-air/rh", 60.0, 1000) == pytest.approx(58.1029, abs=1e-4)
    store(journal, replace(RECORD, line=UNCORRECTED))
    with journal.read() as conn:
        assert calibrations.load(conn, SITE).corrected("north-air/rh", 60.0, 1000) == 60.0
        assert calibrations.history(conn)[1].takes_back


@pytest.mark.parametrize("change", ["UPDATE calibration SET gain = 2", "DELETE FROM calibration"])
def test_a_record_is_never_changed_or_removed(journal: Journal, change: str) -> None:
    store(journal, RECORD)
    with pytest.raises(sqlite3.IntegrityError, match="never changed or removed"):
        journal.write(lambda conn: conn.execute(change) and None)


def test_text_that_cannot_be_stored_is_made_storable(journal: Journal) -> None:
    store(journal, replace(RECORD, note="half \ud800 pair", who="x" * 5000))
    with journal.read() as conn:
        [kept] = calibrations.history(conn)
    assert kept.note.startswith("half ")
    assert len(kept.who) == 2000
