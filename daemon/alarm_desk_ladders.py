"""What becomes of the ladders of the incidents at the desk, and who is called next. Pure."""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import NamedTuple

from daemon.alarm_desk_calls import lead_of, together
from daemon.alarm_desk_values import CallOut, Entry
from daemon.alarms.events import Pace
from daemon.alarms.folding import AlarmOn
from daemon.alarms.incident import Incident, IncidentBook, Outcome, priority_of, renamed
from daemon.alarms.ladder import LadderPace, LadderState, plan, slowed, started, stopped
from daemon.alarms.ladder_changes import joined, resumed
from daemon.alarms.people import Rota
from daemon.alarms.state_values import AlarmMemory, AlarmState


class Arrived(NamedTuple):
    """The book and the ladders after alarms have arrived, and the incidents whose waiting calls are pointless now."""

    book: IncidentBook
    ladders: dict[str, LadderState]
    pointless: list[str]


def arrived(
    before: IncidentBook,
    after: Outcome,
    ladders: Mapping[str, LadderState],
    entries: Mapping[str, Entry],
    on: Mapping[str, AlarmOn],
    now_ms: int,
) -> Arrived:
    """Join the ladders of merged incidents, and begin or go on with those of announced ones."""
    found = _merge(after, _going_on(before, after, ladders, entries))
    held = {key for each in before.incidents for key in each.members}
    for opened_as in after.announced:
        name = found.names.get(opened_as, opened_as)
        incident = next(each for each in found.book.incidents if each.id == name)
        lead, known = lead_of(incident, entries), found.ladders.get(name)
        if lead is None:
            # Acknowledged while it was gathered, or held back: there is nobody to call.
            found.ladders[name] = stopped(known or started(priority_of(incident, on), now_ms))
            continue
        priority = entries[lead].alarm.priority
        if known is None:
            found.ladders[name] = started(priority, now_ms)
            continue
        # A cause that is found later is not worth a call of its own, unless it is the more urgent.
        is_cause = name != opened_as and not incident.is_flood
        if not (is_cause and known.pace is LadderPace.CALL and priority >= known.priority):
            news = any(key not in held for key in incident.members)
            found.ladders[name] = resumed(known, priority, now_ms, news=news)
    return Arrived(found.book, found.ladders, found.pointless)


def _going_on(
    before: IncidentBook, after: Outcome, ladders: Mapping[str, LadderState], entries: Mapping[str, Entry]
) -> dict[str, LadderState]:
    """Let the ladder of an alarm that stopped only because it follows from another go on with that one."""
    found, ended = dict(ladders), {name for name, _ in after.merged}
    for incident in before.incidents:
        states = [entries[key].state for key in incident.members if key in entries]
        seen = [each for each in states if each.memory is not AlarmMemory.NORMAL]
        if incident.id in ended & found.keys() and seen and all(_is_held_back(each) for each in seen):
            found[incident.id] = replace(found[incident.id], pace=LadderPace.REMIND)
    return found


def _is_held_back(state: AlarmState) -> bool:
    """Nobody has acknowledged it, and no person but its cause keeps it back."""
    return (
        state.memory.waits_for_a_person and state.is_suppressed_by_design and state.shelf is None and state.out is None
    )


class _Merged(NamedTuple):
    book: IncidentBook
    ladders: dict[str, LadderState]
    names: dict[str, str]
    """the incident that was opened, to the id by which it goes on"""
    pointless: list[str]


def _merge(after: Outcome, ladders: dict[str, LadderState]) -> _Merged:
    """An incident that took others in goes on with the ladder of the most advanced, and by its id."""
    book, names, pointless = after.book, dict[str, str](), list[str]()
    for into in dict.fromkeys(into for _, into in after.merged):
        known = {
            name: ladders.pop(name)
            for name in (into, *(ended for ended, to in after.merged if to == into))
            if name in ladders
        }
        calls = {name: each for name, each in known.items() if each.pace is not LadderPace.STOPPED}
        if not calls:
            continue
        kept, ladder = joined(calls)
        book, ladders[kept], names[into] = renamed(book, into, kept), ladder, kept
        pointless += [name for name in known if name != kept]
    return _Merged(book, ladders, names, pointless)


def paced(
    ladder: LadderState, pace: Pace, key: str, incident: Incident, entries: Mapping[str, Entry], now_ms: int
) -> LadderState | None:
    """Slow down or stop as far as no other member of the incident waits for a person; None: it stays as it is."""
    others = [entries[each].state for each in incident.members if each != key and each in entries]
    waiting = [each.memory for each in others if each.memory.waits_for_a_person and not each.is_suppressed]
    if AlarmMemory.UNACKNOWLEDGED in waiting:
        return None
    return slowed(ladder, now_ms) if waiting or pace is Pace.REMIND else stopped(ladder)


def climb(
    incidents: Iterable[Incident],
    ladders: Mapping[str, LadderState],
    entries: Mapping[str, Entry],
    rota: Rota,
    now_ms: int,
) -> tuple[dict[str, LadderState], list[CallOut]]:
    """Ask every ladder. Of calls to one person at one moment the most urgent leads, and the others are listed."""
    due: dict[str, list[CallOut]] = {}
    after = dict(ladders)
    for incident in incidents:
        lead = lead_of(incident, entries)
        if incident.id not in ladders or lead is None:
            continue
        before = ladders[incident.id]
        found = plan(before, rota, now_ms)
        after[incident.id] = found.ladder
        others = tuple(each for each in incident.members if each != lead and each in entries)
        for call in found.calls:
            one = CallOut(
                call.person,
                call.contacts,
                incident.id,
                lead,
                others,
                call.rung,
                entries[lead].state.version,
                now_ms,
                tuple(each for each in before.told if each != call.person),
                before.cannot,
            )
            due.setdefault(call.person, []).append(one)
    return after, [together(calls, entries) for calls in due.values()]
