"""Thinned readings: what the journal gives is what a plain walk over all readings gives."""

from itertools import groupby
from pathlib import Path
from tempfile import TemporaryDirectory

from hypothesis import given, settings
from hypothesis import strategies as st

from config.words import Quantity
from daemon.storage import samples
from daemon.storage.recent import first_good_of_cells, first_of_cells
from sensors.reading import ChannelKey, Reading
from tests.support.journals import new_journal

AIR = ChannelKey("north-air/t", "north-air", "t", Quantity.AIR_TEMPERATURE)
OTHER = ChannelKey("south-air/t", "south-air", "t", Quantity.AIR_TEMPERATURE)
CELL_MS = 10

Row = tuple[int, float, int]
rows_of_a_channel = st.lists(
    st.tuples(st.integers(0, 100), st.floats(20, 30), st.sampled_from([0, 0, 4])),
    max_size=60,
    unique_by=lambda row: row[0],
)


def firsts(rows: list[Row], start_ms: int, end_ms: int) -> list[Row]:
    """The first good reading of each cell, else its first, by walking over all of them."""
    inside = sorted(row for row in rows if start_ms <= row[0] < end_ms)
    cells = [list(cell) for _, cell in groupby(inside, lambda row: row[0] // CELL_MS)]
    return [next((row for row in cell if not row[2]), cell[0]) for cell in cells]


@settings(max_examples=150, deadline=None)
@given(rows_of_a_channel, st.integers(0, 100), st.integers(0, 110))
def test_each_cell_gives_its_first_good_reading(rows: list[Row], start_ms: int, end_ms: int) -> None:
    with TemporaryDirectory() as folder, new_journal(Path(folder) / "journal.sqlite3") as journal:
        ids = journal.write(lambda conn: samples.channel_ids(conn, [OTHER, AIR]))
        readings = [Reading(AIR.channel, at_ms, at_ms, value, quality) for at_ms, value, quality in rows]
        readings += [Reading(OTHER.channel, at_ms, at_ms, 1.0, 0) for at_ms in range(0, 100, 3)]
        journal.write(lambda conn: samples.append(conn, ids, readings))
        with journal.read() as conn:
            good = first_good_of_cells(conn, AIR.channel, start_ms, end_ms, CELL_MS)
            either = first_of_cells(conn, AIR.channel, start_ms, end_ms, CELL_MS)
            nothing = first_of_cells(conn, "no-such/t", start_ms, end_ms, CELL_MS)
    expected = firsts(rows, start_ms, end_ms)
    assert either == expected
    assert good == [(at_ms, value) for at_ms, value, quality in expected if not quality]
    assert nothing == []
