"""What one step of evaluation puts into the journal, inside the transaction of its caller."""

import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import replace

from daemon.alarm_desk_values import key_of
from daemon.alarm_transition import Transition
from daemon.alarms.conditions import Change
from daemon.desk_messages import Written
from daemon.storage import alarm_log, heat, outbox
from daemon.storage.alarm_log import FOUND_AFTERWARDS, AlarmEvent


def events_of(transition: Transition, recorded_at_ms: int) -> tuple[AlarmEvent, ...]:
    """Give the lines of the log of alarms for a transition.

    What late readings raised is none until it is told; where it ends before, it was found afterwards, at the time that
    was measured.
    """
    if transition.late and transition.change is Change.RAISED:
        return ()
    word = transition.change.value if transition.told else f"{transition.change} (explained by another alarm)"
    event = AlarmEvent(
        transition.at_ms,
        recorded_at_ms,
        key_of(transition),
        transition.occurrence,
        transition.change.value if transition.late else word,
        transition.value,
        transition.limit,
        transition.reason,
    )
    if not transition.late:
        return (event,)
    why = "by readings that came late; it was over when it was found"
    found = replace(event, at_ms=transition.since_ms, event=FOUND_AFTERWARDS, value=transition.peak, reason=why)
    return found, event


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
