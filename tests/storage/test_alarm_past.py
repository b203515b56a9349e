"""The past of alarms: by subject and span, and what leads up to a moment. By the index, however long the past is."""

import itertools
import sqlite3
from zoneinfo import ZoneInfo

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from daemon.alarm_measures import metrics_of
from daemon.alarms.state_values import AlarmMemory, Shown
from daemon.storage import alarm_log, alarm_past, alarm_records
from daemon.storage.alarm_log import AlarmEvent
from daemon.storage.alarm_records import AlarmRecord
from daemon.storage.journal import Journal

AIR, HUMIDITY = "north-air/t", "north-air/rh"
DAY_MS = 86_400_000
_turn = itertools.count()


def event(at_ms: int, subject: str, what: str, occurrence: str) -> AlarmEvent:
    return AlarmEvent(at_ms, at_ms, f"temperature-high:{subject}", occurrence, what, 31.0, 30.0, "invented")


def log(journal: Journal, *events: AlarmEvent) -> None:
    journal.write(lambda conn: [alarm_log.append_event(conn, each) for each in events])


def plan(conn: sqlite3.Connection, sql: str, *values: object) -> str:
    return " / ".join(row[3] for row in conn.execute(f"EXPLAIN QUERY PLAN {sql}", values))


def test_only_the_spans_of_a_subject_count_and_the_newest_are_given_oldest_first(journal: Journal) -> None:
    log(
        journal,
        *(event(at, AIR, "raised", f"a{at}") for at in (10, 20, 30, 40, 50)),
        event(25, AIR, "cleared", "a20"),
        event(60, AIR, "cleared", "a50"),
        event(30, HUMIDITY, "raised", "h30"),
        event(30, "clutch-7", "raised", "c30"),
    )
    with journal.read() as conn:
        found, older = alarm_past.newest_raised(conn, {AIR: [(10, 30), (40, 99)], HUMIDITY: [(0, 99)]}, 55, 3)
    assert [(each.at_ms, each.occurrence, each.ended_ms) for each in found] == [
        (30, "h30", None), (40, "a40", None), (50, "a50", None)
    ]  # fmt: skip
    assert older == 2


def test_the_end_of_a_span_is_not_in_it_and_the_last_moment_is(journal: Journal) -> None:
    log(journal, event(10, AIR, "raised", "a10"), event(20, AIR, "raised", "a20"))
    with journal.read() as conn:
        assert [each.at_ms for each in alarm_past.newest_raised(conn, {AIR: [(0, 20)]}, 20, 9)[0]] == [10]
        assert [each.at_ms for each in alarm_past.newest_raised(conn, {AIR: [(0, 99)]}, 20, 9)[0]] == [10, 20]
        assert alarm_past.newest_raised(conn, {}, 20, 9) == ([], 0)


@pytest.mark.parametrize(
    ("sql", "index"),
    [
        ("SELECT * FROM alarm_record WHERE alarm_key = 'x' AND record_id < 9 ORDER BY record_id DESC", "of_key ("),
        (
            """SELECT alarm_key, max(at_ms) FROM alarm_record WHERE at_ms >= 5 AND event = 'acknowledge' AND accepted
                GROUP BY +alarm_key""",
            "alarm_record_acknowledged",
        ),
        (alarm_records._BACKWARDS.replace("?", "'x'"), "of_key_by_time"),
        (alarm_past._COUNT.replace("?", "5"), "alarm_event_of_subject"),
        (alarm_past._NEWEST.replace("?", "5"), "alarm_event_of_subject"),
        (alarm_past._ENDED.format("'a'").replace("?", "5"), "alarm_event_of_occurrence"),
    ],
)
def test_each_question_goes_by_an_index(journal: Journal, sql: str, index: str) -> None:
    with journal.read() as conn:
        told = plan(conn, sql)
    assert index in told
    assert "SCAN" not in told


MEMORIES = [AlarmMemory.NORMAL, AlarmMemory.UNACKNOWLEDGED, AlarmMemory.ACKNOWLEDGED, AlarmMemory.RETURNED]
steps = st.lists(
    st.tuples(
        st.sampled_from(["a", "b", "c"]), st.sampled_from(MEMORIES), st.booleans(), st.booleans(), st.integers(0, 3)
    ),
    max_size=60,
)


@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(steps=steps, from_step=st.integers(0, 60))
def test_what_leads_up_to_a_window_measures_as_the_whole_past_does(
    journal: Journal, steps: list[tuple[str, AlarmMemory, bool, bool, int]], from_step: int
) -> None:
    """Steps that follow each other as those of the states do: each begins where the one before it ended."""
    start_ms = next(_turn) * 400 * DAY_MS
    stands: dict[str, AlarmMemory] = {}
    records, at_ms, moments = [], start_ms, [start_ms]
    for alarm, wanted, shelved, accepted, hours in steps:
        at_ms += hours * 3_600_000
        key, before = f"{start_ms}:{alarm}", stands.get(alarm, AlarmMemory.NORMAL)
        after = wanted if accepted else before
        shown = Shown.SHELVED if shelved else Shown(after.value)
        called = before is AlarmMemory.NORMAL and after is AlarmMemory.UNACKNOWLEDGED
        row = (at_ms, at_ms, key, f"{key}#{at_ms}", 2, "on", before, after, shown, "", "", called, accepted)
        records.append(AlarmRecord(*row))
        stands[alarm] = after
        moments.append(at_ms)
    journal.write(lambda conn: alarm_records.append(conn, records))
    from_ms, to_ms = moments[min(from_step, len(moments) - 1)], at_ms + 1
    with journal.read() as conn:
        window = alarm_records.between(conn, from_ms, to_ms)
        leading = [each for each in alarm_records.leading_up_to(conn, from_ms) if each.at_ms >= start_ms]
        whole = alarm_records.between(conn, start_ms, to_ms)
    zone = ZoneInfo("Europe/Berlin")
    assert metrics_of([*leading, *window], from_ms, to_ms, zone) == metrics_of(whole, from_ms, to_ms, zone)
