"""What people do at the alarm desk, by a page or a command: read it, do it, store it, in one transaction."""

import sqlite3
from collections.abc import Callable, Iterable, Mapping
from typing import NamedTuple, TypeVar

from config.model import ROOM
from config.places import Places
from config.site import Site
from config.species import SpeciesProfile
from daemon.alarm_desk import Desk
from daemon.alarm_desk_store import from_rows, to_rows
from daemon.alarm_desk_values import Seen
from daemon.alarms.delivery import MessageStatus
from daemon.alarms.events import Acknowledge, Event, RemoveFromService
from daemon.alerts import AlertWriter
from daemon.clutches import register
from daemon.desk_events import records_of
from daemon.desk_messages import DeskMessages
from daemon.duty_work import DutyWork
from daemon.occupancy import Occupancy
from daemon.rota import Rotas
from daemon.storage import alarm_records, desk, outbox, rounds
from daemon.storage.rounds import RoundOnRecord

T = TypeVar("T")


class Done(NamedTuple):
    """What became of one wish: the alarm, whether it was done, and why or why not."""

    key: str
    accepted: bool
    reason: str


class DeskWork:
    """Works on the desk of one site. Every function works inside the caller's transaction."""

    def __init__(
        self,
        site: Site,
        profiles: Mapping[str, SpeciesProfile],
        status: MessageStatus = MessageStatus.ACTUAL,
        public_url: str | None = None,
    ) -> None:
        self._places = Places(site)
        self._profiles = profiles
        self._rotas = Rotas(site)
        self.duty = DutyWork(site, self._rotas, status)
        self._messages = DeskMessages(site, self._places, AlertWriter(site, self._places, status), public_url)

    def read(self, conn: sqlite3.Connection) -> Desk:
        """The desk as the journal has it."""
        return from_rows(desk.load(conn), self._rotas.of(conn).rota, (ROOM, *self._places.all))[0]

    def acknowledge(
        self, conn: sqlite3.Connection, keys: Iterable[str], who: str, note: str, now_ms: int
    ) -> list[Done]:
        """Acknowledge alarms as they are now, each with all that was called for together with it."""
        present = self.read(conn)
        wanted: dict[str, None] = {}
        for key in keys:
            incident = present.book.holding(key)
            members = incident.members if incident is not None else ()
            waiting = (each for each in members if each in present.entries and _waits(present, each))
            wanted |= dict.fromkeys((key, *waiting))
        states = {key: present.entries[key].state for key in wanted if key in present.entries}
        return self.do(
            conn,
            {key: Acknowledge(who, state.occurrence, state.version, note) for key, state in states.items()},
            now_ms,
        )

    def do(self, conn: sqlite3.Connection, events: Mapping[str, Event], now_ms: int) -> list[Done]:
        """Give each alarm its event, with all that follows: messages, ladders, journal."""
        return self._change(conn, lambda present: [_done(present, *each, now_ms) for each in events.items()], now_ms)

    def remove_from_service(
        self,
        conn: sqlite3.Connection,
        keys: Iterable[str],
        who: str,
        why: str,
        interim: str,
        review_ms: int,
        now_ms: int,
    ) -> list[Done]:
        """Take alarms out of service until a review; `interim` is what watches meanwhile. Shorter where eggs lie."""
        entries = self.read(conn).entries
        occupancy = Occupancy(register.clutches(conn), self._places, self._profiles)
        # What is about the whole site is about all of its eggs.
        eggs = {
            key: bool(occupancy.lying_in(entries[key].raised.place or ROOM, now_ms)) for key in keys if key in entries
        }
        return self.do(
            conn,
            {key: RemoveFromService(who, why, interim, review_ms, inside) for key, inside in eggs.items()},
            now_ms,
        )

    def cannot(self, conn: sqlite3.Connection, seen: Iterable[Seen], person: str, now_ms: int) -> list[Done]:
        """A person cannot go: whoever is next is called at once. Gives nothing where all of it is an older call."""

        def act(present: Desk) -> list[Done]:
            keys: dict[str, str] = {}
            for each in seen:
                incident = present.book.holding(each.key)
                if incident is not None and _is_present(present, each):
                    keys.setdefault(incident.id, each.key)
            return [Done(key, *present.cannot(key, person, now_ms)) for key in keys.values()]

        return self._change(conn, act, now_ms)

    def start_round(
        self, conn: sqlite3.Connection, incubator: str, who: str, stated_ms: int, now_ms: int
    ) -> tuple[RoundOnRecord, list[str]]:
        """Start a round, and hold back what it explains; gives also the alarms that are held back at once.

        Raises StatedError with nothing changed.
        """
        return self._round(conn, rounds.start(conn, incubator, who, now_ms, stated_ms), now_ms)

    def end_round(
        self, conn: sqlite3.Connection, incubator: str, who: str, note: str, now_ms: int
    ) -> tuple[RoundOnRecord, list[str]]:
        """End the round that goes on there; gives also the alarms that it held back, which are told once it settled.

        Raises StatedError with nothing changed.
        """
        return self._round(conn, rounds.end(conn, incubator, who, note, now_ms), now_ms)

    def _round(self, conn: sqlite3.Connection, found: RoundOnRecord, now_ms: int) -> tuple[RoundOnRecord, list[str]]:
        held = self._change(conn, lambda present: present.round_changed(found.round, now_ms), now_ms)
        return found, held

    def _change(self, conn: sqlite3.Connection, act: Callable[[Desk], T], now_ms: int) -> T:
        began_from, present = desk.version(conn), self.read(conn)
        done = act(present)
        outcome = present.settle(now_ms)
        occupancy = Occupancy(register.clutches(conn), self._places, self._profiles)
        written = self._messages.of(conn, outcome, present, {}, occupancy, now_ms)
        outbox.supersede(conn, outcome.pointless)
        written.store(conn)
        alarm_records.append(conn, records_of(outcome, present, now_ms))
        desk.save(conn, to_rows(present), began_from)
        return done


def _waits(present: Desk, key: str) -> bool:
    return present.entries[key].state.memory.waits_for_a_person


def _is_present(present: Desk, seen: Seen) -> bool:
    state = present.entries[seen.key].state if seen.key in present.entries else None
    return state is not None and (state.occurrence, state.version) == (seen.occurrence, seen.version)


def _done(present: Desk, key: str, event: Event, now_ms: int) -> Done:
    if key not in present.entries:
        return Done(key, accepted=False, reason="this alarm is over, or there is none of that name")
    accepted, reason = present.wish(key, event, now_ms)
    return Done(key, accepted, reason)
