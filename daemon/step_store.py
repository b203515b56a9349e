"""What one step of evaluation puts into the journal, inside the transaction of its caller."""

import sqlite3
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from daemon import heat_keeper
from daemon.alarm_desk_values import Outcome, key_of
from daemon.alarm_transition import Transition
from daemon.alarms.conditions import Change
from daemon.desk_messages import Written
from daemon.hand_over_messages import Asked
from daemon.heat_keeper import Bases, Hours
from daemon.storage import alarm_log, alarm_records, heat, outbox
from daemon.storage.alarm_log import FOUND_AFTERWARDS, AlarmEvent
from daemon.storage.alarm_records import AlarmRecord


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


@dataclass(frozen=True, slots=True)
class Step:
    """What one step of evaluation came to; `states` by channel, an empty text: gone."""

    cursor: int
    states: Mapping[str, str]
    hours: Hours
    bases: Bases
    transitions: Sequence[Transition]
    outcome: Outcome
    written: Written
    asked: Asked
    late: Callable[[sqlite3.Connection], None] | None

    @property
    def has_news(self) -> bool:
        """True where something has to be stored, beside the desk and a cursor that moves."""
        return bool(self.transitions or self.states or self.hours or self.bases or self.asked.told or self.late)

    def store(self, conn: sqlite3.Connection, records: Sequence[AlarmRecord], moment_ms: int) -> None:
        """Store all of it but the desk; calls of incidents that are over stop."""
        heat_keeper.store(conn, self.hours, self.bases)
        for channel, state in self.states.items():
            if state:
                alarm_log.save_state(conn, channel, state)
            else:
                alarm_log.drop_state(conn, channel)
        for transition in self.transitions:
            for event in events_of(transition, moment_ms):
                alarm_log.append_event(conn, event)
        outbox.supersede(conn, self.outcome.pointless)
        self.written.store(conn)
        heat.set_cursor(conn, self.cursor)
        if self.late is not None:
            self.late(conn)
        alarm_records.append(conn, records)
        self.asked.store(conn, moment_ms)
