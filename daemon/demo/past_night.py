"""The night before the demo, in which the mains was lost: watched as a daemon would have, so that it can be reviewed.

What is true of it: from 02:07 to 06:11 there was no heat. A small battery kept the machine that watches for 16 minutes;
it came back two minutes after the mains. Four times before somebody had pulled the plug of the cabinets for some
hours by day, to try the contact: from that it is known how fast they cool. Invented throughout.
"""

import sqlite3
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from functools import partial
from zoneinfo import ZoneInfo

from config.settings import Settings
from config.site import Site
from config.species import SpeciesProfile
from config.words import AlarmKind
from daemon.alarms.delivery import MessageStatus
from daemon.alarms.events import Reset
from daemon.clock import as_datetime, as_ms
from daemon.desk_work import DeskWork
from daemon.evaluate import Evaluator
from daemon.standing_sources.contacts import Contacts
from daemon.standing_sources.silent import Silences
from daemon.storage import heat, incidents, outbox, runs, samples
from daemon.storage.incidents import Looked
from daemon.storage.journal import Journal
from sensors.decoder import Decoder
from sensors.reading import Reading
from sensors.simulation.events import Event, EventKind
from sensors.simulation.world import SimulatedSite

_MINUTE_MS = 60_000
_DAY_MS = 24 * 60 * _MINUTE_MS
STEP_MS = 5 * _MINUTE_MS
LOST, BACK = time(2, 7), time(6, 11)
BATTERY_MS, BOOT_MS = 16 * _MINUTE_MS, 2 * _MINUTE_MS
BEFORE_MS, AFTER_MS = 60 * _MINUTE_MS, 4 * 60 * _MINUTE_MS
"""So long around it somebody watched, until all was warm again; of the rest of the past no alarm was raised."""
LOOKED_BACK_MS = 12 * 60 * _MINUTE_MS
TRIED_DAYS, TRIED_FOR_MS = (8.5, 15.5, 22.5, 29.5), 6 * 60 * _MINUTE_MS
"""so many days before that night it was tried, and for so long"""
SEEN_MS, SEEN_AGAIN_MS = 9 * _MINUTE_MS, 14 * _MINUTE_MS
"""after the mains was lost, and after the machine came back"""
WHO = "ines"
NOTE, NOTE_AGAIN = "Seen. The whole street is dark. Boxes stay shut.", "Both cabinets heat again. Boxes stayed shut."
VERSION, FIRST_BOOT, SECOND_BOOT = "demo", "invented-1", "invented-2"


@dataclass(frozen=True, slots=True)
class Night:
    """When the mains was lost and came back, when the machine was off, until when somebody watched. UTC ms."""

    lost_ms: int
    off_ms: int
    back_ms: int
    up_ms: int
    watched_until_ms: int

    @property
    def watched_from_ms(self) -> int:
        """From when on alarms were watched."""
        return self.lost_ms - BEFORE_MS

    def is_off(self, at_ms: int) -> bool:
        """True while nobody listened."""
        return self.off_ms <= at_ms < self.up_ms


def last_night(now_ms: int, time_zone: str, after_ms: int = AFTER_MS) -> Night:
    """Give the newest night of which all that was watched is over, watched for so long after the machine came back."""
    zone = ZoneInfo(time_zone)
    day = as_datetime(now_ms).astimezone(zone).date()
    nights = (_night(day - timedelta(days=back), zone, after_ms) for back in range(4))
    return next(night for night in nights if night.watched_until_ms <= now_ms)


def _night(day: date, zone: ZoneInfo, after_ms: int) -> Night:
    lost_ms, back_ms = (as_ms(datetime.combine(day, each, zone)) for each in (LOST, BACK))
    up_ms = back_ms + BOOT_MS
    return Night(lost_ms, lost_ms + BATTERY_MS, back_ms, up_ms, up_ms + after_ms)


