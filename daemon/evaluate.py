"""Evaluation: what was committed goes in, alarms, messages and heat come out, all in one transaction with the cursor.

The cursor moves in the transaction that stores what followed from the readings before it. A kill at any moment
therefore leaves either all of a step or nothing of it, and the next start goes on where the last step ended.
"""

import logging
import sqlite3
from collections.abc import Callable, Mapping, Sequence

from config.places import Places
from config.settings import Settings
from config.site import Site
from config.species import SpeciesProfile
from daemon.alarm_transition import Transition
from daemon.alarm_watch import AlarmWatch
from daemon.alarms.delivery import MessageStatus
from daemon.alerts import AlertWriter, superseded
from daemon.clutches import register
from daemon.clutches.register import Clutch
from daemon.heat_course import HeatCourse
from daemon.heat_ledger import HOUR_MS, HeatLedger, Span, changed_from, hour_of
from daemon.heat_now import kept_before
from daemon.occupancy import Occupancy
from daemon.stage_begins import StageBegins
from daemon.storage import alarm_log, heat, imports, outbox, samples
from daemon.storage.alarm_log import AlarmEvent
from daemon.storage.heat import HeatHour
from daemon.storage.journal import Journal
from daemon.storage.outbox import OutboxMessage
from daemon.storage.samples import StoredReading
from daemon.thermometers import AirChannels
from sensors.reading import ChannelKey

log = logging.getLogger("clutchwarden.evaluate")

LARGEST_STEP = 5_000


