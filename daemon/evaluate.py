"""Evaluation: what was committed goes in, alarms, messages and heat come out, all in one transaction with the cursor.

The cursor moves in the transaction that stores what followed from the readings before it. A kill at any moment
therefore leaves either all of a step or nothing of it, and the next start goes on where the last step ended.
"""

import logging
import sqlite3
from collections.abc import Callable, Mapping, Sequence

from config.model import ROOM
from config.places import Places
from config.settings import Settings
from config.site import Site
from config.species import SpeciesProfile
from daemon import desk_reconcile, desk_stamps
from daemon.alarm_desk_store import from_rows, to_rows
from daemon.alarm_desk_values import Outcome, key_of
from daemon.alarm_transition import Transition
from daemon.alarm_watch import AlarmWatch
from daemon.alarms.delivery import MessageStatus
from daemon.alerts import AlertWriter
from daemon.board_looks import BoardLooks
from daemon.clock_steps import ClockSteps
from daemon.clutches import register
from daemon.clutches.register import Clutch
from daemon.desk_events import records_of
from daemon.desk_messages import DeskMessages, Written, ended_in
from daemon.found_messages import FoundMessages
from daemon.hand_over_messages import HandOverMessages
from daemon.heat_keeper import HeatKeeper
from daemon.heat_ledger import hour_of
from daemon.heat_now import kept_before
from daemon.late_watch import LateWatch
from daemon.live_readings import live
from daemon.occupancy import Occupancy
from daemon.rota import Rotas
from daemon.stage_begins import StageBegins
from daemon.standing_sources.looks import ROW, Looks
from daemon.standing_sources.source import Moment, Source
from daemon.step_store import Step
from daemon.storage import alarm_log, desk, heat, rounds, samples
from daemon.storage.desk import DeskMovedError
from daemon.storage.heat import HeatHour
from daemon.storage.journal import Journal
from daemon.storage.samples import StoredReading
from daemon.thermometers import AirChannels
from sensors.reading import ChannelKey

log = logging.getLogger("clutchwarden.evaluate")

