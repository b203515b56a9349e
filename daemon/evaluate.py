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
from daemon.heat_ledger import HOUR_MS, HeatLedger, changed_from
from daemon.occupancy import Occupancy, stays
from daemon.storage import alarm_log, heat, outbox, samples
from daemon.storage.alarm_log import AlarmEvent
from daemon.storage.heat import HeatHour
from daemon.storage.journal import Journal
from daemon.storage.outbox import OutboxMessage
from daemon.storage.samples import StoredReading
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
        self._bridge_s = settings.heat.longest_bridge_s
        self._writer = AlertWriter(site, self._places, status)
        self._stale = False
        self._load()

    def _load(self) -> None:
        """Begin from what the journal holds; also after a step that could not be stored."""
        watch = AlarmWatch(self._site, self._places, self._channels, self._watching_since_ms)
        with self._journal.read() as conn:
            cursor, bases, states = heat.get_cursor(conn), heat.bases(conn), alarm_log.load_states(conn)
        for problem in watch.restore(states, self._watching_since_ms):
            log.error("An alarm starts anew: %s", problem)
        # All of it or nothing: a half-loaded evaluation would store alarms that it does not remember.
        self._watch, self._cursor, self._bases = watch, cursor, bases
        self._ledger = HeatLedger(self._site, self._places, self._profiles, self._bridge_s)
        self._version = -1
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
            transitions = self._transitions(rows, moment_ms)
            messages = self._writer.messages(conn, transitions, self._occupancy, moment_ms)
            hours = self._hours(conn, rows, moment_ms)
        states = self._watch.take_changed()
        cursor = rows[-1].seq if rows else self._cursor
        if rows or transitions or states or self._anew:
            bases = {one: (self._ledger.basis(self._by_id[one]), from_ms) for one, from_ms in self._anew.items()}
            events = [_event(transition, moment_ms) for transition in transitions]
            over = superseded(self._site, transitions)
            self._journal.write(lambda conn: _store(conn, cursor, states, events, messages, over, hours, bases))
            self._cursor = cursor
            self._bases.update({one: basis for one, (basis, _) in bases.items()})
            self._anew = {}
        for transition in transitions:
            log.info("%s %s at %s: %s", transition.kind, transition.change, transition.place, transition.reason)
        return len(rows), bool(messages)

    def _see_register(self, conn: sqlite3.Connection) -> None:
        version = register.version(conn)
        if version != self._version:
            lying = register.clutches(conn, include_closed=True)
            self._occupancy = Occupancy(lying, self._places, self._profiles)
            self._watch.look_at_all()
            self._by_id = {clutch.clutch_id: clutch for clutch in lying}
            self._anew = {
                clutch.clutch_id: from_ms
                for clutch in lying
                if (from_ms := changed_from(self._bases.get(clutch.clutch_id), self._ledger.basis(clutch))) is not None
            }
            self._version = version

    def _transitions(self, rows: Sequence[StoredReading], moment_ms: int) -> list[Transition]:
        found = [change for row in rows for change in self._watch.reading(row, self._occupancy)]
        if len(rows) < LARGEST_STEP:
            found += self._watch.time_passed(moment_ms, self._occupancy)
        return [*found, *self._watch.settle()]

    def _hours(
        self, conn: sqlite3.Connection, rows: Sequence[StoredReading], moment_ms: int
    ) -> dict[int, list[HeatHour]]:
        """Every hour of heat that these readings or a new basis touch, computed from the stored readings."""
        good = [row for row in rows if row.quality == 0]
        touched = self._ledger.touched_hours(good, self._occupancy.clutches)
        for clutch_id, from_ms in self._anew.items():
            for stay, end in stays(self._by_id[clutch_id]):
                start = max(stay.from_ms, from_ms)
                hours = range(start - start % HOUR_MS, min(end, moment_ms) + 1, HOUR_MS)
                touched.setdefault(clutch_id, set()).update(hours)
        return {
            clutch_id: [
                hour
                for start in sorted(starts)
                if (hour := self._ledger.compute_hour(conn, self._by_id[clutch_id], start)) is not None
            ]
            for clutch_id, starts in touched.items()
        }


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
