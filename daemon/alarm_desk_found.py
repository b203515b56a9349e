"""What was found afterwards, as the alarm desk deals with it: it waits to be seen, no ladder climbs for it. Pure."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from config.words import Priority
from daemon.alarm_desk import Desk
from daemon.alarm_desk_values import Entry, Seen
from daemon.alarm_transition import Transition
from daemon.alarms.conditions import Change
from daemon.alarms.events import FoundAfterwards
from daemon.alarms.incident import Incident
from daemon.alarms.ladder import started, stopped
from daemon.alarms.state_values import AlarmState
from daemon.late_gathering import Excursion
from sensors.reading import ChannelKey


def put(
    desk: Desk, excursions: Sequence[Excursion], channels: Mapping[str, ChannelKey], now_ms: int
) -> list[Excursion]:
    """Put these on the desk, the worst first; gives those that people are told of.

    What a person holds back is recorded and not told. Of an alarm that waits for somebody already, or is on, the desk
    keeps what is newer; the message tells of the older one too.
    """
    told, new = [], []
    for each in excursions:
        key = f"{each.kind}:{each.channel}"
        if key not in desk.entries:
            desk.entries[key] = Entry(AlarmState(), _raised(each, channels[each.channel]))
            new.append(key)
        desk.apply(key, FoundAfterwards(each.occurrence, each.since_ms, each.until_ms), now_ms)
        if not desk.entries[key].state.is_suppressed:
            told.append(each)
    waiting = [key for key in new if desk.entries[key].state.memory.waits_for_a_person]
    if waiting:
        # As one incident whose ladder stands still: whatever waits without a ladder is called for.
        lethal = any(desk.entries[key].role.is_lethal for key in waiting)
        incident = Incident(f"{waiting[0]}@{now_ms}", now_ms, waiting[0], tuple(waiting), lethal)
        desk.book = replace(desk.book, incidents=(*desk.book.incidents, incident))
        desk.ladders[incident.id] = stopped(started(Priority.LOW, now_ms))
    return told


def seen(desk: Desk, excursions: Sequence[Excursion]) -> list[Seen]:
    """The alarms of these that wait for a person, for a link to acknowledge them by."""
    keys = dict.fromkeys(f"{each.kind}:{each.channel}" for each in excursions)
    states = {key: desk.entries[key].state for key in keys if key in desk.entries}
    return [
        Seen(key, state.occurrence, state.version) for key, state in states.items() if state.memory.waits_for_a_person
    ]


def _raised(each: Excursion, channel: ChannelKey) -> Transition:
    return Transition(
        kind=each.kind,
        channel=channel,
        place=each.place,
        change=Change.RAISED,
        at_ms=each.since_ms,
        since_ms=each.since_ms,
        value=each.worst,
        limit=each.limit,
        peak=each.worst,
        occurrence=each.occurrence,
        told=True,
        still=(),
        reason="found afterwards, by readings that came late",
        subject=each.channel,
    )