class PastNight:
    """Writes that night into a journal that has everything before it."""

    def __init__(
        self, journal: Journal, site: Site, settings: Settings, profiles: Mapping[str, SpeciesProfile], night: Night
    ) -> None:
        self._journal, self._site, self._settings, self._profiles = journal, site, settings, profiles
        self._channels = dict(Decoder(site).channels)
        self._desk = DeskWork(site, profiles, MessageStatus.DEMO)
        self.night = night

    def befall(self, world: SimulatedSite) -> None:
        """Let the mains be lost in every simulated incubator."""
        for model in world.models.values():
            for days in TRIED_DAYS:
                tried_ms = self.night.lost_ms - round(days * _DAY_MS)
                model.add(Event(tried_ms, EventKind.MAINS_LOST, until_ms=tried_ms + TRIED_FOR_MS))
            model.add(Event(self.night.lost_ms, EventKind.MAINS_LOST, until_ms=self.night.back_ms))

    def heard(self, rows: Iterable[Reading]) -> list[Reading]:
        """Leave out what nobody heard."""
        return [row for row in rows if not self.night.is_off(row.measured_at_ms)]

    def watch(self, store: Callable[[int], None]) -> None:
        """Go through it in steps; `store` keeps the readings before a moment. What is before it is kept already."""
        night = self.night
        self._journal.write(lambda conn: heat.set_cursor(conn, samples.count(conn)))
        self._go(night.watched_from_ms, night.off_ms, store)
        store(night.up_ms)
        self._go(night.up_ms, night.watched_until_ms, store)

    def write_runs(self, first_ms: int, now_ms: int) -> None:
        """Write down when the service ran, and that nothing before the night is to be looked through."""
        self._journal.write(partial(self._runs, first_ms=first_ms, now_ms=now_ms))

    def _runs(self, conn: sqlite3.Connection, first_ms: int, now_ms: int) -> None:
        first = runs.begin_run(conn, first_ms, VERSION, FIRST_BOOT)
        runs.touch_run(conn, first, self.night.off_ms)
        second = runs.begin_run(conn, self.night.up_ms, VERSION, SECOND_BOOT)
        runs.end_run(conn, second, now_ms)
        looked_ms = max(self.night.lost_ms - LOOKED_BACK_MS, first_ms)
        incidents.set_looked(conn, Looked(looked_ms, samples.count(conn), 0))

    def _go(self, from_ms: int, until_ms: int, store: Callable[[int], None]) -> None:
        sources = (Contacts(self._site), Silences(self._site))
        evaluator = Evaluator(
            self._journal,
            self._site,
            self._settings,
            self._profiles,
            self._channels,
            from_ms,
            MessageStatus.DEMO,
            sources,
        )
        seen = {self.night.lost_ms + SEEN_MS: NOTE, self.night.up_ms + SEEN_AGAIN_MS: NOTE_AGAIN}
        for at_ms in _moments(from_ms, until_ms, seen):
            store(at_ms + 1)
            evaluator.step(lambda at_ms=at_ms: at_ms)  # type: ignore[misc]
            self._journal.write(partial(self._deliver, at_ms=at_ms))
            if at_ms in seen:
                self._journal.write(partial(self._acknowledge, note=seen[at_ms], at_ms=at_ms))

    def _deliver(self, conn: sqlite3.Connection, at_ms: int) -> None:
        for row in outbox.due(conn, at_ms):
            outbox.record_attempt(conn, row.message_id, "delivered", at_ms, None, "")

    def _acknowledge(self, conn: sqlite3.Connection, note: str, at_ms: int) -> None:
        keys = list(self._desk.read(conn).entries)
        self._desk.acknowledge(conn, keys, WHO, note, at_ms)
        if note == NOTE_AGAIN:
            self._desk.do(conn, {key: Reset(WHO) for key in keys if key.startswith(AlarmKind.MAINS_LOST)}, at_ms)
        self._deliver(conn, at_ms)


def _moments(from_ms: int, until_ms: int, seen: Iterable[int]) -> list[int]:
    return sorted({*range(from_ms, until_ms, STEP_MS), until_ms, *(at for at in seen if from_ms <= at <= until_ms)})
