"""A reading is stored once, never changed, and found again without reading all of history."""

import sqlite3
from collections.abc import Iterable
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from config.words import Quantity
from daemon.storage import samples
from daemon.storage.connections import connect
from daemon.storage.journal import Journal, JournalError
from daemon.storage.migrations import migrate
from daemon.storage.samples import Appended, StoredReading
from sensors.reading import ChannelKey, Quality, Reading

AIR = ChannelKey("north-air/t", "north-air", "t", Quantity.AIR_TEMPERATURE)
HUMIDITY = ChannelKey("north-air/rh", "north-air", "rh", Quantity.RELATIVE_HUMIDITY)


def reading(at_ms: int, value: float = 28.0, quality: int = 0, channel: str = AIR.channel) -> Reading:
    return Reading(channel, at_ms, at_ms + 5, value, quality)


def store(journal: Journal, readings: Iterable[Reading]) -> Appended:
    def work(conn: sqlite3.Connection) -> Appended:
        return samples.append(conn, samples.channel_ids(conn, [AIR, HUMIDITY]), list(readings))

    return journal.write(work)


def test_channels_keep_their_numbers(journal: Journal) -> None:
    first = journal.write(lambda conn: samples.channel_ids(conn, [AIR]))
    both = journal.write(lambda conn: samples.channel_ids(conn, [HUMIDITY, AIR]))
    assert both[AIR.channel] == first[AIR.channel]
    assert both[HUMIDITY.channel] != both[AIR.channel]


def test_a_channel_that_changes_its_quantity_is_refused_with_a_way_out(journal: Journal) -> None:
    journal.write(lambda conn: samples.channel_ids(conn, [AIR]))
    changed = ChannelKey(AIR.channel, AIR.probe, AIR.name, Quantity.RELATIVE_HUMIDITY)
    with pytest.raises(JournalError, match="new name") as caught:
        journal.write(lambda conn: samples.channel_ids(conn, [changed]))
    assert "air_temperature" in str(caught.value)
    assert "relative_humidity" in str(caught.value)


def test_readings_come_back_as_they_were_in_the_order_of_storing(journal: Journal) -> None:
    assert store(journal, [reading(2000, 28.25), reading(1000, 27.5, Quality.TOO_FAST)]) == Appended(2, 0, ())
    with journal.read() as conn:
        assert samples.after(conn, 0, 10) == [
            StoredReading(1, AIR.channel, 2000, 2005, 28.25, 0),
            StoredReading(2, AIR.channel, 1000, 1005, 27.5, 4),
        ]
        assert [row.seq for row in samples.after(conn, 1, 10)] == [2]
        assert [row.seq for row in samples.after(conn, 0, 1)] == [1]


def test_the_same_reading_again_is_a_duplicate_whatever_its_quality(journal: Journal) -> None:
    store(journal, [reading(1000), reading(2000)])
    again = [reading(1000), reading(2000, quality=Quality.STUCK), reading(3000)]
    assert store(journal, again) == Appended(1, 2, ())
    with journal.read() as conn:
        assert [row.quality for row in samples.after(conn, 0, 10)] == [0, 0, 0]


def test_another_value_for_a_stored_time_is_a_conflict_and_the_first_stays(journal: Journal) -> None:
    store(journal, [reading(1000, 28.0)])
    assert store(journal, [reading(1000, 28.5), reading(2000)]) == Appended(1, 0, (reading(1000, 28.5),))
    with journal.read() as conn:
        assert [row.value for row in samples.after(conn, 0, 10)] == [28.0, 28.0]


def test_duplicates_and_conflicts_within_one_batch_are_told_apart(journal: Journal) -> None:
    batch = [reading(1000, 28.0), reading(1000, 28.0), reading(1000, 29.0)]
    assert store(journal, batch) == Appended(1, 1, (reading(1000, 29.0),))


def test_the_same_time_on_two_channels_is_two_readings(journal: Journal) -> None:
    assert store(journal, [reading(1000), reading(1000, 80.0, channel=HUMIDITY.channel)]).new == 2


def test_a_value_that_is_not_a_number_is_never_stored_in_silence(journal: Journal) -> None:
    with pytest.raises(sqlite3.IntegrityError, match="NOT NULL"):
        store(journal, [reading(1000, float("nan"))])


def test_stored_readings_cannot_be_changed_or_removed(journal: Journal) -> None:
    store(journal, [reading(1000)])
    for statement in ("UPDATE sample SET value = 0", "DELETE FROM sample"):
        with pytest.raises(sqlite3.IntegrityError, match="never changed or removed"):
            journal.write(lambda conn, statement=statement: conn.execute(statement))  # type: ignore[misc]


def test_the_newest_is_by_time_of_measuring_not_of_storing(journal: Journal) -> None:
    store(journal, [reading(3000, 28.3), reading(1000, 28.1), reading(500, 80.0, channel=HUMIDITY.channel)])
    with journal.read() as conn:
        found = samples.newest(conn)
    assert {channel: (row.measured_at_ms, row.value) for channel, row in found.items()} == {
        AIR.channel: (3000, 28.3),
        HUMIDITY.channel: (500, 80.0),
    }
    with journal.read() as conn:
        assert samples.newest_good_of(conn, AIR.channel) == found[AIR.channel]
        assert samples.newest_good_of(conn, "nowhere/t") is None


