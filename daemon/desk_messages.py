"""From what follows at the alarm desk to messages in the outbox."""

import hashlib
import logging
import sqlite3
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from typing import NamedTuple

from config.places import Places
from config.site import Site
from config.words import Priority
from daemon.alarm_desk import Desk
from daemon.alarm_desk_calls import waits
from daemon.alarm_desk_values import CallOut, Entry, Outcome, Seen, Told, key_of
from daemon.alarm_transition import Transition
from daemon.alarms.conditions import Change
from daemon.alarms.delivery import MessageKind
from daemon.alarms.events import Why
from daemon.alarms.wording import AlertFacts, Stage
from daemon.alarms.wrong import WRONG
from daemon.alerts import AlertWriter
from daemon.answer_values import AT_THE_PAGE
from daemon.occupancy import Occupancy
from daemon.plain_messages import plain_message
from daemon.rota import quiet_hours
from daemon.storage import alarm_links, outbox
from daemon.storage.alarm_links import AlarmLink
from daemon.storage.outbox import OutboxMessage

log = logging.getLogger("clutchwarden.messages")


class Written(NamedTuple):
    """Messages, and what the links in them are good for: they belong into one transaction."""

    messages: list[OutboxMessage]
    links: list[AlarmLink]

    def with_these(self, others: "Written") -> "Written":
        """Give both together."""
        return Written([*self.messages, *others.messages], [*self.links, *others.links])

    def store(self, conn: sqlite3.Connection) -> None:
        """Put all of it into the journal."""
        alarm_links.store(conn, self.links)
        outbox.enqueue(conn, self.messages)


