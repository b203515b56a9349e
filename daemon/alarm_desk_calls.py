"""Who is called and told about which alarm of an incident, and what goes into one message. Pure."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace

from config.words import Priority
from daemon.alarm_desk_values import CallOut, Entry, Told
from daemon.alarms.events import Effect, ReviewDue, Tell, Why
from daemon.alarms.incident import Incident
from daemon.alarms.people import Rota, on_duty
from daemon.alarms.state_values import AlarmState


def for_people(effect: Effect, state: AlarmState) -> Effect:
    """A review that is due is a message to the people on duty; every other effect stays what it is."""
    if not isinstance(effect, ReviewDue):
        return effect
    why = Why.REVIEW_DUE if effect.priority is Priority.LOW else Why.REVIEW_LATE
    return Tell(why, state.occurrence, state.version, effect.at_ms)


def lead_of(incident: Incident, entries: Mapping[str, Entry]) -> str | None:
    """The member that gives the headline: the most urgent that waits for a person, the leader first."""
    waiting = [
        key
        for key in (incident.leader, *incident.members)
        if key in entries and entries[key].state.memory.waits_for_a_person and not entries[key].state.is_suppressed
    ]

    def order(key: str) -> tuple[bool, int, bool, bool]:
        # What is over is no headline while something else is on.
        return not entries[key].state.in_alarm, *urgency(entries[key]), key != incident.leader

    return min(waiting, key=order, default=None)


def urgency(entry: Entry) -> tuple[int, bool]:
    """The smaller, the more urgent: by priority, and of equal ones what kills eggs now first."""
    return int(entry.alarm.priority), not entry.role.is_lethal


def waits(entry: Entry) -> bool:
    """Tell whether somebody has yet to do something about an alarm, and it is not held back by anybody."""
    state = entry.state
    return state.in_alarm and state.memory.waits_for_a_person and not state.is_suppressed


def together(calls: Sequence[CallOut], entries: Mapping[str, Entry]) -> CallOut:
    """Of calls to one person at one moment the most urgent leads; of the others the most urgent comes first."""
    first = min(calls, key=lambda each: urgency(entries[each.lead]))
    others = dict.fromkeys(key for each in calls for key in (each.lead, *each.others) if key != first.lead)
    contacts = dict.fromkeys(contact for each in calls for contact in each.contacts)
    in_order = sorted(others, key=lambda key: (*urgency(entries[key]), not waits(entries[key])))
    return replace(first, others=tuple(in_order), contacts=tuple(contacts))


def told_of(key: str, effect: Tell, called: Collection[str], rota: Rota, *, every: bool) -> list[Told]:
    """To all who were called, on duty or not; to whoever is on duty first where nobody was.

    By `every` contact of theirs or the first.
    """
    order = on_duty(rota, effect.at_ms).order
    also = [each for each in rota.people if each not in order]
    people = [each for each in (*order, *also) if each.id in called] or list(order[:1])
    return [
        Told(
            person.id,
            tuple(each.id for each in (person.usable if every else person.usable[:1])),
            key,
            effect.why,
            effect.occurrence,
            effect.version,
            effect.at_ms,
            effect.who,
        )
        for person in people
        if person.id != effect.who
    ]
