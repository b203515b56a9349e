"""When people are told that the journal cannot be written. Pure.

This alarm cannot live in the journal, so it has no state machine, nobody acknowledges it, and it is repeated until it
is over. Times are in ms of a clock that nobody can set.
"""

from dataclasses import dataclass, replace

from daemon.alarms.classes import MINUTE_MS
from daemon.alarms.definition import AlarmDefinition
from daemon.alarms.wording import Stage

REPEAT_MS = 30 * MINUTE_MS
"""The pace at which a critical alarm that goes on is told again. Project choice."""


@dataclass(frozen=True, slots=True)
class JournalTrouble:
    """What is remembered: since when it has been failing, since when it has been well again, when people were told."""

    since_ms: int | None = None
    well_since_ms: int | None = None
    told_ms: int | None = None


def look(
    before: JournalTrouble, since_ms: int | None, now_ms: int, definition: AlarmDefinition
) -> tuple[JournalTrouble, Stage | None]:
    """Take whether the journal fails at this moment (`since_ms`, or None), and give what people are told now."""
    if since_ms is not None:
        return _failing(before, since_ms, now_ms, definition)
    if before.told_ms is None:
        return JournalTrouble(), None
    well_since_ms = now_ms if before.well_since_ms is None else before.well_since_ms
    if now_ms - well_since_ms < definition.off_delay_s * 1000:
        return replace(before, well_since_ms=well_since_ms), None
    return JournalTrouble(), Stage.CLEARED


def _failing(
    before: JournalTrouble, since_ms: int, now_ms: int, definition: AlarmDefinition
) -> tuple[JournalTrouble, Stage | None]:
    begun_ms = since_ms if before.since_ms is None else min(before.since_ms, since_ms)
    after = replace(before, since_ms=begun_ms, well_since_ms=None)
    if before.told_ms is None:
        due = now_ms - begun_ms >= definition.on_delay_s * 1000
        return (replace(after, told_ms=now_ms), Stage.RAISED) if due else (after, None)
    if now_ms - before.told_ms < REPEAT_MS:
        return after, None
    return replace(after, told_ms=now_ms), Stage.STILL