def test_count_counts_rows_also_after_duplicates_conflicts_and_undone_work(journal: Journal) -> None:
    with journal.read() as conn:
        assert samples.count(conn) == 0
    store(journal, [reading(1000), reading(1000), reading(1000, 30.0), reading(2000)])
    with pytest.raises(sqlite3.IntegrityError):
        store(journal, [reading(3000), reading(4000, float("nan"))])
    store(journal, [reading(2000), reading(5000)])
    with journal.read() as conn:
        assert samples.count(conn) == 3 == conn.execute("SELECT count(*) FROM sample").fetchone()[0]


GOOD_AND_SUSPECT = [
    reading(1000, 21.0),
    reading(2000, 22.0),
    reading(3000, 23.0, Quality.STUCK),
    reading(4000, 24.0),
    reading(5000, 25.0),
    reading(6000, 26.0, Quality.FAULT_VALUE),
    reading(7000, 27.0),
    reading(8000, 28.0),
]


@pytest.mark.parametrize(
    ("start_ms", "end_ms", "reach_ms", "expected"),
    [
        (3500, 5500, 10_000, [(2000, 22.0), (4000, 24.0), (5000, 25.0), (7000, 27.0)]),
        (4000, 5000, 10_000, [(2000, 22.0), (4000, 24.0), (5000, 25.0), (7000, 27.0)]),
        (3500, 5500, 1400, [(4000, 24.0), (5000, 25.0)]),
        (3500, 5500, 1500, [(2000, 22.0), (4000, 24.0), (5000, 25.0), (7000, 27.0)]),
        (2500, 3500, 10_000, [(2000, 22.0), (4000, 24.0)]),
        (9000, 9500, 1000, [(8000, 28.0)]),
        (9000, 9500, 999, []),
        (0, 500, 500, [(1000, 21.0)]),
    ],
)
def test_good_readings_come_with_their_good_neighbours_within_reach(
    journal: Journal, start_ms: int, end_ms: int, reach_ms: int, expected: list[tuple[int, float]]
) -> None:
    store(journal, GOOD_AND_SUSPECT)
    with journal.read() as conn:
        assert samples.good_between(conn, AIR.channel, start_ms, end_ms, reach_ms) == expected
        assert samples.good_between(conn, "nowhere/t", start_ms, end_ms, reach_ms) == []


def test_no_query_reads_the_whole_history(journal: Journal) -> None:
    store(journal, GOOD_AND_SUSPECT)
    traced: list[str] = []
    with journal.read() as conn:
        conn.set_trace_callback(traced.append)
        samples.good_between(conn, AIR.channel, 3500, 5500, 1000)
        samples.newest(conn)
        samples.newest_good_of(conn, AIR.channel)
        samples.after(conn, 3, 2)
        samples.count(conn)
        conn.set_trace_callback(None)
        queries = [sql for sql in traced if "sample" in sql]
        plans = {sql: [row[3] for row in conn.execute(f"EXPLAIN QUERY PLAN {sql}")] for sql in queries}
    assert len(plans) == 7
    for sql, plan in plans.items():
        assert not any(step.startswith(("SCAN sample", "SCAN latest")) for step in plan), (sql, plan)
        assert not any("TEMP B-TREE" in step for step in plan), (sql, plan)


def test_neighbours_cost_the_same_however_long_the_history_is() -> None:
    """Count the steps of SQLite's machine, which do not depend on the speed of this one."""

    def steps(history: int) -> int:
        conn = connect(Path(":memory:"), 1)
        migrate(conn, "here")
        ids = samples.channel_ids(conn, [AIR])
        # All suspect, so that a search without a bound would walk through every one of them.
        samples.append(conn, ids, [reading(n * 1000, quality=Quality.STUCK) for n in range(history)])
        samples.append(conn, ids, [reading(history * 1000 + 500)])
        counted = 0

        def one() -> int:
            nonlocal counted
            counted += 1
            return 0

        conn.set_progress_handler(one, 1)
        samples.good_between(conn, AIR.channel, history * 1000, history * 1000 + 1000, 50_000)
        conn.set_progress_handler(None, 1)
        conn.close()
        return counted

    assert steps(5000) <= steps(200) + 10


@settings(max_examples=25, deadline=None)
@given(
    st.lists(
        st.lists(st.tuples(st.integers(0, 12), st.sampled_from([27.0, 27.5, -0.0]), st.integers(0, 1)), max_size=8),
        max_size=6,
    )
)
def test_any_batches_store_what_a_plain_dictionary_of_first_values_would(
    batches: list[list[tuple[int, float, int]]],
) -> None:
    conn = connect(Path(":memory:"), 1)
    migrate(conn, "memory")
    ids = samples.channel_ids(conn, [AIR])
    first: dict[int, float] = {}
    for batch in batches:
        expected = [0, 0, 0]
        for at_ms, value, _ in batch:
            expected[0 if at_ms not in first else 1 if first[at_ms] == value else 2] += 1
            first.setdefault(at_ms, value)
        found = samples.append(conn, ids, [reading(*row) for row in batch])
        assert [found.new, found.duplicates, len(found.conflicts)] == expected
    assert {row.measured_at_ms: row.value for row in samples.after(conn, 0, 1000)} == first
    assert samples.count(conn) == len(first)
    conn.close()
