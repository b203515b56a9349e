"""Who is called and told about which alarm of an incident, and what goes into one message. Pure."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace

from config.words import Priority
from daemon.alarm_desk_values import CallOut, Entry, Told
from daemon.alarms.events import Effect, ReviewDue, Tell, Why
from daemon.alarms.incident import Incident
from daemon.alarms.people import Person
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
    return min(waiting, key=lambda key: (entries[key].alarm.priority, key != incident.leader), default=None)


def together(calls: Sequence[CallOut], entries: Mapping[str, Entry]) -> CallOut:
    """Of calls to one person at one moment the most urgent leads, and the others are listed."""
    first = min(calls, key=lambda each: entries[each.lead].alarm.priority)
    others = (key for each in calls for key in (each.lead, *each.others) if key != first.lead)
    contacts = dict.fromkeys(contact for each in calls for contact in each.contacts)
    return replace(first, others=tuple(dict.fromkeys(others)), contacts=tuple(contacts))


def told_of(key: str, effect: Tell, called: Collection[str], order: Sequence[Person], *, every: bool) -> list[Told]:
    """To those who were called; to whoever is on duty first where nobody was. By `every` contact of theirs or one."""
    people = [each for each in order if each.id in called] or list(order[:1])
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