class Evaluator:
    """Steps through the journal. Used by one thread at a time."""

    def __init__(
        self,
        journal: Journal,
        site: Site,
        settings: Settings,
        profiles: Mapping[str, SpeciesProfile],
        channels: Mapping[str, ChannelKey],
        watching_since_ms: int,
        status: MessageStatus = MessageStatus.ACTUAL,
    ) -> None:
        self._journal = journal
        self._site = site
        self._profiles = profiles
        self._channels = channels
        self._watching_since_ms = watching_since_ms
        self._places = Places(site)
        self._bridge_ms = int(settings.heat.longest_bridge_s * 1000)
        self._air = AirChannels(site)
        self._writer = AlertWriter(site, self._places, status)
        self._stale = False
        self._load()

    def _load(self) -> None:
        """Begin from what the journal holds; also after a step that could not be stored."""
        watch = AlarmWatch(self._site, self._places, self._channels, self._watching_since_ms)
        with self._journal.read() as conn:
            cursor, bases, states = heat.get_cursor(conn), heat.bases(conn), alarm_log.load_states(conn)
            stored = heat.last_hours(conn)
        for problem in watch.restore(states, self._watching_since_ms):
            log.error("An alarm starts anew: %s", problem)
        # All of it or nothing: a half-loaded evaluation would store alarms that it does not remember.
        self._watch, self._cursor, self._bases, self._stored = watch, cursor, bases, stored
        self._ledger = HeatLedger(self._places, self._profiles, self._air.channel_at, self._bridge_ms)
        self._version = (-1, -1)
        self._stages = StageBegins(self._profiles)
        self._begins: dict[int, tuple[int, ...]] | None = None
        self._by_id: dict[int, Clutch] = {}
        self._anew: dict[int, int] = {}
        self._stale = False

    def step(self, now_ms: Callable[[], int]) -> tuple[int, bool]:
        """Evaluate what is new: gives the number of readings and whether messages were written.

        Raises JournalError where the result cannot be stored; the next step then begins again from the journal.
        """
        if self._stale:
            self._load()
        self._stale = True
        done = self._step(now_ms)
        self._stale = False
        return done

    def _step(self, now_ms: Callable[[], int]) -> tuple[int, bool]:
        # Asked for before the readings: one that comes in between must not look like silence.
        moment_ms = now_ms()
        with self._journal.read() as conn:
            rows = samples.after(conn, self._cursor, LARGEST_STEP)
            self._see_register(conn)
            hours = self._hours(conn, rows)
            self._see_stages(hours)
            transitions = self._transitions(self._live(conn, rows), len(rows), moment_ms)
            messages = self._writer.messages(conn, transitions, self._occupancy, moment_ms)
        states = self._watch.take_changed()
        cursor = rows[-1].seq if rows else self._cursor
        if rows or transitions or states or self._anew:
            bases = {one: (self._basis(self._by_id[one]), from_ms) for one, from_ms in self._anew.items()}
            events = [_event(transition, moment_ms) for transition in transitions]
            over = superseded(self._site, transitions)
            self._journal.write(lambda conn: _store(conn, cursor, states, events, messages, over, hours, bases))
            self._cursor = cursor
            self._bases.update({one: basis for one, (basis, _) in bases.items()})
            for clutch_id, of_clutch in hours.items():
                last_ms = of_clutch[-1].hour_start_ms
                self._stored[clutch_id] = max(self._stored.get(clutch_id, last_ms), last_ms)
            self._anew = {}
        for transition in transitions:
            log.info("%s %s at %s: %s", transition.kind, transition.change, transition.place, transition.reason)
        return len(rows), bool(messages)

    def _see_register(self, conn: sqlite3.Connection) -> None:
        version = (register.version(conn), self._air.version(conn))
        if version != self._version:
            self._air.load(conn)
            lying = register.clutches(conn, include_closed=True)
            self._by_id = {clutch.clutch_id: clutch for clutch in lying}
            for clutch in lying:
                if self._stages.is_staged(clutch):
                    self._stages.take(clutch.clutch_id, heat.hours(conn, clutch.clutch_id))
            self._anew = {
                clutch.clutch_id: self._ledger.reaches_back(conn, clutch, from_ms)
                for clutch in lying
                if (from_ms := changed_from(self._bases.get(clutch.clutch_id), self._basis(clutch))) is not None
            }
            self._version = version
            self._begins = None

    def _see_stages(self, hours: Mapping[int, Sequence[HeatHour]]) -> None:
        """A stage that begins changes the limits of its place, like a move does."""
        for clutch_id, from_ms in self._anew.items():
            self._stages.forget(clutch_id, hour_of(from_ms))
        for clutch_id, of_clutch in hours.items():
            if self._stages.is_staged(self._by_id[clutch_id]):
                self._stages.take(clutch_id, of_clutch)
        if self._begins is not None and not any(self._stages.is_staged(self._by_id[clutch_id]) for clutch_id in hours):
            return
        begins = {
            clutch.clutch_id: self._stages.begins(clutch, kept_before(self._site, clutch))
            for clutch in self._by_id.values()
        }
        if begins != self._begins:
            self._begins = begins
            self._occupancy = Occupancy(tuple(self._by_id.values()), self._places, self._profiles, begins)
            self._watch.look_at_all()

    def _basis(self, clutch: Clutch) -> str:
        return self._ledger.basis(clutch, self._air.calibrated)

    def _live(self, conn: sqlite3.Connection, rows: Sequence[StoredReading]) -> Sequence[StoredReading]:
        """Readings that alarms are raised by, as calibrated. An import tells of the past: heat alone."""
        past = imports.marked(conn, rows[0].seq) if rows else []
        live = [row for row in rows if not any(row.seq in each for each in past)] if past else rows
        corrections = self._air.calibrations
        if not corrections.any:
            return live
        return [
            row._replace(value=corrections.corrected(row.channel, row.value, row.measured_at_ms))
            if not row.quality
            else row
            for row in live
        ]

    def _transitions(self, rows: Sequence[StoredReading], read: int, moment_ms: int) -> list[Transition]:
        found = [change for row in rows for change in self._watch.reading(row, self._occupancy)]
        if read < LARGEST_STEP:
            found += self._watch.time_passed(moment_ms, self._occupancy)
        return [*found, *self._watch.settle()]

    def _hours(self, conn: sqlite3.Connection, rows: Sequence[StoredReading]) -> dict[int, list[HeatHour]]:
        """Every hour of heat that these readings or a new basis touch, computed from the stored readings."""
        course = HeatCourse(conn, self._places, self._air, self._bridge_ms)
        spans = self._ledger.spans(conn, (row for row in rows if row.quality == 0), self._cursor)
        if not spans and not self._anew:
            return {}
        found = {}
        for clutch in self._by_id.values():
            starts = self._touched(conn, clutch, spans)
            hours = [self._ledger.compute_hour(course, clutch, start) for start in starts]
            if kept := [hour for hour in hours if hour is not None]:
                found[clutch.clutch_id] = kept
        return found

    def _touched(self, conn: sqlite3.Connection, clutch: Clutch, spans: Mapping[str, Sequence[Span]]) -> Sequence[int]:
        """The hours of a clutch to compute, in order; what lies between the last stored one and these comes along."""
        touched, late = self._ledger.touched(spans, clutch)
        last_ms, from_ms = self._stored.get(clutch.clutch_id), self._anew.get(clutch.clutch_id)
        if from_ms is not None:
            until_ms = self._ledger.until(conn, clutch, self._cursor)
            until_ms = until_ms if last_ms is None else max(until_ms, last_ms + HOUR_MS)
            touched.update(range(hour_of(max(from_ms, clutch.placements[0].from_ms)), until_ms, HOUR_MS))
        newest_ms = max(touched, default=last_ms)
        if newest_ms is not None:
            touched.update(hour for hour in late if hour <= max(newest_ms, last_ms or newest_ms))
            next_ms = hour_of(clutch.placements[0].from_ms) if last_ms is None else last_ms + HOUR_MS
            touched.update(range(next_ms, newest_ms, HOUR_MS))
        return sorted(touched)


def _event(transition: Transition, recorded_at_ms: int) -> AlarmEvent:
    return AlarmEvent(
        transition.at_ms,
        recorded_at_ms,
        f"{transition.kind}:{transition.channel.channel}",
        transition.occurrence,
        transition.change.value if transition.told else f"{transition.change} (explained by another alarm)",
        transition.value,
        transition.limit,
        transition.reason,
    )


def _store(
    conn: sqlite3.Connection,
    cursor: int,
    states: Mapping[str, str],
    events: Sequence[AlarmEvent],
    messages: Sequence[OutboxMessage],
    over: Sequence[str],
    hours: Mapping[int, Sequence[HeatHour]],
    bases: Mapping[int, tuple[str, int]],
) -> None:
    for clutch_id, (basis, from_ms) in bases.items():
        heat.clear_hours(conn, clutch_id, from_ms - from_ms % HOUR_MS)
        heat.set_basis(conn, clutch_id, basis)
    for clutch_id, of_clutch in hours.items():
        heat.put_hours(conn, clutch_id, of_clutch)
    for channel, state in states.items():
        alarm_log.save_state(conn, channel, state)
    for event in events:
        alarm_log.append_event(conn, event)
    outbox.enqueue(conn, messages)
    outbox.supersede(conn, over)
    heat.set_cursor(conn, cursor)
