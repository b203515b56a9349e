"""All alarms for a page: as they are now, what people want of them, their journal and their measures."""

import hashlib
import sqlite3
from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping
from zoneinfo import ZoneInfo

from config.model import ROOM
from config.places import Places
from config.site import Site
from config.species import SpeciesProfile
from daemon.alarm_board_values import (
    AlarmList,
    AlarmSteps,
    ListedAlarm,
    MeasuredAlarms,
    PersonCalled,
    PersonEvent,
    Wished,
)
from daemon.alarm_called import names_in, names_of
from daemon.alarm_desk import Desk
from daemon.alarm_desk_values import Entry
from daemon.alarm_measures import metrics_of, window_from
from daemon.alarm_names import keys_in
from daemon.alarm_near import NearAlarms
from daemon.alarms.classes import DAY_MS, LONGEST_REVIEW_MS, LONGEST_REVIEW_WITH_EGGS_MS
from daemon.alarms.definitions import tuned
from daemon.alarms.events import Acknowledge, RemoveFromService
from daemon.alarms.metrics import Metrics
from daemon.alarms.probe_kinds import of_probe
from daemon.alarms.state_values import AlarmMemory, AlarmState, Shown
from daemon.alarms.wrong import LIMITED, WRONG
from daemon.answer_values import person_name
from daemon.clutches import register
from daemon.desk_work import DeskWork
from daemon.occupancy import Occupancy
from daemon.rounds_now import rounds_now
from daemon.storage import alarm_log, alarm_records, calibrations, outbox, runs, samples
from daemon.storage.alarm_log import AlarmEvent
from daemon.storage.journal import Journal
from daemon.storage.outbox import CallSent

CALLS_SPAN_MS = 7 * DAY_MS
"""Calls and acknowledgements of an alarm are shown so far back; all of them are in the journal."""
_MEASURED_ANEW_MS = 5 * 60_000
_OLDER = "it has changed since this page was made; this is how it stands now"
_OVER = "it is over; nothing is left to do about it"