class DeskMessages:
    """Writes the messages of one site. Without a `public_url` they have no links."""

    def __init__(self, site: Site, places: Places, writer: AlertWriter, public_url: str | None = None) -> None:
        self._names = {AT_THE_PAGE: "Somebody at the page"} | {person.id: person.name for person in site.people}
        self._site_name = site.name
        self._public_url = public_url
        self._places = places
        self._writer = writer
        self._quiet = quiet_hours(site)

    def of(
        self,
        conn: sqlite3.Connection,
        outcome: Outcome,
        desk: Desk,
        ended: Mapping[str, Transition],
        occupancy: Occupancy,
        now_ms: int,
    ) -> Written:
        """One message for each contact that is called or told. `ended` are the conditions that ended, by alarm."""
        entries = {**outcome.closed, **desk.entries}
        links: list[AlarmLink] = []
        messages: list[OutboxMessage] = []
        for call in outcome.calls:
            written = self._called(conn, call, entries, occupancy, now_ms, links)
            messages += self._sure(written, call, call.lead, entries, now_ms)
        for each in outcome.told:
            written = self._told(conn, each, entries, ended, occupancy, now_ms)
            messages += self._sure(written, each, each.key, entries, now_ms)
        return Written(messages, links)

    def _sure(
        self,
        written: Iterable[OutboxMessage],
        wanted: CallOut | Told,
        key: str,
        entries: Mapping[str, Entry],
        now_ms: int,
    ) -> list[OutboxMessage]:
        """One text that cannot be written must hold up neither the others nor the evaluation: it is told plainly."""
        try:
            return list(written)
        except sqlite3.Error:
            raise  # nothing could be stored either; the step is done again
        except Exception:
            log.exception("The text of %s could not be written; people are told plainly.", key)
        page = self._public_url or ""
        return [
            plain_message(
                entries[key],
                self._site_name,
                self._writer.status,
                _id_of(wanted, contact),
                contact,
                _kind_of(wanted),
                wanted.incident if isinstance(wanted, CallOut) else "",
                now_ms,
                page,
                is_taken=isinstance(wanted, Told) and wanted.why is Why.TAKEN,
            )
            for contact in wanted.contacts
        ]

    def _called(
        self,
        conn: sqlite3.Connection,
        call: CallOut,
        entries: Mapping[str, Entry],
        occupancy: Occupancy,
        now_ms: int,
        links: list[AlarmLink],
    ) -> Iterator[OutboxMessage]:
        lead = entries[call.lead]
        first = call.rung == 1 and call.version == 1
        raised = lead.raised if first else replace(lead.raised, value=None)
        facts = self._writer.facts(conn, raised, occupancy, now_ms)
        facts = replace(
            facts,
            stage=Stage.RAISED if first else Stage.STILL,
            told=tuple(self._told_before(call)),
            # What is over, held back or acknowledged is no news in a call.
            also=tuple(
                self._label(entries[key].raised) for key in call.others if key in entries and waits(entries[key])
            ),
        )
        if call.rung == 0:
            facts = replace(facts, stage=Stage.CLEARED, worst=lead.raised.peak, ended_ms=lead.state.returned_ms)
            facts = replace(facts, detail="nobody has acknowledged it yet", left=_left(call.lead, lead))
        kind = MessageKind.ALARM if first else MessageKind.REMINDER
        for contact in call.contacts:
            message_id = _id_of(call, contact)
            linked = replace(facts, link=self._link(call, entries, now_ms, links))
            yield self._writer.message(raised, linked, contact, message_id, kind, call.incident, now_ms)

    def _told_before(self, call: CallOut) -> Iterator[str]:
        for person in call.told:
            if person in self._names:
                yield f"{self._names[person]} (cannot go)" if person in call.cannot else self._names[person]

    def _link(self, call: CallOut, entries: Mapping[str, Entry], now_ms: int, links: list[AlarmLink]) -> str:
        """Make a link of its own for one message; empty where there is no address for one."""
        if self._public_url is None:
            return ""
        states = {key: entries[key].state for key in (call.lead, *call.others) if key in entries}
        seen = [
            Seen(key, state.occurrence, state.version)
            for key, state in states.items()
            if state.memory.waits_for_a_person
        ]
        token, row = alarm_links.new_link(call.person, seen, now_ms)
        links.append(row)
        return f"{self._public_url}/a/{token}"

    def _told(
        self,
        conn: sqlite3.Connection,
        told: Told,
        entries: Mapping[str, Entry],
        ended: Mapping[str, Transition],
        occupancy: Occupancy,
        now_ms: int,
    ) -> Iterator[OutboxMessage]:
        raised = entries[told.key].raised
        if told.why is Why.TAKEN:
            facts = self._writer.facts(conn, replace(raised, value=None), occupancy, now_ms)
            facts = replace(facts, stage=Stage.TAKEN, who=self._names.get(told.who, told.who))
            transition, kind = raised, MessageKind.REMINDER
        elif told.why in (Why.REVIEW_DUE, Why.REVIEW_LATE):
            transition, kind = replace(raised, value=None), MessageKind.REMINDER
            facts = self._review(self._writer.facts(conn, transition, occupancy, now_ms), entries[told.key], told.why)
        else:
            over = replace(raised, change=Change.CLEARED, at_ms=told.at_ms, value=None)
            transition, kind = ended.get(told.key, over), MessageKind.CLEARED
            facts = self._writer.facts(conn, transition, occupancy, now_ms)
            facts = replace(facts, left=_left(told.key, entries[told.key]))
        # Quiet hours hold this too: what is over, or seen to by another, is no reason to wake anybody.
        low = facts.definition.priority is Priority.LOW
        until_ms = self._quiet.end_of_quiet_ms(now_ms) if low and self._quiet is not None else None
        for contact in told.contacts:
            message_id = _id_of(told, contact)
            message = self._writer.message(transition, facts, contact, message_id, kind, "", now_ms)
            yield replace(message, not_before_ms=until_ms)

    def _review(self, facts: AlertFacts, entry: Entry, why: Why) -> AlertFacts:
        """What was taken out of service is not on: it is as urgent as its review."""
        out, priority = entry.state.out, Priority.LOW if why is Why.REVIEW_DUE else Priority.HIGH
        detail = "" if out is None else f"{out.reason}, says {self._names.get(out.who, out.who)}"
        return replace(
            facts,
            stage=Stage.REVIEW,
            definition=replace(facts.definition, priority=priority),
            value=None,
            detail=detail,
        )

    def _label(self, raised: Transition) -> str:
        place = self._places.name(raised.place) if raised.place else self._site_name
        about = f"{raised.about} " if raised.about else ""
        return f"{place}: {about}{WRONG[raised.kind]}"


def _left(key: str, entry: Entry) -> str:
    """What is left to do of an alarm whose condition is over; empty where nothing is."""
    memory = entry.state.memory
    if memory.is_latched:
        return f"Held until somebody has looked: clutchwarden alarms reset {key}."
    return "Nobody has acknowledged it: look what it was." if memory.waits_for_a_person else ""


def _id(*parts: object) -> str:
    """The same message has the same id, so that a step that is done again sends nothing twice."""
    return hashlib.sha256("|".join(map(str, parts)).encode()).hexdigest()[:24]


def _id_of(wanted: CallOut | Told, contact: str) -> str:
    if isinstance(wanted, CallOut):
        return _id(wanted.incident, wanted.lead, wanted.version, wanted.rung, wanted.at_ms, contact)
    return _id(wanted.occurrence, wanted.why, wanted.version, wanted.at_ms, contact)


def _kind_of(wanted: CallOut | Told) -> MessageKind:
    if isinstance(wanted, CallOut):
        return MessageKind.ALARM if wanted.rung == 1 and wanted.version == 1 else MessageKind.REMINDER
    is_update = wanted.why in (Why.TAKEN, Why.REVIEW_DUE, Why.REVIEW_LATE)
    return MessageKind.REMINDER if is_update else MessageKind.CLEARED


def ended_in(transitions: list[Transition]) -> dict[str, Transition]:
    """The conditions that ended in these transitions, by alarm; of several ends of one the last."""
    return {key_of(each): each for each in transitions if each.change is Change.CLEARED and not each.late}
