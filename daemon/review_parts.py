"""The parts of an account, each read once from one moment of the journal."""

import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from config.model import ROOM
from config.places import Places
from config.site import Site
from config.species import SpeciesProfile
from config.words import Quantity
from daemon.alarms.silence import window_ms
from daemon.clutches import register
from daemon.heat_now import kept_before
from daemon.occupancy import Occupancy, stays
from daemon.review.account import EARLIER_MS, ClutchAccount, KeeperNote, Line, PlaceAccount, Review, ToldLine
from daemon.review.account_summary import TITLES, heading, summary
from daemon.review.blind import blind_of
from daemon.review.clutch_advice import advice
from daemon.review.clutch_words import clutch_sentences
from daemon.review.gap_values import HeatOff
from daemon.review.joining import SLACK_MS
from daemon.review.place_words import place_sentences
from daemon.review.telling import Telling, listed
from daemon.review.timeline import of_facts, of_places, timeline
from daemon.review.todo import not_known, todo_of
from daemon.review.values import Fact, FactKind, Incident, Span
from daemon.review_clutches import ClutchReviews
from daemon.review_events import Events
from daemon.review_facts import FactReader
from daemon.review_places import reviews_of
from daemon.review_records import PlaceRecords
from daemon.review_told import told
from daemon.stage_begins import StageBegins
from daemon.storage import chain, heat, incidents, samples
from daemon.storage.incidents import Note
from daemon.thermometers import AirChannels


