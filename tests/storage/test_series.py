"""A channel in stretches of time, against plain sums over the same readings; roll-ups leave nothing out."""

import sqlite3
from collections.abc import Sequence
from dataclasses import replace
from itertools import count, pairwise

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from config.words import Quantity
from daemon.rollups import RollUps
from daemon.series import Bucket, Series, grid, series
from daemon.storage import rollups, samples
from daemon.storage.journal import Journal
from sensors.calibration import FROM_EVER_MS, Piece
from sensors.reading import ChannelKey, Quality, Reading

KEY = ChannelKey("north/t", "north", "t", Quantity.AIR_TEMPERATURE)
RAW = Piece(FROM_EVER_MS, 1.0, 0.0, 0.1)
MINUTE_MS = 60_000
HOUR_MS = 3_600_000
DAY_MS = 24 * HOUR_MS
BRIDGE_MS = 1_800_000
START_MS = 1_780_000_000_000
_turn = count()


def put(journal: Journal, readings: Sequence[tuple[int, float, int]], key: ChannelKey = KEY) -> None:
    rows = [Reading(key.channel, at, at, value, quality) for at, value, quality in readings]
    journal.write(lambda conn: samples.append(conn, samples.channel_ids(conn, [key]), rows))


def read(
    journal: Journal,
    from_ms: int,
    until_ms: int,
    buckets: int,
    pieces: Sequence[Piece] = (RAW,),
    key: ChannelKey = KEY,
) -> Series:
    with journal.read() as conn:
        return series(conn, key.channel, from_ms, until_ms, buckets, pieces, BRIDGE_MS)


