"""What one step of evaluation puts into the journal, inside the transaction of its caller."""

import sqlite3
from collections.abc import Mapping, Sequence

from daemon.alarm_desk_values import key_of
from daemon.alarm_transition import Transition
from daemon.desk_messages import Written
from daemon.storage import alarm_log, heat, outbox
from daemon.storage.alarm_log import AlarmEvent


def event_of(transition: Transition, recorded_at_ms: int) -> AlarmEvent:
    """Give the line of the log of alarms for a transition."""
    return AlarmEvent(
        transition.at_ms,
        recorded_at_ms,
        key_of(transition),
        transition.occurrence,
        transition.change.value if transition.told else f"{transition.change} (explained by another alarm)",
        transition.value,
        transition.limit,
        transition.reason,
    )


def store_step(
    conn: sqlite3.Connection,
    cursor: int,
    states: Mapping[str, str],
    events: Sequence[AlarmEvent],
    written: Written,
    over: Sequence[str],
) -> None:
    """Store states (empty text: gone), events, messages and the cursor; calls of incidents that are over stop."""
    for channel, state in states.items():
        if state:
            alarm_log.save_state(conn, channel, state)
        else:
            alarm_log.drop_state(conn, channel)
    for event in events:
        alarm_log.append_event(conn, event)
    outbox.supersede(conn, over)
    written.store(conn)
    heat.set_cursor(conn, cursor)
