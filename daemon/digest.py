"""Reads what the digest of a day tells, and writes it as one message for each person."""

import hashlib
import sqlite3
from collections.abc import Callable, Iterator, Mapping, Sequence
from zoneinfo import ZoneInfo

from config.model import ROOM
from config.places import Places
from config.site import Person, Site
from config.species import SpeciesProfile
from config.words import Priority, Quantity
from daemon.alarm_desk_values import Entry
from daemon.alarms.delivery import MessageKind, MessageStatus, OutgoingMessage
from daemon.alarms.state_values import AlarmMemory
from daemon.alarms.wrong import WRONG
from daemon.answer_values import person_name
from daemon.backups.told import restore_lines
from daemon.contacts import contact_ids
from daemon.desk_work import DeskWork
from daemon.digest_text import DigestText, digest_text
from daemon.digest_values import ChannelDay, ClutchDay, Digest, NotTold, OpenAlarm, PlaceDay
from daemon.overview import ChannelNow, IncubatorNow, Overview
from daemon.review.telling import Telling
from daemon.review.waiting import waiting_line
from daemon.rota import DeadContacts
from daemon.storage import backups, calibrations, chain, day_figures, incidents
from daemon.storage.outbox import OutboxMessage
from daemon.undelivered import dead_contacts
from sensors.calibration import Calibrations

DAY_MS = 24 * 3_600_000
_TOLD = (Quantity.AIR_TEMPERATURE, Quantity.SURFACE_TEMPERATURE, Quantity.RELATIVE_HUMIDITY)
"""What has a least, a mean and a most; contacts of doors and mains have not."""

RoundLines = Callable[[sqlite3.Connection, int], Sequence[str]]
"""Sentences about the next rounds, from a moment of the journal and the present, UTC ms."""


def no_rounds(_conn: sqlite3.Connection, _now_ms: int) -> Sequence[str]:
    """Tell nothing of rounds."""
    return ()


class DigestReader:
    """Reads for one site. A step between two readings longer than `bridge_ms` is a gap, where its probe sends oftener.

    What it costs depends on the readings of one day.
    """

    def __init__(
        self, site: Site, profiles: Mapping[str, SpeciesProfile], bridge_ms: int, rounds: RoundLines = no_rounds
    ) -> None:
        self._site = site
        self._places = Places(site)
        self._work = DeskWork(site, profiles)
        self._bridge_ms = bridge_ms
        self._rounds = rounds
        self._names = {person.id: person.name for person in site.people}

    def read(self, conn: sqlite3.Connection, overview: Overview, now_ms: int) -> Digest:
        """All that the digest tells; `overview` is of nearly the same moment."""
        entries = self._work.read(conn).entries
        shown = [entry for _, entry in sorted(entries.items(), key=lambda each: each[0])]
        loud = [entry for entry in shown if not entry.state.is_suppressed and _is_open(entry)]
        corrections = calibrations.load(conn, self._site)
        return Digest(
            now_ms=now_ms,
            zone=ZoneInfo(self._site.time_zone),
            fahrenheit=self._site.temperature_unit == "F",
            open=tuple(map(self._open, loud)),
            not_told=tuple(self._not_told(entry) for entry in shown if entry.state.is_suppressed),
            troubles=overview.troubles,
            rounds=tuple(self._rounds(conn, now_ms)),
            reviews=self._reviews(conn, now_ms),
            backups=restore_lines(backups.newest_test(conn), now_ms),
            places=tuple(
                place for each in overview.watched for place in self._measured(conn, each, corrections, now_ms)
            ),
            clutches=tuple(self._clutches(overview, {entry.raised.place for entry in loud})),
            journal_code=chain.head_code(conn),
        )

    def _reviews(self, conn: sqlite3.Connection, now_ms: int) -> tuple[str, ...]:
        due = incidents.under_review(conn)
        noted_ms = {each.incident_id: note.at_ms for each in due for note in incidents.notes(conn, each.incident_id)}
        telling = Telling(ZoneInfo(self._site.time_zone))
        line = waiting_line(due, noted_ms, now_ms, telling)
        return (line,) if line else ()

    def _open(self, entry: Entry) -> OpenAlarm:
        state, raised = entry.state, entry.raised
        who = f" by {person_name(self._names, state.acknowledged_by)}" if state.acknowledged_by else ""
        since_ms = raised.since_ms if state.since_ms is None else state.since_ms
        name = self._place_name(raised.place)
        return OpenAlarm(entry.alarm.priority, name, _what(entry), since_ms, f"{state.shown.value}{who}")

    def _not_told(self, entry: Entry) -> NotTold:
        """One alarm can be silent for several reasons: a person's own comes before a designed one."""
        state, name, what = entry.state, self._place_name(entry.raised.place), _what(entry)
        if state.out is not None:
            who = person_name(self._names, state.out.who)
            return NotTold(name, what, f"out of service by {who}, review", state.out.review_ms, state.out.reason)
        if state.shelf is not None:
            who = person_name(self._names, state.shelf.who)
            return NotTold(name, what, f"shelved by {who} until", state.shelf.until_ms, state.shelf.reason)
        reasons = [each for each in state.design if not each.spent]
        last = max(reasons, key=lambda each: each.ends_ms)
        return NotTold(name, what, f"held back ({last.mode.value}) at most until", last.ends_ms)

    def _measured(
        self, conn: sqlite3.Connection, here: IncubatorNow, corrections: Calibrations, now_ms: int
    ) -> Iterator[PlaceDay]:
        at: dict[str, list[ChannelDay]] = {}
        for channel in here.channels:
            if channel.quantity in _TOLD:
                at.setdefault(channel.place, []).append(self._channel(conn, channel, corrections, now_ms))
        for place, channels in at.items():
            yield PlaceDay(self._place_name(place), tuple(channels))

    def _channel(
        self, conn: sqlite3.Connection, channel: ChannelNow, corrections: Calibrations, now_ms: int
    ) -> ChannelDay:
        start_ms, bridge_ms = now_ms - DAY_MS, max(self._bridge_ms, channel.old_after_ms)
        pieces = corrections.straight(channel.channel, start_ms, now_ms - 1)
        found = day_figures.figures(conn, channel.channel, pieces, start_ms, now_ms, bridge_ms)
        missing_ms = DAY_MS - found.covered_ms
        return ChannelDay(channel.quantity, found.least, found.mean, found.most, missing_ms, channel.low, channel.high)

    def _clutches(self, overview: Overview, alarmed: set[str]) -> Iterator[ClutchDay]:
        for incubator in overview.incubators:
            for clutch in incubator.clutches:
                alarm = not alarmed.isdisjoint(self._places.chain(clutch.place))
                yield ClutchDay(clutch.label, clutch.share, clutch.window, alarm)

    def _place_name(self, place: str) -> str:
        return self._places.name(place) if place == ROOM or self._places.exists(place) else ""


