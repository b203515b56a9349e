"""Reads from the journal what alarms say: excursions, faults of probes, the broker, and calls that reached nobody."""

import sqlite3
from collections.abc import Iterator

from config.model import ROOM, Site
from config.places import Places
from config.words import AlarmKind, Priority, Quantity
from daemon.alarms.definitions import tuned
from daemon.alarms.wrong import LIMITED, WRONG
from daemon.contacts import names_by_contact
from daemon.review import calls
from daemon.review.around import Remark, Source
from daemon.review.fact_words import FactWords
from daemon.review.gaps import overlaps
from daemon.review.values import Fact, FactKind, Span
from daemon.review_gap_facts import Asked
from daemon.storage import alarm_spans, call_fates
from daemon.storage.alarm_spans import AlarmSpan

_FAULTS = frozenset({AlarmKind.PROBE_FAULT, AlarmKind.PROBES_DISAGREE})
_REMARKS = frozenset({AlarmKind.DOOR_OPEN, AlarmKind.JOURNAL_FAILING, AlarmKind.DISK_LOW})
_OF_MAINS = AlarmKind.MAINS_LOST


class AlarmFacts:
    """What the alarms of one site say. Of a channel that is no longer in the site nothing is said."""

    def __init__(self, site: Site, words: FactWords, sources: tuple[Source, ...]) -> None:
        self._places, self._words = Places(site), words
        self._sources = {source.channel: source for source in sources}
        self._priority = {kind: tuned(kind, site.alarms).priority for kind in AlarmKind}
        self._contacts = names_by_contact(site)

    def facts(self, conn: sqlite3.Connection, asked: Asked) -> Iterator[Fact]:
        """Give the facts that alarms come to, each whole, with a moment in the span."""
        kinds = {*LIMITED, *_FAULTS, AlarmKind.BROKER_LOST}
        for alarm in alarm_spans.spans(conn, kinds, asked.span.from_ms, asked.end_ms):
            kind, span = AlarmKind(alarm.kind), Span(alarm.since_ms, alarm.cleared_ms)
            if kind is AlarmKind.BROKER_LOST:
                said = self._words.broker(span, alarm.reason.rstrip(". "))
                yield Fact(FactKind.BROKER_LOST, span, "", alarm.subject, said)
            elif kind in LIMITED and alarm.subject in self._sources:
                yield self._excursion(kind, alarm, span)
            elif kind in _FAULTS and self._is_here(alarm.subject):
                place = self._place_of(alarm.subject)
                said = self._words.fault(kind, self._name(place), alarm.subject, span, alarm.reason)
                yield Fact(FactKind.PROBE_FAULT, span, place, alarm.subject, said)

    def mains_lost(self, conn: sqlite3.Connection, asked: Asked) -> list[Span]:
        """Give when the alarm about the mains was on: it is of the highest priority, and rings above eggs alone."""
        if self._priority[_OF_MAINS] is not Priority.CRITICAL:
            return []
        alarms = alarm_spans.spans(conn, {_OF_MAINS}, asked.span.from_ms, asked.end_ms)
        return [Span(alarm.since_ms, alarm.cleared_ms) for alarm in alarms]

    def remarks(self, conn: sqlite3.Connection, asked: Asked) -> Iterator[Remark]:
        """Give what else held: open doors, a journal or a disk that failed."""
        for alarm in alarm_spans.spans(conn, _REMARKS, asked.span.from_ms, asked.end_ms):
            span, place = Span(alarm.since_ms, alarm.cleared_ms), self._place_of(alarm.subject)
            yield Remark(span, place, self._words.remark(AlarmKind(alarm.kind), self._name(place), span))

    def calls(self, conn: sqlite3.Connection, asked: Asked) -> Iterator[Fact]:
        """Give the calls that reached nobody, or nobody for long."""
        start_ms = asked.span.from_ms - calls.REACH_BACK_MS
        for call in calls.failed(call_fates.between(conn, start_ms, asked.end_ms), asked.now_ms):
            if not overlaps(call.span, Span(asked.span.from_ms, asked.end_ms)):
                continue
            kind, subject = _about(call.occurrence)
            place = self._place_of(subject)
            names = [self._contacts.get(contact, contact) for contact in call.contacts]
            about = f"{f'{self._name(place)}, ' if place else ''}{WRONG[kind] if kind else 'an alarm'}"
            tell = self._words.given_up if call.gave_up else self._words.undelivered
            said = tell(about, names, call.span, call.error)
            yield Fact(FactKind.DELIVERY_FAILED, call.span, place, ", ".join(call.contacts), said)

    def _excursion(self, kind: AlarmKind, alarm: AlarmSpan, span: Span) -> Fact:
        source = self._sources[alarm.subject]
        quantity: Quantity = source.quantity
        said = self._words.excursion(kind, self._name(source.place), alarm.subject, quantity, span, alarm.limit)
        critical = self._priority[kind] is Priority.CRITICAL
        return Fact(FactKind.EXCURSION, span, source.place, alarm.subject, said, critical)

    def _is_here(self, subject: str) -> bool:
        return subject in self._sources or self._places.exists(subject) or "/" not in subject

    def _place_of(self, subject: str) -> str:
        """The place that an alarm is about, by its channel or by the place itself; empty for the whole site."""
        if subject in self._sources:
            return self._sources[subject].place
        return subject if self._places.exists(subject) else ""

    def _name(self, place: str) -> str:
        return self._places.name(place) if place == ROOM or self._places.exists(place) else ""


def _about(occurrence: str) -> tuple[AlarmKind | None, str]:
    """The kind and the subject of an alarm by the name of its occurrence."""
    kind, _, rest = occurrence.partition(":")
    return (AlarmKind(kind) if kind in set(AlarmKind) else None), rest.rpartition(":")[0]