@dataclass(frozen=True, slots=True)
class Parts:
    """What an account of one period is made of."""

    conn: sqlite3.Connection
    site: Site
    profiles: Mapping[str, SpeciesProfile]
    bridge_ms: int
    reader: FactReader
    telling: Telling
    places: Places
    period: Span
    now_ms: int

    def review(self, incident: Incident | None, asked: int, notes: Sequence[Note]) -> Review:
        """Put the account together; without an incident that of the period alone."""
        conn, period, now_ms, telling = self.conn, self.period, self.now_ms, self.telling
        from_ms, to_ms = period.from_ms, period.until(now_ms)
        others = tuple(incidents.between(conn, from_ms, to_ms))
        facts = self._facts(incident, others)
        air = AirChannels(self.site)
        air.load(conn)
        records = PlaceRecords(conn, self.site, air, self.bridge_ms, heat_off(facts))
        places, clutches = self._looked_at(records)
        lines = told(conn, self.site, from_ms, to_ms, now_ms, telling)
        overdue, uncalibrated = self._calibrations(air)
        blind = blind_of(facts, period, now_ms)
        reviewed = any(note.field == "outcome" for note in notes)
        looked, names = ([each.review for each in places], [each.review for each in clutches]), self._names()
        return Review(
            period=Span(from_ms, to_ms),
            now_ms=now_ms,
            incident=incident,
            others=tuple(each for each in others if incident is None or each.incident_id != incident.incident_id),
            asked_number=asked,
            heading=heading(incident),
            site_name=self.site.name,
            time_zone=self.site.time_zone,
            fahrenheit=telling.fahrenheit,
            period_text=f"{telling.dated(from_ms)} to {telling.until(to_ms, from_ms)} ({self.site.time_zone})",
            made_text=f"{telling.dated(now_ms)} ({self.site.time_zone})",
            summary=summary(incident, others, period, looked, names, telling),
            timeline=self._timeline(facts, places, lines, names),
            places=places,
            clutches=clutches,
            told=lines,
            blind=blind,
            todo=todo_of(incident, facts, clutches, lines, overdue, reviewed),
            not_known=not_known(incident, facts, places, clutches, lines, blind, overdue, uncalibrated, to_ms),
            notes=self._notes(notes),
            chain_code=chain.head_code(conn),
            is_going_on=incident is not None and incident.span.to_ms is None,
            room=self._room(records),
            earlier=tuple(self._earlier(incident, names)),
        )

    def _notes(self, notes: Sequence[Note]) -> tuple[KeeperNote, ...]:
        dated = self.telling.dated
        return tuple(KeeperNote(each.field, each.at_ms, dated(each.at_ms), each.who, each.text) for each in notes)

    def _facts(self, incident: Incident | None, others: Sequence[Incident]) -> tuple[Fact, ...]:
        """Facts of the period: as they were stored with incidents, and what else the journal shows now."""
        from_ms, to_ms = self.period.from_ms, self.period.until(self.now_ms)
        stored = [fact for each in ((incident,) if incident else ()) for fact in each.facts]
        stored += [fact for each in others for fact in each.facts if fact not in stored]
        known = {(fact.kind, fact.subject, fact.span.from_ms) for fact in stored}
        new = [
            fact
            for fact in self.reader.read(self.conn, from_ms, to_ms, self.now_ms).facts
            if (fact.kind, fact.subject, fact.span.from_ms) not in known
        ]
        within = [
            fact for fact in (*stored, *new) if fact.span.from_ms <= to_ms and fact.span.until(self.now_ms) >= from_ms
        ]
        return tuple(sorted(within, key=lambda fact: (fact.span.from_ms, fact.kind, fact.subject)))

    def _looked_at(self, records: PlaceRecords) -> tuple[tuple[PlaceAccount, ...], tuple[ClutchAccount, ...]]:
        measured = Span(self.period.from_ms, self._measured_until_ms())
        places = reviews_of(records, self._occupancy(), measured, self.now_ms)
        reader = ClutchReviews(self.conn, self.site, self.profiles, records.air, self.bridge_ms, records)
        telling = self.telling
        clutches = [
            ClutchAccount(
                each,
                clutch_sentences(each, fahrenheit=telling.fahrenheit, zone=telling.zone, now_ms=self.now_ms),
                advice(each, fahrenheit=telling.fahrenheit),
            )
            for each in reader.of(measured, self.now_ms)
        ]
        return tuple(PlaceAccount(each, place_sentences(each, telling)) for each in places), tuple(clutches)

    def _measured_until_ms(self) -> int:
        """The end of the period, or the last moment at which every probe that speaks has spoken, just before it.

        The next readings are on their way: the time since the last ones is no gap.
        """
        from_ms, to_ms = self.period.from_ms, self.period.until(self.now_ms)
        windows_ms = {probe.id: window_ms(probe.interval_s) for probe in self.site.probes}
        if to_ms <= self.now_ms - max(windows_ms.values(), default=0):
            return to_ms
        spoke = [
            each.measured_at_ms
            for channel, each in samples.newest_until(self.conn, to_ms).items()
            if to_ms - windows_ms.get(channel.split("/", 1)[0], 0) <= each.measured_at_ms
        ]
        return max(min(spoke, default=to_ms), from_ms + 1)

    def _occupancy(self) -> Occupancy:
        """All clutches that lay here in the period, with the beginnings of their stages."""
        from_ms, to_ms = self.period.from_ms, self.period.until(self.now_ms)
        lain = [
            one
            for one in register.clutches(self.conn, include_closed=True)
            if any(stay.from_ms < to_ms and end_ms > from_ms for stay, end_ms in stays(one))
        ]
        begins = StageBegins(self.profiles)
        for one in lain:
            if begins.is_staged(one):
                begins.take(one.clutch_id, heat.hours(self.conn, one.clutch_id))
        stages = {one.clutch_id: begins.begins(one, kept_before(self.site, one)) for one in lain}
        return Occupancy(lain, self.places, self.profiles, stages)

    def _timeline(
        self, facts: Sequence[Fact], places: Sequence[PlaceAccount], lines: Sequence[ToldLine], names: dict[str, str]
    ) -> tuple[Line, ...]:
        from_ms, to_ms = self.period.from_ms, self.period.until(self.now_ms)
        happened = [
            *of_facts(facts, self.telling),
            *of_places([each.review for each in places], self.telling),
            *Events(self.conn, self.site, self.telling).between(from_ms, to_ms, lines),
        ]
        return timeline(happened, names, self.period, self.now_ms, self.telling)

    def _room(self, records: PlaceRecords) -> str:
        channel = self._room_channel()
        if not channel:
            return "No probe measures the room."
        found = records.extremes(channel, self.period.from_ms, self.period.until(self.now_ms))
        if found is None:
            return f"The probe of the room ({channel}) was not read in this time."
        low, high = (self.telling.temperature(each.temperature_c) for each in found)
        return f"The room, by {channel}: {low}." if low == high else f"The room, by {channel}: {low} to {high}."

    def _room_channel(self) -> str:
        for probe in self.site.probes:
            for channel in probe.channels:
                if probe.place == ROOM and channel.quantity is Quantity.AIR_TEMPERATURE:
                    return f"{probe.id}/{channel.name}"
        return ""

    def _earlier(self, incident: Incident | None, names: dict[str, str]) -> Iterator[str]:
        """Incidents of the weeks before that were about the same places, or about the whole site, oldest first."""
        if incident is None:
            return
        begin_ms = incident.span.from_ms
        for each in incidents.between(self.conn, begin_ms - EARLIER_MS, begin_ms):
            shared = set(each.places) & set(incident.places)
            if each.incident_id == incident.incident_id or (each.places and incident.places and not shared):
                continue
            where = listed(sorted(names.get(place, place) for place in each.places)) or self.site.name
            yield f"Incident {each.incident_id}, {self.telling.span(each.span)}: {TITLES[each.cause]} ({where})."

    def _names(self) -> dict[str, str]:
        return {ROOM: self.places.name(ROOM)} | {place: self.places.name(place) for place in self.places.all}

    def _calibrations(self, air: AirChannels) -> tuple[list[str], list[str]]:
        """Channels that measure something and whose calibration was overdue at the end, and those that have none."""
        at_ms, overdue, none = self.period.until(self.now_ms), [], []
        for channel in self._measuring():
            record = air.calibrations.in_force(channel, at_ms)
            if record is None:
                none.append(channel)
            elif record.due_at_ms is not None and record.due_at_ms <= at_ms:
                overdue.append(channel)
        return overdue, none

    def _measuring(self) -> Iterator[str]:
        for probe in self.site.probes:
            for channel in probe.channels:
                if not channel.quantity.is_contact:
                    yield f"{probe.id}/{channel.name}"


def heat_off(facts: Sequence[Fact]) -> tuple[HeatOff, ...]:
    """Over which spans a contact says that there was no mains, and so no heat.

    Where the contact itself was silent until it said that the mains is there, the heat may have been back before; when,
    nobody saw, so the span reaches beyond the gaps of that time and its end is estimated.
    """
    found = []
    for fact in facts:
        if fact.kind is not FactKind.MAINS_ABSENT:
            continue
        span, end_ms = fact.span, fact.span.to_ms
        unseen = end_ms is not None and any(
            other.kind is FactKind.PROBE_GAP and other.subject == fact.subject and other.span.to_ms == end_ms
            for other in facts
        )
        if unseen and end_ms is not None:
            span = Span(span.from_ms, end_ms + SLACK_MS)
        found.append(HeatOff(span, fact.place, fact.words))
    return tuple(found)
