"""Alarm states survive a restart; the alarm log only grows."""

import sqlite3
from dataclasses import replace
from pathlib import Path

import pytest

from daemon.storage import alarm_log
from daemon.storage.alarm_log import AlarmEvent
from daemon.storage.journal import Journal

RAISED = AlarmEvent(1000, 1200, "north/temperature-high", "o-1", "raised", 33.5, 32.0, "33.5 is above 32.0")


def test_states_survive_closing_and_the_last_one_counts(path: Path) -> None:
    with Journal.open(path) as journal:
        journal.write(lambda conn: alarm_log.save_state(conn, "north/temperature-high", '{"phase": "pending-on"}'))
        journal.write(lambda conn: alarm_log.save_state(conn, "north/temperature-high", '{"phase": "alarm"}'))
    with Journal.open(path) as journal, journal.read() as conn:
        assert alarm_log.load_states(conn) == {"north/temperature-high": '{"phase": "alarm"}'}


def test_events_come_back_whole_and_newest_first(journal: Journal) -> None:
    cleared = replace(RAISED, at_ms=5000, event="cleared", value=None, limit=None)
    first = journal.write(lambda conn: alarm_log.append_event(conn, RAISED))
    second = journal.write(lambda conn: alarm_log.append_event(conn, cleared))
    assert second > first
    with journal.read() as conn:
        assert alarm_log.events(conn, 10) == [cleared, RAISED]
        assert alarm_log.events(conn, 1) == [cleared]


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE alarm_event SET reason = 'it was nothing'",
        "DELETE FROM alarm_event",
        "REPLACE INTO alarm_event SELECT event_id, 0, 0, '', '', '', 0, 0, '' FROM alarm_event",
    ],
)
def test_the_alarm_log_refuses_to_be_changed(journal: Journal, statement: str) -> None:
    journal.write(lambda conn: alarm_log.append_event(conn, RAISED))
    with pytest.raises(sqlite3.IntegrityError):
        journal.write(lambda conn: conn.execute(statement))
    with journal.read() as conn:
        assert alarm_log.events(conn, 10) == [RAISED]
