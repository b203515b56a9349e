"""Lines as the public syntax of line protocol has them, and the two sides of a comparison."""

import math

from hypothesis import given
from hypothesis import strategies as st

from daemon.mirror.cells import CELL_MS, Cells, touched_by
from daemon.mirror.compare import Difference, Reading, readings_differ
from daemon.mirror.points import Climate, Origin, Point, climate_line, event_point, reading_lines
from daemon.mirror.spans import days, joined
from daemon.mirror_client import lines_of, series_of

DAY_MS = 86_400_000
FINITE = st.floats(allow_nan=False, allow_infinity=False)
ROWS = st.lists(
    st.tuples(st.integers(1, 10**9), st.integers(0, 10**12), st.integers(0, 10**12), FINITE, st.integers(0, 15)),
    unique_by=(lambda row: row[0], lambda row: row[1]),
    max_size=50,
).map(lambda rows: sorted(rows, key=lambda row: row[1]))


def test_a_line_is_measurement_tags_fields_and_time() -> None:
    # Written by hand by the syntax of line protocol: a space in a tag is escaped, an i marks a whole number.
    series = series_of("reading", [("site", "Test house"), ("channel", "north-air/t"), ("zone", "")])
    assert series == "reading,channel=north-air/t,site=Test\\ house"
    [line] = reading_lines([(7, 1, 1_790_000_000_000, 1_790_000_000_300, 28.25, 4)], {1: series})
    assert line == f"{series} quality=4i,received_ms=1790000000300i,seq=7i,value=28.25 1790000000000"
    assert climate_line("c", Climate(28.0, 70.0, 22.0, None), 5) == (
        "c dew_point_c=22.0,relative_humidity_pct=70.0,temperature_c=28.0 5"
    )
    assert "margin_k=-0.5," in climate_line("c", Climate(28.0, 70.0, 22.0, -0.5), 5)


@given(FINITE)
def test_a_value_is_written_so_that_it_comes_back_to_the_last_bit(value: float) -> None:
    [line] = reading_lines([(1, 1, 0, 0, value, 0)], {1: "r"})
    back = float(line.split("value=")[1].split(" ")[0])
    assert (back, math.copysign(1, back)) == (value, math.copysign(1, value))


def test_an_event_leaves_out_what_it_has_not() -> None:
    row = (3, 10, 12, "site-silent:Test house", "o1", "raised", None, None, 'all "silent"')
    [line] = lines_of([event_point(Origin("Test house", "3f9a"), "", row)])
    assert line == (
        "alarm_event,alarm=site-silent:Test\\ house,event=raised,journal=3f9a,kind=site-silent,site=Test\\ house "
        'number=3i,occurrence="o1",reason="all \\"silent\\"",recorded_ms=12i 10'
    )
    assert lines_of([Point("x", {}, {"a": None}, 1)]) == []


@given(ROWS)
def test_the_same_on_both_sides_is_no_difference(rows: list[Reading]) -> None:
    assert readings_differ(rows, list(rows), frozenset()) == Difference()


@given(ROWS, ROWS, st.data())
def test_a_comparison_finds_what_was_done_to_the_other_side(
    rows: list[Reading], others: list[Reading], data: st.DataObject
) -> None:
    gone = data.draw(st.sets(st.sampled_from(rows))) if rows else set()
    changed = data.draw(st.sets(st.sampled_from(rows))) - gone if rows else set()
    parked = frozenset(row[0] for row in data.draw(st.sets(st.sampled_from(sorted(gone))))) if gone else frozenset()
    times = {row[1] for row in rows}
    extra = [row for row in others if row[1] not in times]
    there = [(*row[:4], row[4] + 1) if row in changed else row for row in rows if row not in gone]
    mirror = sorted([*there, *extra], key=lambda row: row[1])
    found = readings_differ(rows, mirror, parked)
    assert set(found.missing) == {row[0] for row in gone} - parked
    assert set(found.different) == {row[0] for row in changed}
    assert (found.extra, found.parked) == (len(extra), len(parked))


def test_days_are_those_of_utc() -> None:
    # 86,400,000 ms are a day.
    assert list(days((DAY_MS - 1, DAY_MS))) == [(0, DAY_MS), (DAY_MS, 2 * DAY_MS)]
    assert list(days((0, 3 * DAY_MS), 2 * DAY_MS + 5)) == [(2 * DAY_MS, 3 * DAY_MS), (3 * DAY_MS, 4 * DAY_MS)]
    assert joined({"a": (5, 9)}, {"a": (7, 12), "b": (1, 2)}) == {"a": (5, 12), "b": (1, 2)}


def test_a_cell_that_is_known_is_worked_out_again_only_for_what_was_measured_before() -> None:
    cells, places = Cells(), {1: "north"}

    def due(*times_ms: int) -> list[tuple[str, int, int]]:
        rows = [(0, 1, at_ms, 0, 0.0, 0) for at_ms in times_ms]
        return list(cells.due(touched_by(rows, places)))

    assert due(10 * CELL_MS + 5, 10 * CELL_MS + 9) == [("north", 10 * CELL_MS, 11 * CELL_MS)]
    cells.known("north", 10 * CELL_MS, 10 * CELL_MS + 5)
    assert due(10 * CELL_MS + 20) == []
    assert due(10 * CELL_MS + 5) == [("north", 10 * CELL_MS, 11 * CELL_MS)]
    assert due(10 * CELL_MS + 1, 11 * CELL_MS) == [("north", 10 * CELL_MS, 12 * CELL_MS)]
    # One of long ago does not bring everything in between.
    assert due(0, 900 * CELL_MS) == [("north", 0, CELL_MS), ("north", 900 * CELL_MS, 901 * CELL_MS)]