class DigestWriter:
    """Writes the messages of one digest, each with an id that is the same whenever it is written for that day."""

    def __init__(self, site: Site, status: MessageStatus, dead: DeadContacts = dead_contacts) -> None:
        self._site = site
        self._status = status
        self._dead = dead

    def missing(self, conn: sqlite3.Connection, day: str) -> list[Person]:
        """The people who are to get the digest of a day and have not; whoever is called in emergencies gets none."""
        people = [person for person in self._site.people if person.contacts and not person.emergency]
        return [
            person
            for person in people
            if not conn.execute("SELECT 1 FROM outbox WHERE message_id = ?", (self._id(day, person),)).fetchone()
        ]

    def messages(
        self, conn: sqlite3.Connection, people: Sequence[Person], digest: Digest, day: str
    ) -> list[OutboxMessage]:
        """One for each of these people, to the first contact that works."""
        text, dead = digest_text(digest), self._dead(conn, self._site)
        return [self._message(person, text, day, dead, digest.now_ms) for person in people]

    def _message(self, person: Person, text: DigestText, day: str, dead: frozenset[str], now_ms: int) -> OutboxMessage:
        contacts = contact_ids(person)
        message = OutgoingMessage(
            message_id=self._id(day, person),
            kind=MessageKind.DIGEST,
            status=self._status,
            site=self._site.name,
            place="",
            priority=Priority.LOW,
            headline=text.headline,
            body=text.body,
        )
        contact = next((each for each in contacts if each not in dead), contacts[0])
        return OutboxMessage(message.message_id, contact, int(message.priority), now_ms, message.to_json())

    def _id(self, day: str, person: Person) -> str:
        parts = ("digest", self._site.name, day, person.id)
        return hashlib.sha256("|".join(parts).encode()).hexdigest()[:24]


def _is_open(entry: Entry) -> bool:
    return entry.state.in_alarm or entry.state.memory is not AlarmMemory.NORMAL


def _what(entry: Entry) -> str:
    return f"{entry.raised.about} {WRONG[entry.raised.kind]}".strip()