class AlarmBoard:
    """Shows and does, for one site. Safe to use from any thread.

    `answered` is called after every wish; `demo_rate` gives the pace of the clock of a demo.
    """

    def __init__(
        self,
        journal: Journal,
        work: DeskWork,
        site: Site,
        profiles: Mapping[str, SpeciesProfile],
        now_ms: Callable[[], int],
        answered: Callable[[], None] = lambda: None,
        demo_rate: Callable[[], float] | None = None,
    ) -> None:
        self._journal = journal
        self._work = work
        self._site = site
        self._places = Places(site)
        self._profiles = profiles
        self._now_ms = now_ms
        self._answered = answered
        self._demo_rate = demo_rate
        self._names = {person.id: person.name for person in site.people}
        self._measured: tuple[tuple[int, int, int], Metrics] | None = None

    def look(self) -> AlarmList:
        """Every alarm as it is now. Raises JournalError."""
        now_ms = self._now_ms()
        with self._journal.read() as conn:
            desk = self._work.read(conn)
            look = _Look(conn, self._site, self._places, self._profiles, now_ms)
            alarms = [look.listed(key, entry, desk) for key, entry in desk.entries.items() if _is_listed(entry.state)]
            rounds = rounds_now(conn, self._site, now_ms)
        alarms.sort(key=lambda each: (each.priority, each.since_ms, each.key))
        people = tuple(self._names.items())
        return AlarmList(
            self._site.name,
            self._site.time_zone,
            self._site.temperature_unit == "F",
            now_ms,
            1.0 if self._demo_rate is None else self._demo_rate(),
            people,
            tuple(alarms),
            rounds,
            is_demo=self._demo_rate is not None,
        )

    def do(self, key: str, mark: str, event: PersonEvent) -> Wished:
        """Do what a person wants of the alarm as the page showed it; `mark` is that of the page. Raises JournalError.

        An acknowledgement says itself which call it is for. All else is refused where the alarm stands otherwise now.
        """
        now_ms = self._now_ms()

        def wish(conn: sqlite3.Connection) -> Wished:
            entry = self._work.read(conn).entries.get(key)
            if entry is None:
                return Wished(accepted=False, reason=_OVER, is_older=True)
            if isinstance(event, Acknowledge):
                is_older = (event.occurrence, event.version) != (entry.state.occurrence, entry.state.version)
            else:
                is_older = mark != mark_of(entry.state)
                if is_older:
                    return Wished(accepted=False, reason=_OLDER, is_older=True)
            if isinstance(event, RemoveFromService):
                given = event.who, event.reason, event.interim, event.review_ms
                [done] = self._work.remove_from_service(conn, [key], *given, now_ms)
            else:
                [done] = self._work.do(conn, {key: event}, now_ms)
            return Wished(done.accepted, done.reason, is_older and not done.accepted)

        wished = self._journal.write(wish)
        self._answered()
        return wished

    def steps(self, before: int | None, alarm_key: str, limit: int) -> AlarmSteps:
        """A page of the journal of alarms. Raises JournalError."""
        with self._journal.read() as conn:
            found = alarm_records.page(conn, before, alarm_key, limit + 1)
            newest = alarm_records.last_number(conn)
            keys = {alarm_key, *(each.step.alarm_key for each in found)} - {""}
            keys.update(key for each in found for key in keys_in(each.step.reason))
            called = names_of(conn, self._site, self._places, keys)
        names = tuple(self._names.items())
        zone, now_ms = self._site.time_zone, self._now_ms()
        return AlarmSteps(zone, now_ms, tuple(found[:limit]), len(found) > limit, newest, names, called)

    def events(self, before: int | None, limit: int) -> list[tuple[int, AlarmEvent]]:
        """The newest events before one, each with its number. Raises JournalError."""
        with self._journal.read() as conn:
            return alarm_log.page(conn, before, limit)

    def newest_step(self) -> int:
        """The number of the newest step of the journal of alarms. Raises JournalError."""
        with self._journal.read() as conn:
            return alarm_records.last_number(conn)

    def measures(self, days: int) -> MeasuredAlarms:
        """How well the alarms do their work. Raises JournalError."""
        now_ms = self._now_ms()
        with self._journal.read() as conn:
            newest = alarm_records.last_number(conn)
            # Every step of the window is read for it, so an answer is kept until something happens or time passes.
            asked, kept = (days, newest, now_ms // _MEASURED_ANEW_MS), self._measured
            if kept is not None and kept[0] == asked:
                found = kept[1]
            else:
                from_ms = window_from(days, runs.first_start_ms(conn), now_ms)
                before = alarm_records.leading_up_to(conn, from_ms)
                records = [*before, *alarm_records.between(conn, from_ms, now_ms)]
                found = metrics_of(records, from_ms, now_ms, ZoneInfo(self._site.time_zone))
                self._measured = (asked, found)
            called = names_in(conn, self._site, self._places, found)
        return MeasuredAlarms(self._site.time_zone, now_ms, days, found, newest, called)


def mark_of(state: AlarmState) -> str:
    """Make a mark of how people stand to an alarm: another one wherever something has changed that they act upon."""
    shown = (state.occurrence, state.version, state.memory, state.shelf, state.out)
    return hashlib.blake2b(repr(shown).encode(), digest_size=8).hexdigest()


def _is_listed(state: AlarmState) -> bool:
    return state.shown is not Shown.NORMAL


class _Look:
    """One look at the alarms, with what all of them need read once."""

    def __init__(
        self,
        conn: sqlite3.Connection,
        site: Site,
        places: Places,
        profiles: Mapping[str, SpeciesProfile],
        now_ms: int,
    ) -> None:
        self._conn = conn
        self._site = site
        self._places = places
        self._now_ms = now_ms
        self._names = {person.id: person.name for person in site.people}
        self._occupancy = Occupancy(register.clutches(conn), places, profiles)
        self._near = NearAlarms(self._occupancy)
        self._corrected = calibrations.load(conn, site).corrected
        self._acknowledged_ms = alarm_records.acknowledged_ms(conn, now_ms - CALLS_SPAN_MS)
        self._by_incident: dict[str, list[CallSent]] = defaultdict(list)
        self._by_occurrence: dict[str, list[CallSent]] = defaultdict(list)
        for call in outbox.calls_since(conn, now_ms - CALLS_SPAN_MS):
            self._by_incident[call.incident].append(call)
            self._by_occurrence[call.occurrence].append(call)

    def listed(self, key: str, entry: Entry, desk: Desk) -> ListedAlarm:
        """All that people need to know of one alarm."""
        state, raised, alarm = entry.state, entry.raised, entry.alarm
        quantity = None if raised.channel is None else raised.channel.quantity
        definition = of_probe(tuned(raised.kind, self._site.alarms), raised.place, quantity)
        inside = self._occupancy.lying_in(raised.place or ROOM, self._now_ms)
        is_limited = raised.kind in LIMITED and raised.limit is not None
        since_ms = raised.since_ms if state.since_ms is None else state.since_ms
        return ListedAlarm(
            key=key,
            mark=mark_of(state),
            kind=raised.kind,
            priority=definition.priority,
            place=self._places.name(raised.place) if raised.place else self._site.name,
            what=f"{raised.about} {WRONG[raised.kind]}".strip(),
            shown=state.shown,
            in_alarm=state.in_alarm,
            known=state.known,
            waits=state.memory.waits_for_a_person,
            since_ms=since_ms,
            returned_ms=state.returned_ms,
            occurrence=state.occurrence,
            version=state.version,
            quantity=quantity,
            value=self._value(entry) if is_limited else None,
            limit=raised.limit if is_limited else None,
            why="" if is_limited or not state.in_alarm else raised.reason,
            called=tuple(self._called(key, entry, desk)),
            acknowledged_by=person_name(self._names, state.acknowledged_by),
            acknowledged_ms=self._acknowledged_ms.get(key) if state.acknowledged_by else None,
            first_action=definition.first_action if state.in_alarm else "",
            caution=self._near.of(raised.place, self._now_ms).text,
            shelf=state.shelf,
            design=tuple(each for each in state.design if not each.spent),
            out=state.out,
            latched=state.memory in (AlarmMemory.LATCHED_ACKNOWLEDGED, AlarmMemory.LATCHED_UNACKNOWLEDGED),
            class_name=alarm.name,
            longest_shelf_ms=alarm.longest_shelf_ms,
            may_leave_service=alarm.may_leave_service,
            longest_review_ms=LONGEST_REVIEW_WITH_EGGS_MS if inside else LONGEST_REVIEW_MS,
            eggs_inside=bool(inside),
        )

    def _value(self, entry: Entry) -> float | None:
        channel = entry.raised.channel
        newest = None if channel is None else samples.newest_good_of(self._conn, channel.channel)
        if newest is None:
            return None
        return self._corrected(newest.channel, newest.value, newest.measured_at_ms)

    def _called(self, key: str, entry: Entry, desk: Desk) -> Iterator[PersonCalled]:
        """Give who was called for its incident, or for this occurrence of it before it joined that."""
        if not entry.state.occurrence:
            return
        incident = desk.book.holding(key)
        calls = [*self._by_occurrence[entry.raised.occurrence]] if entry.raised.occurrence else []
        calls += self._by_incident[incident.id] if incident is not None else ()
        people: dict[str, list[CallSent]] = defaultdict(list)
        for call in sorted(set(calls), key=lambda each: each.created_at_ms):
            people[call.contact.partition("/")[0]].append(call)
        for person, sent in people.items():
            moments = tuple(dict.fromkeys(each.created_at_ms for each in sent))
            yield PersonCalled(
                person_name(self._names, person), moments, any(each.state == "delivered" for each in sent)
            )
