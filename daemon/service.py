"""The composition root: builds every part of the daemon, starts them in order, ends them in the reverse order."""

import contextlib
import logging
import threading
from collections.abc import Callable, Mapping
from dataclasses import replace
from importlib.metadata import version
from typing import Any

from config.notify import Notifier
from daemon.access_desk import AccessDesk
from daemon.alarms.courier import Courier
from daemon.alarms.delivery import MessageStatus
from daemon.arrival import BrokerState
from daemon.backup_keeper import keep_backups
from daemon.board_looks import BoardLooks
from daemon.boot import boot_id
from daemon.calendar_feed_keeper import keep_calendar
from daemon.clock import Clock, SystemClock
from daemon.clock_steps import ClockSteps, steady_beside
from daemon.clock_trust import trust_of
from daemon.contact_follower import begin_with_contacts
from daemon.contacts import channels
from daemon.decoding import decoder_of
from daemon.direct_calls import DirectCalls
from daemon.embedded import EmbeddedBroker, own_place
from daemon.enrol_inner import FILE as PROBE_PASSWORDS
from daemon.evaluate import Evaluator
from daemon.evaluation import Evaluation
from daemon.heartbeat import Heartbeat
from daemon.ingest import Ingest
from daemon.journal_guard import JournalGuard
from daemon.journal_jobs import start_jobs
from daemon.kept import Kept
from daemon.letters import Letters, letters_of
from daemon.loaded import keep_what_is_loaded
from daemon.machine import Machine
from daemon.manager_patience import open_patiently
from daemon.manager_teller import tell_manager
from daemon.mirror_keeper import keep_mirror
from daemon.mqtt import Listener
from daemon.only_one import ServiceError, only_one
from daemon.queries import Queries
from daemon.review_keeper import keep_incidents
from daemon.round_lines import RoundLines
from daemon.standing_sources.all_of import sources_of
from daemon.stated import Stated
from daemon.stated_follower import follow_stated
from daemon.storage import runs
from daemon.storage.journal import Journal, JournalError
from daemon.troubles import Parts, Troubles
from sensors.reading import ChannelKey

__all__ = ["Service", "ServiceError", "Stated"]

log = logging.getLogger("clutchwarden")


