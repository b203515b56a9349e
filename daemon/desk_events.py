"""What happened at the alarm desk, as lines of the journal."""

from daemon.alarm_desk import Desk
from daemon.alarm_desk_values import Outcome
from daemon.storage.alarm_records import AlarmRecord


def records_of(outcome: Outcome, desk: Desk, recorded_at_ms: int) -> list[AlarmRecord]:
    """What conditions, people, time and consequences did to alarms; refused wishes as well."""
    entries = {**outcome.closed, **desk.entries}
    return [
        AlarmRecord(
            record.at_ms,
            recorded_at_ms,
            key,
            entries[key].raised.occurrence,
            int(entries[key].alarm.priority),
            record.event,
            record.before,
            record.after,
            record.shown,
            record.who,
            record.reason,
            record.annunciated,
            record.accepted,
        )
        for key, record in outcome.records
    ]