def by_hand(
    readings: Sequence[tuple[int, float, int]], found: Series, origin_ms: int, pieces: Sequence[Piece]
) -> list[Bucket]:
    """The same stretches from all readings, one after the other."""
    inside = sorted(each for each in readings if found.from_ms <= each[0] < found.until_ms)
    made: list[Bucket] = []
    last_ms: int | None = None
    for place in sorted({(at - origin_ms) // found.width_ms for at, _, _ in inside}):
        here = [
            (at, piece.gain * value + piece.shift, quality)
            for at, value, quality in inside
            if (at - origin_ms) // found.width_ms == place
            for piece in [[each for each in pieces if each.from_ms <= at][-1]]
        ]
        good = [(at, value) for at, value, quality in here if not quality]
        values, times = [value for _, value in good], [at for at, _ in good]
        bad = [value for _, value, quality in here if quality]
        start_ms = origin_ms + place * found.width_ms
        made.append(
            Bucket(
                start_ms,
                start_ms + found.width_ms,
                len(good),
                min(values, default=None),
                sum(values) / len(values) if values else None,
                max(values, default=None),
                min(times, default=None),
                max(times, default=None),
                len(bad),
                min(bad, default=None),
                max(bad, default=None),
                bool(times) and last_ms is not None and times[0] - last_ms > BRIDGE_MS,
                any(after - before > BRIDGE_MS for before, after in pairwise(times)),
            )
        )
        last_ms = times[-1] if times else last_ms
    return made


def assert_same(found: Series, expected: list[Bucket]) -> None:
    assert len(found.buckets) == len(expected)
    for one, other in zip(found.buckets, expected, strict=True):
        numbers = [(one.mean, other.mean), (one.least, other.least), (one.most, other.most)]
        numbers += [(one.suspect_least, other.suspect_least), (one.suspect_most, other.suspect_most)]
        for ours, theirs in numbers:
            assert (ours is None) == (theirs is None)
            assert ours is None or ours == pytest.approx(theirs, abs=1e-9)
        exact = ("start_ms", "end_ms", "good", "first_ms", "last_ms", "suspect", "gap_before", "gap_inside")
        assert [getattr(one, name) for name in exact] == [getattr(other, name) for name in exact]


stored = st.lists(
    st.tuples(
        st.sampled_from([1_000, 47_000, 300_000, 11 * MINUTE_MS, 3 * HOUR_MS, 2 * DAY_MS]),
        st.floats(-40, 80),
        st.sampled_from([0, 0, 0, int(Quality.TOO_FAST)]),
    ),
    min_size=1,
    max_size=80,
)


@settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data(), steps=stored)
def test_any_period_of_any_readings_gives_what_all_readings_give(
    journal: Journal, data: st.DataObject, steps: list[tuple[int, float, int]]
) -> None:
    key = replace(KEY, channel=f"probe-{next(_turn)}/t")
    at_ms, readings = START_MS, []
    for step_ms, value, quality in steps:
        at_ms += step_ms
        readings.append((at_ms, value, quality))
    stored_in_order = data.draw(st.permutations(readings))
    first = data.draw(st.integers(0, len(readings)))
    put(journal, stored_in_order[:first], key)
    RollUps(journal).run()
    put(journal, stored_in_order[first:], key)
    if data.draw(st.booleans()):
        RollUps(journal).run()
    from_ms = data.draw(st.integers(START_MS - HOUR_MS, at_ms - 1))
    until_ms = data.draw(st.integers(from_ms + 1, at_ms + HOUR_MS))
    changes = sorted(data.draw(st.sets(st.integers(START_MS, at_ms), max_size=2)))
    lines = [(1.02, -0.6), (0.97, 0.4)]
    pieces = [RAW, *(Piece(at, *line, 0.1) for at, line in zip(changes, lines, strict=False))]
    buckets = data.draw(st.integers(1, 400))
    found = read(journal, from_ms, until_ms, buckets, pieces, key)
    lay = grid(from_ms, until_ms, buckets)
    assert (found.width_ms, found.is_behind) == (lay.width_ms, False)
    assert len(found.buckets) <= buckets
    assert_same(found, by_hand(readings, found, lay.start_ms, pieces))


@given(st.integers(0, 10**13), st.integers(1, 10**11), st.integers(1, 3000))
def test_a_grid_covers_its_period_in_no_more_stretches_than_asked(from_ms: int, length_ms: int, buckets: int) -> None:
    lay = grid(from_ms, from_ms + length_ms, buckets)
    assert lay.start_ms <= from_ms
    assert lay.start_ms + lay.width_ms * buckets >= from_ms + length_ms
    assert from_ms - lay.start_ms < max(lay.level_ms, 1)
    assert not lay.level_ms or lay.width_ms % lay.level_ms == 0


def test_one_reading_that_stands_out_survives_in_a_year_of_few_stretches(journal: Journal) -> None:
    # A year at one reading in 10 minutes, calm but for one: 52,560 readings, counted by hand.
    spike_ms = START_MS + 200 * DAY_MS + 7 * MINUTE_MS
    calm = [(START_MS + n * 10 * MINUTE_MS, 28.0, 0) for n in range(52_560)]
    put(journal, [*calm, (spike_ms, 41.5, 0)])
    RollUps(journal).run()
    found = read(journal, START_MS, START_MS + 365 * DAY_MS, 360)
    [tall] = [bucket for bucket in found.buckets if bucket.most != 28.0]
    assert tall.start_ms <= spike_ms < tall.end_ms
    assert (tall.least, tall.most) == (28.0, 41.5)
    assert sum(bucket.good for bucket in found.buckets) == 52_561
    assert len(found.buckets) <= 360


def test_what_was_late_is_in_its_stretch_and_a_second_run_changes_nothing(journal: Journal) -> None:
    put(journal, [(START_MS + n * MINUTE_MS, 28.0, 0) for n in range(3000)])
    job = RollUps(journal)
    job.run()
    put(journal, [(START_MS + 90_500, 35.0, 0)])
    job.run()
    rows = all_rows(journal)
    assert [row for row in rows if row[6] == 35.0] != []
    assert len({row[0] for row in rows if row[6] == 35.0}) == 3  # once on each level
    journal.write(rollups.forget)
    assert all_rows(journal) == []
    job.run()
    assert all_rows(journal) == rows


def test_small_steps_and_one_large_one_make_the_same_rows(journal: Journal) -> None:
    put(journal, [(START_MS + (n * 7919 % 4001) * 13_000, 20 + n % 17, n % 11 == 0) for n in range(1500)])
    job = RollUps(journal)
    while job.step(at_once=37):
        pass
    rows = all_rows(journal)
    journal.write(rollups.forget)
    job.run()
    assert all_rows(journal) == rows


def test_a_period_with_more_readings_than_may_be_walked_through_is_read_from_rows(journal: Journal) -> None:
    put(journal, [(START_MS + n * 1000, 28.0 + n % 3, 0) for n in range(4000)])
    RollUps(journal).run()
    with journal.read() as conn:
        fine = series(conn, KEY.channel, START_MS, START_MS + HOUR_MS, 600)
        coarse = series(conn, KEY.channel, START_MS, START_MS + HOUR_MS, 600, most_readings=1000)
    assert (fine.width_ms, coarse.width_ms) == (6000, 10 * MINUTE_MS)
    assert sum(bucket.good for bucket in coarse.buckets) == sum(bucket.good for bucket in fine.buckets) == 3600


def test_a_long_period_says_so_while_too_much_waits_to_be_rolled_up(journal: Journal) -> None:
    put(journal, [(START_MS + n * MINUTE_MS, 28.0, 0) for n in range(25_000)])
    assert read(journal, START_MS, START_MS + 20 * DAY_MS, 100).is_behind
    RollUps(journal).run()
    assert not read(journal, START_MS, START_MS + 20 * DAY_MS, 100).is_behind


def test_a_channel_that_nobody_has_is_empty_and_a_period_that_is_none_is_refused(journal: Journal) -> None:
    with journal.read() as conn:
        assert series(conn, "nobody/t", START_MS, START_MS + 1000, 10).buckets == ()
        with pytest.raises(ValueError, match="ends after it begins"):
            series(conn, KEY.channel, START_MS, START_MS, 10)


def test_a_stopped_job_ends_after_its_step_and_goes_on_where_it_was(journal: Journal) -> None:
    put(journal, [(START_MS + n * MINUTE_MS, 28.0, 0) for n in range(100)])
    stopped = RollUps(journal)
    stopped.stop()
    stopped.run()
    with journal.read() as conn:
        assert rollups.rolled_up_to(conn) == 0
    RollUps(journal).run()
    with journal.read() as conn:
        assert rollups.rolled_up_to(conn) == 100


def all_rows(journal: Journal) -> list[tuple[object, ...]]:
    def work(conn: sqlite3.Connection) -> list[tuple[object, ...]]:
        return conn.execute("SELECT * FROM rollup ORDER BY level_ms, channel_id, start_ms").fetchall()

    with journal.read() as conn:
        return work(conn)


def test_a_gap_over_a_change_of_calibration_is_a_gap_inside_its_stretch(journal: Journal) -> None:
    put(journal, [(START_MS + MINUTE_MS, 28.0, 0), (START_MS + 50 * MINUTE_MS, 28.0, 0)])
    later = Piece(START_MS + 20 * MINUTE_MS, 1.0, 0.5, 0.1)
    [bucket] = read(journal, START_MS, START_MS + 59 * MINUTE_MS, 1, (RAW, later)).buckets
    # 49 minutes between the two, more than the 30 of the bridge.
    assert bucket.gap_inside
    assert (bucket.least, bucket.mean, bucket.most) == (28.0, 28.25, 28.5)
