"""The demo's site at a moment of its own: the same readings, alarms and pages in every run, without waiting for it."""

from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import partial
from pathlib import Path

from fastapi import FastAPI

from config.check import check_site
from daemon.access_desk import AccessDesk
from daemon.alarms.courier import Courier
from daemon.alarms.delivery import MessageStatus
from daemon.arrival import BrokerState
from daemon.clock import as_ms
from daemon.clutches import register
from daemon.cooling_learner import CoolingLearner
from daemon.demo import scenario
from daemon.demo.past_night import SECOND_BOOT, PastNight, last_night
from daemon.demo.past_rounds import walk_through
from daemon.evaluate import Evaluator
from daemon.kept import Kept
from daemon.overview import Overview
from daemon.queries import Queries
from daemon.review_keeper import IncidentKeeper
from daemon.rollups import RollUps
from daemon.service_pages import Behind, app_of
from daemon.stated import Stated
from daemon.storage import heat, outbox, runs, samples
from daemon.storage.journal import Journal
from dashboards.inbox import Inbox, ReceivedMessage
from sensors.decoder import Decoder
from sensors.reading import Reading
from sensors.simulation.events import Event, EventKind
from sensors.simulation.world import SimulatedSite
from tests.support.household import MINUTE_MS

NOW_MS = as_ms(datetime(2026, 6, 21, 9, 41, tzinfo=UTC))
"""Quarter to eleven on a summer's morning in Lisbon."""
FAILED_MS = NOW_MS - 55 * MINUTE_MS
"""since then the warm cabinet has had no heat"""
WATCHED_MS = NOW_MS - 3 * 60 * MINUTE_MS
BRIDGE_S = 1800.0
WARMER_MS = 85 * MINUTE_MS
"""so long after the outage of the night somebody watched, until the last hours begin"""


class DemoSite:
    """Forty days of the scenario, and the last three hours as a daemon would have watched them."""

    def __init__(self, journal: Journal, folder: Path) -> None:
        scenario.write_site(folder, 8330, 1883)
        checked = check_site(folder)
        assert checked.site is not None, checked.mistakes
        assert checked.settings is not None
        self.stated = Stated(folder, checked.site, checked.settings, dict(checked.profiles))
        self.journal, self.site = journal, checked.site
        self.now_ms = WATCHED_MS
        self.channels = dict(Decoder(self.site).channels)
        self._queries = Queries(journal, self.site, self.stated.profiles, self.channels, BRIDGE_S)
        self.world = SimulatedSite(
            self.site,
            NOW_MS - scenario.HISTORY_DAYS * scenario.DAY_MS,
            seed=scenario.SEED,
            set_points_c=scenario.SET_POINTS_C,
        )
        night = last_night(WATCHED_MS, self.site.time_zone, WARMER_MS)
        self.past = PastNight(journal, self.site, checked.settings, self.stated.profiles, night)
        self.past.befall(self.world)
        self._write_past()
        self.evaluator = Evaluator(
            journal,
            self.site,
            checked.settings,
            self.stated.profiles,
            self.channels,
            WATCHED_MS,
            MessageStatus.DEMO,
        )
        self.inbox = Inbox(self.site.time_zone)
        self._watch()
        RollUps(journal).run()
        CoolingLearner(journal, self.site, lambda: self.now_ms).run()
        keeper = IncidentKeeper(journal, self.site, lambda: self.now_ms)
        while keeper.look():
            pass

    def _write_past(self) -> None:
        for clutch in scenario.invented_clutches(NOW_MS):
            self.journal.write(lambda conn, new=clutch: register.add_clutch(conn, new, "demo", NOW_MS))  # type: ignore[misc]
        self.ids = self.journal.write(lambda conn: samples.channel_ids(conn, self.channels.values()))
        self._store(self.past.night.watched_from_ms, scenario.HISTORY_EVERY_S)
        self.past.watch(lambda until_ms: self._store(until_ms, scenario.HISTORY_EVERY_S))
        self._store(WATCHED_MS, scenario.HISTORY_EVERY_S)
        self.journal.write(lambda conn: heat.set_cursor(conn, samples.count(conn)))
        self.past.write_runs(NOW_MS - scenario.HISTORY_DAYS * scenario.DAY_MS, WATCHED_MS)
        self.journal.write(lambda conn: runs.begin_run(conn, WATCHED_MS, "demo", SECOND_BOOT))

        profiles = dict(self.stated.profiles)
        for each in self.site.incubators:
            walked = partial(walk_through, site=self.site, profiles=profiles, incubator=each.id, now_ms=NOW_MS)
            self.journal.write(walked)

    def _watch(self) -> None:
        """A look each minute; what people are told goes into the inbox."""
        while self.now_ms < NOW_MS:
            self.now_ms += MINUTE_MS
            if self.now_ms == FAILED_MS:
                self.world.models[scenario.FAILING_INCUBATOR].add(Event(self.now_ms, EventKind.HEATER_STUCK_OFF))
            self._store(self.now_ms + 1, None)
            self.evaluator.step(lambda: self.now_ms)
            self._deliver()

    def _store(self, end_ms: int, every_s: float | None) -> None:
        rows = [
            Reading(f"{probe}/{name}", at_ms, at_ms, value, 0)
            for at_ms, probe, values in self.world.readings(end_ms, every_s)
            for name, value in values.items()
        ]
        self.journal.write(lambda conn: samples.append(conn, self.ids, self.past.heard(rows)))

    def _deliver(self) -> None:
        with self.journal.read() as conn:
            waiting = outbox.due(conn, self.now_ms)
        for row in waiting:
            self.inbox.receive(ReceivedMessage.model_validate_json(row.body))
            self.journal.write(
                lambda conn, name=row.message_id: outbox.record_attempt(  # type: ignore[misc]
                    conn, name, "delivered", self.now_ms, None, ""
                )
            )

    def overview(self) -> Overview:
        """What the first page shows."""
        broker = BrokerState(connected=True, detail="", since_ms=WATCHED_MS)
        return self._queries.overview(self.now_ms, 1.0, broker)

    def app(self, ending: ExitStack) -> FastAPI:
        """All pages as the demo has them, for a browser on this machine."""
        behind = Behind(
            journal=self.journal,
            stated=self.stated,
            clock=DemoClock(self),
            status=MessageStatus.DEMO,
            courier=Courier(self.journal, {}, lambda: self.now_ms),
            queries=self._queries,
            overview=self.overview,
            disk=lambda: None,
            inbox=self.inbox,
            restart=None,
            is_demo=True,
            kept=Kept(),
            remark=lambda: "",
            access=AccessDesk(self.journal, self.site, lambda: self.now_ms),
            asks_to_sign_in=False,
        )
        return app_of(behind, ending)


@dataclass(frozen=True, slots=True)
class DemoClock:
    """The time of the site, which stands still once it is made."""

    of: DemoSite
    rate: float = 1.0

    def now_ms(self) -> int:
        return self.of.now_ms


@contextmanager
def demo_site(folder: Path) -> Iterator[DemoSite]:
    """Make one in a folder of its own."""
    folder.mkdir(parents=True, exist_ok=True)
    with Journal.open(folder / "journal.sqlite3") as journal:
        yield DemoSite(journal, folder)