class Service:
    """A running daemon. In the demo it has the page that stands in for a phone, and nothing stated can be changed.

    Without `sign_in` whoever sits at the machine itself is a keeper: for the demo alone.
    `restart` is called where a page has changed what is stated; `kept` stays over a new start. `manager` hears that
    evaluation goes round.
    """

    def __init__(
        self,
        stated: Stated,
        clock: Clock,
        *,
        demo: bool = False,
        sign_in: bool = True,
        restart: Callable[[], None] | None = None,
        kept: Kept | None = None,
        manager: Notifier | None = None,
    ) -> None:
        self._stated = stated
        self._clock = clock
        self._demo = demo
        self._sign_in = sign_in
        self._restart = restart
        self._manager = Notifier({}) if manager is None else manager
        self._kept = Kept() if kept is None else kept
        self._is_last = kept is None
        self._status = MessageStatus.DEMO if demo else MessageStatus.ACTUAL
        self._ending = contextlib.ExitStack()
        self._committed = threading.Event()
        self.page_url: str | None = None
        self.inbox: Any = None
        self.app: Any = None
        self._machine: Machine | None = None
        self._troubles: Troubles | None = None

    def start(self) -> None:
        """Start every part. What was started before a failure is ended again; raises an error that says why."""
        with contextlib.ExitStack() as ending:
            self._start(ending)
            self._ending = ending.pop_all()
        keep_what_is_loaded()

    def stop(self) -> None:
        """End every part, in the reverse order. Calling it twice does no harm."""
        if self._troubles is not None:
            self._troubles.parts = None
        self._ending.close()

    def remark(self, sentence: str) -> None:
        """Show a trouble on the pages for as long as this daemon runs."""
        if self._troubles is not None:
            self._troubles.remark = sentence

    def _start(self, ending: contextlib.ExitStack) -> None:
        stated, settings = self._stated, self._stated.settings
        if self._is_last:
            ending.callback(self._kept.port.close)
        ending.enter_context(only_one(settings.storage.journal))
        journal = self.journal = ending.enter_context(open_patiently(settings.storage.journal, self._manager))
        # Sessions and codes go by real time, also where the demo's clock runs ahead.
        real_ms = self._clock.now_ms if self._clock.rate == 1.0 else SystemClock().now_ms
        self.access = AccessDesk(journal, stated.site, real_ms)
        self._troubles = Troubles(journal, stated.site, self._clock.now_ms, settings.ingest.largest_payload_bytes)
        run = self._begin_run(journal, ending)
        decoder = decoder_of(stated.site, settings.ingest, journal)
        trust = trust_of(journal, self._clock)
        ingest = Ingest(decoder, journal, self._committed.set, self._kept.recent, trust, self._kept.boards)
        self._queries = Queries(journal, stated.site, stated.profiles, decoder.channels, settings.heat.longest_bridge_s)
        self._listener = Listener(
            own_place(settings.broker),
            settings.broker.reveal_password(),
            decoder.subscriptions,
            ingest,
            self._clock.now_ms,
            self._kept.no_more(decoder.subscriptions),
        )
        self._courier = Courier(
            journal,
            channels(stated.site, stated.folder, settings.delivery.timeout_s),
            self._clock.now_ms,
            rate=self._clock.rate,
        )
        begin_with_contacts(journal, stated.site, stated.folder, self._clock.now_ms)
        follow_stated(journal, stated.folder, self._clock.now_ms())
        self._backups = keep_backups(journal, stated, self._clock, ending)
        # A page may be asked for from here on, so everything that it asks must be there.
        self._start_pages(ending)
        self._courier.start()
        ending.callback(self._courier.stop)
        self._evaluation = self._make_evaluation(decoder.channels, ending)
        self._start_evaluation(ending)
        self._start_broker(ending)
        self._listener.start()
        ending.callback(self._listener.stop)
        guard, heartbeat = self._start_guard(ending, run), self._start_heartbeat(ending)
        letters = self._start_letters(ending)
        keep_calendar(journal, stated, self.overview, self._queries.sooner, self._clock, ending)
        keep_mirror(journal, stated, self._clock, ending)
        tell_manager(self._manager, self.overview, ending)
        self._troubles.parts = Parts(self._listener, self._evaluation, self._courier, guard, heartbeat, letters)

    def _make_evaluation(self, channels: Mapping[str, ChannelKey], ending: contextlib.ExitStack) -> Evaluation:
        stated, clock, journal, boards = self._stated, self._clock, self.journal, self._kept.boards
        machine = Machine(journal.path.parent, lambda: self._listener.state, clock)
        machine.start()
        ending.callback(machine.stop)
        self._machine = machine
        evaluator = Evaluator(
            journal,
            stated.site,
            stated.settings,
            stated.profiles,
            channels,
            clock.now_ms(),
            self._status,
            sources_of(stated.site, stated.settings, stated.profiles, machine, self._backups.folder_trouble, boards),
            ClockSteps(steady_beside(clock), clock.rate),
            BoardLooks(stated.site, boards, lambda: self._listener.state.connected),
        )
        return Evaluation(evaluator, self._listener, self._courier, self._committed, clock.now_ms, self._manager.alive)

    def _begin_run(self, journal: Journal, ending: contextlib.ExitStack) -> int:
        now_ms = self._clock.now_ms
        run = journal.write(lambda conn: runs.begin_run(conn, now_ms(), version("clutchwarden"), boot_id()))

        def end() -> None:
            with contextlib.suppress(JournalError):
                journal.write(lambda conn: runs.end_run(conn, run, now_ms()))

        ending.callback(end)
        start_jobs(journal, self._stated.site, self._clock, self._committed.set, ending)
        keep_incidents(journal, self._stated.site, self._clock, run, ending)
        return run

    def _start_evaluation(self, ending: contextlib.ExitStack) -> None:
        self._evaluation.start()
        ending.callback(self._evaluation.stop)

    def _start_broker(self, ending: contextlib.ExitStack) -> None:
        broker = self._stated.settings.broker
        if broker.embedded:
            accounts = self._stated.folder / PROBE_PASSWORDS
            inner = EmbeddedBroker(broker.host, broker.port, broker.username, broker.reveal_password(), accounts)
            inner.start()
            ending.callback(inner.stop)

    def _start_guard(self, ending: contextlib.ExitStack, run: int) -> JournalGuard:
        """It has ways of its own to people: one way takes one call at a time, and the courier's may be busy."""
        stated, now_ms = self._stated, self._clock.now_ms
        calls = DirectCalls(channels(stated.site, stated.folder, stated.settings.delivery.timeout_s), now_ms)
        guard = JournalGuard(
            self.journal,
            stated.site,
            calls,
            self._clock,
            self._status,
            lambda conn: runs.touch_run(conn, run, now_ms()),
            lambda: self._evaluation.journal_error or self._listener.store_error,
        )
        guard.start()
        ending.callback(guard.stop)
        return guard

    def _start_letters(self, ending: contextlib.ExitStack) -> Letters:
        stated = self._stated
        letters = letters_of(
            self.journal,
            stated.site,
            stated.profiles,
            stated.settings,
            self.overview,
            self._clock,
            self._courier.wake,
            self._status,
            RoundLines(stated.site),
        )
        letters.start()
        ending.callback(letters.stop)
        return letters

    def _start_heartbeat(self, ending: contextlib.ExitStack) -> Heartbeat:
        from dashboards.health import health

        stated = self._stated
        heartbeat = Heartbeat(
            stated.settings.heartbeat, stated.site.name, lambda: tuple(health(self.overview()).reasons)
        )
        heartbeat.start()
        ending.callback(heartbeat.stop)
        return heartbeat

    def _start_pages(self, ending: contextlib.ExitStack) -> None:
        stated, web = self._stated, self._stated.settings.web
        if not web.enabled:
            # Else the kernel would go on taking connections in its name that nobody ever answers.
            self._kept.port.close()
            return
        # Only here and in the command line does the daemon know its pages: they are above it.
        from daemon.service_pages import Behind, app_of
        from dashboards.inbox import Inbox
        from dashboards.server import PageServer

        self.inbox = Inbox(stated.site.time_zone) if self._demo else None
        behind = Behind(
            journal=self.journal,
            stated=stated,
            clock=self._clock,
            status=self._status,
            courier=self._courier,
            queries=self._queries,
            overview=self.overview,
            disk=lambda: None if self._machine is None else self._machine.disk,
            inbox=self.inbox,
            restart=self._restart,
            is_demo=self._demo,
            kept=self._kept,
            remark=lambda: "" if self._troubles is None else self._troubles.remark,
            access=self.access,
            asks_to_sign_in=self._sign_in,
            backup_trouble=self._backups.folder_trouble,
        )
        proxies = web.trusted_proxies if web.behind_proxy else ()
        self.app = app_of(behind, ending)
        server = PageServer(self.app, web.host, web.port, self._kept.port, web.certificate, proxies, web.public_url)
        self.page_url = server.start()
        ending.callback(server.stop)

    def overview(self) -> Any:
        """What the first page shows at this moment."""
        found = self._queries.overview(self._clock.now_ms(), self._clock.rate, self.broker_state, self.troubles())
        return replace(found, is_demo=True) if self._demo else found

    def troubles(self) -> tuple[str, ...]:
        """What is wrong with the daemon itself, in sentences for the page and for `/health`."""
        return () if self._troubles is None else self._troubles.sentences()

    @property
    def broker_state(self) -> BrokerState:
        """Connected or not, and why."""
        return self._listener.state