LARGEST_STEP = 5_000
MOST_TIMES_OVERTAKEN = 5
"""So often people who act at the desk while a step is made are let go first; then the next step tries again."""


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
        sources: Sequence[Source] = (),
        clock_steps: ClockSteps | None = None,
        boards: BoardLooks | None = None,
    ) -> None:
        self._sources, self._boards = sources, boards
        self._journal = journal
        self._site = site
        self._profiles = profiles
        self._channels = channels
        self._watching_since_ms = watching_since_ms
        self._places = Places(site)
        self._bridge_ms = int(settings.heat.longest_bridge_s * 1000)
        self._air = AirChannels(site)
        writer = AlertWriter(site, self._places, status, boards)
        self._messages = DeskMessages(site, self._places, writer, settings.web.public_url)
        self._found = FoundMessages(site, self._places, channels, status, settings.web.public_url)
        self._rotas = Rotas(site)
        self._hand_overs = HandOverMessages(site, status, settings.web.public_url)
        self._desk_version = 0
        self._desk_rows: dict[str, str] = {}
        self._clock_steps = clock_steps or ClockSteps()
        self._stale = self._reconciled = False
        self._unlooked_ms = 0
        """by how much the clock was set since the sources were asked last"""
        self._looked_ms: Mapping[int, int] = {}
        self._load()

    def _load(self) -> None:
        """Begin from what the journal holds; also after a step that could not be stored."""
        watch = AlarmWatch(self._site, self._places, self._channels, self._watching_since_ms, self._bridge_ms)
        with self._journal.read() as conn:
            cursor, states = heat.get_cursor(conn), alarm_log.load_states(conn)
            keeper = HeatKeeper(conn, self._profiles, self._air, self._bridge_ms)
            late = LateWatch(conn, self._site, self._places, self._channels, self._bridge_ms, cursor, watch)
            self._read_desk(conn)
        self._looks = Looks(self._site, self._sources, states, self._looked_ms)
        for problem in watch.restore(states, self._watching_since_ms):
            log.error("An alarm starts anew: %s", problem)
        # What left the site file starts anew where it is put back: what was true of it then may be so no longer.
        self._gone = dict.fromkeys(
            (name for name in states if not (name in self._channels or name.startswith(ROW))), ""
        )
        self._begun = False
        # All of it or nothing: a half-loaded evaluation would store alarms that it does not remember.
        self._watch, self._cursor, self._heat, self._late = watch, cursor, keeper, late
        self._version: tuple[object, ...] = ()
        self._stages = StageBegins(self._profiles)
        self._hours_read: dict[int, int] = {}
        """for each clutch with stages, how often its stored hours had changed when they were read"""
        self._begins: dict[int, tuple[int, ...]] | None = None
        self._by_id: dict[int, Clutch] = {}
        self._stale = False

    def step(self, now_ms: Callable[[], int]) -> tuple[int, bool]:
        """Evaluate what is new: gives the number of readings and whether messages were written.

        Raises JournalError where the result cannot be stored; the next step then begins again from the journal.
        """
        if self._stale:
            self._load()
        self._stale = True
        for _ in range(MOST_TIMES_OVERTAKEN):
            try:
                done = self._step(now_ms)
            except DeskMovedError:
                # A person was faster, by a page or a command. What they did comes first.
                self._load()
            else:
                self._stale = False
                return done
        return 0, False

    def _step(self, now_ms: Callable[[], int]) -> tuple[int, bool]:
        # Asked for before the readings: one that comes in between must not look like silence.
        moment_ms, set_by_ms = self._clock_steps.look(now_ms)
        # A clock that was set while a backlog was read is told at the first look after it.
        unlooked_ms = self._unlooked_ms + set_by_ms
        with self._journal.read() as conn:
            rows = samples.after(conn, self._cursor, LARGEST_STEP)
            is_last = len(rows) < LARGEST_STEP
            self._see_register(conn)
            hours = self._heat.hours(conn, rows, self._cursor, moment_ms)
            self._see_stages(hours)
            transitions = self._clock(set_by_ms, moment_ms)
            transitions += self._transitions(conn, live(conn, rows, self._air.calibrations), len(rows), moment_ms)
            if is_last:
                look = Moment(conn, moment_ms, self._occupancy, self._air, self._looks.is_on, unlooked_ms)
                transitions += self._looks.look(look)
            if self._boards is not None:
                transitions = self._boards.sharpened(conn, transitions, moment_ms)
            self._see_desk(conn, set_by_ms, moment_ms)
            if not self._reconciled:
                transitions = [*self._reconcile(transitions, moment_ms), *transitions]
            outcome, written = self._told(conn, transitions, moment_ms)
            asked = self._hand_overs.due(conn, self._known, moment_ms)
        states = {**self._watch.take_changed(), **self._looks.take_changed(), **self._gone}
        cursor = rows[-1].seq if rows else self._cursor
        bases, late = self._heat.new_bases(), self._late.to_store()
        step = Step(cursor, states, hours, bases, transitions, outcome, written, asked, late)
        self._store(step, moment_ms)
        self._clock_steps.keep()
        self._looked_ms, self._unlooked_ms = self._looks.looked_ms, 0 if is_last else unlooked_ms
        self._gone, self._begun, self._reconciled = {}, True, True
        for transition in transitions:
            log.info("%s %s: %s", key_of(transition), transition.change, transition.reason)
        # A rebuild that is not done yet goes on at once, and so does a look through late readings.
        goes_on = self._heat.is_unfinished or self._late.is_looking_back
        return LARGEST_STEP if goes_on else len(rows), bool(written.messages or asked.messages)

    def _told(self, conn: sqlite3.Connection, transitions: list[Transition], moment_ms: int) -> tuple[Outcome, Written]:
        """What the desk makes of it, and the messages."""
        air, closed = self._air.calibrations, self._late.take_closed()
        found = self._found.of(conn, closed, self._desk, self._known.rota, self._occupancy, air, moment_ms)
        outcome = self._desk.take(transitions, moment_ms)
        written = self._messages.of(conn, outcome, self._desk, ended_in(transitions), self._occupancy, moment_ms)
        return outcome, written.with_these(found)

    def _store(self, step: Step, moment_ms: int) -> None:
        """All of a step in one transaction, where there is anything."""
        desk_rows = to_rows(self._desk)
        if not step.has_news and step.cursor == self._cursor and desk_rows == self._desk_rows:
            return
        records = records_of(step.outcome, self._desk, moment_ms)

        def store(conn: sqlite3.Connection) -> int:
            step.store(conn, records, moment_ms)
            return desk.save(conn, desk_rows, self._desk_version)

        self._desk_version = self._journal.write(store)
        self._desk_rows, self._cursor = desk_rows, step.cursor
        self._heat.settle(step.hours, step.bases)
        self._late.settle()

    @property
    def is_looking_back(self) -> bool:
        """True while late readings are looked through, a slice with each step: nobody waits for it in a hurry."""
        return self._late.is_looking_back

    @property
    def failing(self) -> tuple[str, ...]:
        """A sentence for each kind of alarm that is not looked for at the moment."""
        return self._looks.failing

    def _see_desk(self, conn: sqlite3.Connection, set_by_ms: int, moment_ms: int) -> None:
        """The desk as people left it, brought to this moment."""
        if desk.version(conn) != self._desk_version or self._rotas.of(conn) is not self._known:
            self._read_desk(conn)
        self._desk.rounds = tuple(rounds.not_settled(conn, moment_ms))
        if set_by_ms:
            self._desk.clock_was_set(set_by_ms, moment_ms)
        desk_stamps.hold(self._desk, moment_ms)
        desk_reconcile.mend(self._desk, moment_ms)

    def _read_desk(self, conn: sqlite3.Connection) -> None:
        self._desk_version, self._desk_rows = desk.version(conn), desk.load(conn)
        self._known = self._rotas.of(conn)
        self._desk, problems = from_rows(self._desk_rows, self._known.rota, (ROOM, *self._places.all))
        for problem in problems:
            log.error("An alarm on the desk starts anew: %s", problem)
        self._reconciled = False

    def _clock(self, set_by_ms: int, moment_ms: int) -> list[Transition]:
        """A clock that was set, or that is behind at a start, before anything is judged by it."""
        if not self._begun:
            self._watch.begin_at(moment_ms)
        if set_by_ms > 0:
            self._watch.watch_again(moment_ms)
        return self._watch.clock_was_set_back(moment_ms) if set_by_ms < 0 else []

    def _reconcile(self, transitions: Sequence[Transition], moment_ms: int) -> list[Transition]:
        """Bring the desk and the watches together, after one of them was read from the journal."""
        on = [*self._watch.on(moment_ms, self._occupancy), *self._looks.on()]
        heard = {key_of(each) for each in transitions}
        again, lost = desk_reconcile.differing(self._desk.entries, on, heard, moment_ms)
        over = [each for each in lost if not (self._watch.adopt(each) or self._looks.adopt(each))]
        return [*again, *(desk_reconcile.over(each, moment_ms) for each in over)]

    def _see_register(self, conn: sqlite3.Connection) -> None:
        version = (register.version(conn), self._air.version(conn))
        if version != self._version:
            self._air.load(conn)
            lying = register.clutches(conn, include_closed=True)
            self._by_id = {clutch.clutch_id: clutch for clutch in lying}
            changes = heat.changes(conn)
            for clutch in lying:
                number, change = clutch.clutch_id, changes.get(clutch.clutch_id, 0)
                # Those of a clutch that was closed seasons ago are read once, not with every change of the register.
                if self._stages.is_staged(clutch) and self._hours_read.get(number) != change:
                    self._stages.take(number, heat.hours(conn, number))
                    self._hours_read[number] = change
            self._heat.see(conn, lying, self._cursor)
            self._version = version
            self._begins = None

    def _see_stages(self, hours: Mapping[int, Sequence[HeatHour]]) -> None:
        """A stage that begins changes the limits of its place, like a move does."""
        for clutch_id, from_ms in self._heat.anew.items():
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

    def _transitions(
        self, conn: sqlite3.Connection, rows: Sequence[StoredReading], read: int, moment_ms: int
    ) -> list[Transition]:
        air, occupancy = self._air.calibrations, self._occupancy
        found = self._late.readings(conn, rows, air, occupancy)
        if read < LARGEST_STEP:
            newest = rows[-1].seq if rows else self._cursor
            found += self._late.time_passed(conn, moment_ms, newest, found, air, occupancy)
        return [*found, *self._watch.settle()]
