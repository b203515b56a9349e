"""Brings the calendar up to date, every quarter of an hour: a job of the service. Reading a feed changes nothing.

What is shown is stored with its sequence in one transaction, so a kill at any moment leaves all of
a step or nothing of it.
"""

import logging
import sqlite3
import uuid
from collections.abc import Callable, Iterator, Mapping
from contextlib import ExitStack
from zoneinfo import ZoneInfo

from config.site import Site
from config.species import SpeciesProfile
from daemon.calendar_feed import Entry, revised
from daemon.calendar_feed_entries import calibration_entries, check_entries, duty_entries, hatch_entries, round_entries
from daemon.clock import Clock
from daemon.clutches import register
from daemon.clutches.values import Clutch, is_venomous
from daemon.overview import Overview
from daemon.round_sooner import SoonerChecks
from daemon.rounds_now import due_by
from daemon.schedule import Schedule
from daemon.stated import Stated
from daemon.storage import calendar_feeds, calibrations, duties
from daemon.storage.journal import Journal, JournalError
from sensors.calibration import stated_of

log = logging.getLogger("clutchwarden.calendar")

LOOK_EVERY_S = 900.0
_TICK_S = 20.0
"""The first look comes so long after the start. Project choice."""


def keep_calendar(
    journal: Journal,
    stated: Stated,
    overview: Callable[[], Overview],
    sooner: SoonerChecks,
    clock: Clock,
    ending: ExitStack,
) -> None:
    """Look again and again until `ending`; the demo's clock runs ahead, and so does this."""
    keeper = CalendarKeeper(journal, stated.site, stated.profiles, overview, sooner, clock.now_ms)
    schedule = Schedule()
    schedule.every(_TICK_S / min(clock.rate, 20.0), keeper.tick, "calendar")
    schedule.start()
    ending.callback(schedule.stop)


class CalendarKeeper:
    """For one site. One thread at a time may run it."""

    def __init__(
        self,
        journal: Journal,
        site: Site,
        profiles: Mapping[str, SpeciesProfile],
        overview: Callable[[], Overview],
        sooner: SoonerChecks,
        now_ms: Callable[[], int],
    ) -> None:
        self._journal = journal
        self._site = site
        self._zone = ZoneInfo(site.time_zone)
        self._profiles = profiles
        self._overview = overview
        self._sooner = sooner
        self._now_ms = now_ms
        self._ticks = 0

    def tick(self) -> None:
        """Look at the first tick, and at one in so many."""
        if self._ticks % round(LOOK_EVERY_S / _TICK_S) == 0:
            self.run()
        self._ticks += 1

    def run(self) -> None:
        """Look once. An error is logged and never raised; the calendar stays as it was."""
        try:
            self.look()
        except JournalError as error:
            log.warning("The calendar stays as it was this time: %s", error)
        except Exception:
            log.exception("The calendar stays as it was this time: a fault in the program.")

    def look(self) -> int:
        """Bring the calendar up to date, and give how many entries changed. Nothing is written where none did."""
        overview, now_ms = self._overview(), self._now_ms()
        with self._journal.read() as conn:
            entries = list(self._entries(conn, overview, now_ms))
            changed = len(revised(calendar_feeds.entries(conn), entries, now_ms, _new_uid))
        if changed:
            self._journal.write(
                lambda conn: calendar_feeds.put(conn, revised(calendar_feeds.entries(conn), entries, now_ms, _new_uid))
            )
        return changed

    def _entries(self, conn: sqlite3.Connection, overview: Overview, now_ms: int) -> Iterator[Entry]:
        lying = register.clutches(conn)
        dangerous = [each.clutch_id for each in lying if self._is_venomous(each)]
        clutches = [clutch for incubator in overview.incubators for clutch in incubator.clutches]
        yield from hatch_entries(clutches, dangerous, self._zone)
        names = {each.id: each.name for each in self._site.incubators}
        due = due_by(conn, self._site, lying, now_ms)
        yield from round_entries(due.rounds_ms, names, self._zone)
        yield from check_entries(self._sooner.read(conn, lying, due.clutches_ms, now_ms).values(), self._zone)
        known = calibrations.load(conn, self._site)
        records = (known.in_force(channel, now_ms) for channel in stated_of(self._site))
        yield from calibration_entries((each for each in records if each is not None), self._zone)
        people = {person.id: person.name for person in self._site.people}
        yield from duty_entries(duties.entries(conn).duties, people, now_ms)

    def _is_venomous(self, clutch: Clutch) -> bool:
        profile = self._profiles.get(clutch.species_id)
        return is_venomous(clutch, profile is not None and profile.venomous)


def _new_uid() -> str:
    """RFC 7986, 5.3: a random UUID, which tells nothing of the machine."""
    return str(uuid.uuid4())
