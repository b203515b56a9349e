"""What the desk and the watches remember of the same alarms, brought together after both were loaded. Pure.

They are stored in one transaction and agree. They differ where a row could not be read, or where the site file has
changed: a place or a probe is gone, or was put back. Of what one of them has lost the other one still knows, and an
alarm that one of them knows to be on reaches people; it ends by readings, or because nothing watches it any more.
"""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import replace
from typing import NamedTuple

from config.words import Priority
from daemon.alarm_desk import Desk
from daemon.alarm_desk_values import Entry, is_to_be_told, key_of
from daemon.alarm_transition import Transition
from daemon.alarms.conditions import Change
from daemon.alarms.incident import Incident
from daemon.alarms.ladder import LadderState, slowed, started, stopped


class Differing(NamedTuple):
    """`again`: on, told once, and not at the desk as such. `lost`: on at the desk, and no watch knows of it."""

    again: list[Transition]
    lost: list[Transition]


def differing(entries: Mapping[str, Entry], on: Iterable[Transition], heard: Collection[str], now_ms: int) -> Differing:
    """Compare. `on` are the alarms of the watches; those in `heard` change in this very step and are left to that."""
    watched = {key_of(each): each for each in on}
    held = {key for key, entry in entries.items() if entry.state.in_alarm}
    again = [
        replace(each, at_ms=now_ms, since_ms=min(each.since_ms, now_ms))
        for key, each in watched.items()
        if is_to_be_told(each, entries) and key not in held and key not in heard
    ]
    lost = [entries[key].raised for key in sorted(held - watched.keys()) if key not in heard]
    return Differing(again, lost)


def over(raised: Transition, now_ms: int) -> Transition:
    """The end of an alarm that nothing in the site file can end any more."""
    reason = "what it was about is not in the site file any more"
    return replace(raised, change=Change.CLEARED, at_ms=now_ms, value=None, limit=None, reason=reason)


def mend(desk: Desk, now_ms: int) -> None:
    """See to it that whatever waits for a person has a ladder: a row that was lost leads to a call, not to silence."""
    for incident in desk.book.incidents:
        if incident.id not in desk.ladders:
            desk.ladders[incident.id] = _ladder(
                [desk.entries[key] for key in incident.members if key in desk.entries], now_ms
            )
    alone = [key for key, entry in sorted(desk.entries.items()) if _waits(entry) and desk.book.holding(key) is None]
    call = [key for key in alone if desk.entries[key].state.in_alarm]
    waiting = tuple(dict.fromkeys((*desk.book.waiting, *call)))
    desk.book = replace(desk.book, waiting=waiting)
    for key in alone:
        if key not in waiting:
            entry = desk.entries[key]
            incident = Incident(f"{key}@{now_ms}", now_ms, key, (key,), entry.role.is_lethal)
            desk.book = replace(desk.book, incidents=(*desk.book.incidents, incident))
            desk.ladders[incident.id] = _ladder([entry], now_ms)


def _ladder(members: Collection[Entry], now_ms: int) -> LadderState:
    """Call for what is on, remind of what is over and was not acknowledged, and be still where somebody has."""
    waiting = [entry for entry in members if _waits(entry)]
    begun = started(min((entry.alarm.priority for entry in waiting), default=Priority.LOW), now_ms)
    if any(entry.state.in_alarm for entry in waiting):
        return begun
    return slowed(begun, now_ms) if waiting else stopped(begun)


def _waits(entry: Entry) -> bool:
    return entry.state.memory.waits_for_a_person and not entry.state.is_suppressed
