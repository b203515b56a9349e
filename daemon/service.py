"""The composition root: builds every part of the daemon, starts them in order, ends them in the reverse order."""

import contextlib
import fcntl
import gc
import logging
import threading
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path
from typing import IO, Any

from config.settings import Settings
from config.site import Site
from config.species import SpeciesProfile
from daemon.alarms.courier import Courier
from daemon.alarms.delivery import MessageStatus
from daemon.answer_desk import AnswerDesk
from daemon.arrival import BrokerState
from daemon.clock import Clock
from daemon.contacts import channels
from daemon.cooling_learner import LEARN_EVERY_S, CoolingLearner
from daemon.desk_work import DeskWork
from daemon.embedded import EmbeddedBroker
from daemon.evaluate import LARGEST_STEP, Evaluator
from daemon.heartbeat import EvaluationProgress, Heartbeat
from daemon.ingest import Ingest
from daemon.mqtt import Listener
from daemon.queries import Queries
from daemon.schedule import Schedule
from daemon.storage import runs, samples
from daemon.storage.journal import Journal, JournalError
from daemon.undelivered import undelivered
from sensors.decoder import Decoder

log = logging.getLogger("clutchwarden")

TICK_S = 5.0
ALIVE_S = 30.0
JUDGE_MEMORY_MS = 25 * 3_600_000
"""So far back the judgement of a reading looks, at the most: a stuck coarse probe needs a day to be seen."""
RETRY_S = 1.0
PAUSE_S = 0.2
"""Between two evaluations: in a burst, one large step costs far less than many small ones, and ingest goes first."""
LONGEST_BACKLOG_S = 5.0
"""An alarm may wait so long, and no longer, for a backlog to be stored."""


class ServiceError(Exception):
    """The daemon cannot start; the text says why and what to do."""


@dataclass(frozen=True, slots=True)
class Stated:
    """What the keeper stated, read and checked."""

    folder: Path
    site: Site
    settings: Settings
    profiles: Mapping[str, SpeciesProfile]


class Service:
    """A running daemon. `with_inbox` adds the page that stands in for a phone in the demo."""

    def __init__(self, stated: Stated, clock: Clock, *, demo: bool = False) -> None:
        self._stated = stated
        self._clock = clock
        self._demo = demo
        self._status = MessageStatus.DEMO if demo else MessageStatus.ACTUAL
        self._ending = contextlib.ExitStack()
        self._committed = threading.Event()
        self._stopping = threading.Event()
        self._trouble = ""
        self._started = False
        self._heartbeat: Heartbeat | None = None
        self.page_url: str | None = None
        self.inbox: Any = None

    def start(self) -> None:
        """Start every part. What was started before a failure is ended again; raises an error that says why."""
        with contextlib.ExitStack() as ending:
            self._start(ending)
            self._ending = ending.pop_all()
        # What is loaded by now stays. Without this the collector walks through all of it again and again while
        # readings come in, which costs as much as understanding them.
        gc.collect()
        gc.freeze()
        gc.set_threshold(50_000, 20, 20)

    def stop(self) -> None:
        """End every part, in the reverse order. Calling it twice does no harm."""
        self._ending.close()

    def _start(self, ending: contextlib.ExitStack) -> None:
        stated, settings = self._stated, self._stated.settings
        ending.enter_context(only_one(settings.storage.journal))
        journal = self.journal = ending.enter_context(Journal.open(settings.storage.journal))
        self._begin_run(journal, ending)
        decoder = Decoder(
            stated.site,
            future_tolerance_s=settings.ingest.future_tolerance_s,
            largest_payload_bytes=settings.ingest.largest_payload_bytes,
        )
        with journal.read() as conn:
            for channel in decoder.channels:
                decoder.recall(samples.remembered(conn, channel, JUDGE_MEMORY_MS))
        ingest = Ingest(decoder, journal, self._committed.set)
        self._queries = Queries(journal, stated.site, stated.profiles, decoder.channels, settings.heat.longest_bridge_s)
        self._listener = Listener(
            settings.broker, settings.broker.reveal_password(), decoder.subscriptions, ingest, self._clock.now_ms
        )
        self._courier = Courier(
            journal,
            channels(stated.site, stated.folder, settings.delivery.timeout_s),
            self._clock.now_ms,
            rate=self._clock.rate,
        )
        # A page may be asked for from here on, so everything that it asks must be there.
        self._start_pages(ending)
        self._courier.start()
        ending.callback(self._courier.stop)
        self._evaluator = Evaluator(
            journal,
            stated.site,
            settings,
            stated.profiles,
            decoder.channels,
            self._clock.now_ms(),
            self._status,
        )
        self._start_evaluation(ending)
        self._start_broker(ending)
        self._listener.start()
        ending.callback(self._listener.stop)
        self._started = True
        self._start_heartbeat(ending)

    def _begin_run(self, journal: Journal, ending: contextlib.ExitStack) -> None:
        now_ms = self._clock.now_ms
        run = journal.write(lambda conn: runs.begin_run(conn, now_ms(), version("clutchwarden")))

        def end() -> None:
            with contextlib.suppress(JournalError):
                journal.write(lambda conn: runs.end_run(conn, run, now_ms()))

        ending.callback(end)
        schedule = Schedule()
        schedule.every(TICK_S / min(self._clock.rate, 20.0), self._committed.set, "look-at-the-time")
        schedule.every(ALIVE_S, lambda: journal.write(lambda conn: runs.touch_run(conn, run, now_ms())), "alive")
        learner = CoolingLearner(journal, self._stated.site, now_ms)
        schedule.every(LEARN_EVERY_S / min(self._clock.rate, 20.0), learner.run, "learn-cooling")
        schedule.start()
        ending.callback(schedule.stop)

    def _start_evaluation(self, ending: contextlib.ExitStack) -> None:
        thread = self._evaluation = threading.Thread(target=self._evaluate, name="evaluation", daemon=True)
        thread.start()

        def end() -> None:
            self._stopping.set()
            self._committed.set()
            thread.join(30)

        ending.callback(end)

    def _evaluate(self) -> None:
        """Evaluate what was committed, for as long as the daemon runs. No error ends it."""
        while not self._stopping.is_set():
            # Not only when told: a scheduler on wall time would stop with a clock that is set back.
            self._committed.wait(TICK_S)
            self._let_a_backlog_in()
            self._committed.clear()
            self._evaluate_once()
            self._stopping.wait(PAUSE_S)

    def _let_a_backlog_in(self) -> None:
        """What a broker kept while the daemon was away is stored first, for a moment: both at once take longer."""
        until = time.monotonic() + LONGEST_BACKLOG_S
        while self._listener.behind and time.monotonic() < until and not self._stopping.is_set():
            self._stopping.wait(PAUSE_S)

    def _evaluate_once(self) -> None:
        try:
            self.evaluate_all()
        except JournalError as error:
            self._trouble = f"Readings are not evaluated, so no alarm can be raised: {error}"
            log.error("Evaluation waits: %s", error)  # noqa: TRY400 - the text is whole
        except Exception:
            self._trouble = (
                "Readings are not evaluated, so no alarm can be raised: a fault in the program, see its log."
            )
            log.exception("Evaluation failed; it begins again from the journal.")
        else:
            self._trouble = ""
            return
        self._stopping.wait(RETRY_S)
        self._committed.set()

    def evaluate_all(self, progress: Callable[[int], None] = lambda _: None) -> None:
        """Evaluate until nothing is left. Only the evaluation thread, or whoever runs without it, may call this."""
        while not self._stopping.is_set():
            count, told = self._evaluator.step(self._clock.now_ms)
            progress(count)
            if told:
                self._courier.wake()
            if count < LARGEST_STEP:
                return

    def _start_broker(self, ending: contextlib.ExitStack) -> None:
        broker = self._stated.settings.broker
        if broker.embedded:
            inner = EmbeddedBroker(broker.host, broker.port, broker.username, broker.reveal_password())
            inner.start()
            ending.callback(inner.stop)

    def _start_heartbeat(self, ending: contextlib.ExitStack) -> None:
        from dashboards.health import health

        progress, stated = EvaluationProgress(self.journal), self._stated
        self._heartbeat = Heartbeat(
            stated.settings.heartbeat, stated.site.name, lambda: (*health(self.overview()).reasons, *progress.reasons())
        )
        self._heartbeat.start()
        ending.callback(self._heartbeat.stop)

    def _start_pages(self, ending: contextlib.ExitStack) -> None:
        stated, web = self._stated, self._stated.settings.web
        if not web.enabled:
            return
        # Only here and in the command line does the daemon know its pages: they are above it.
        from dashboards.acknowledge_routes import Answers
        from dashboards.app import create_app
        from dashboards.inbox import Inbox
        from dashboards.server import PageServer

        self.inbox = Inbox(stated.site.time_zone) if self._demo else None
        work = DeskWork(stated.site, stated.profiles, self._status, web.public_url)
        desk = AnswerDesk(self.journal, work, stated.site, stated.profiles, self._clock.now_ms, self._courier.wake)
        answers = Answers(desk, web.public_url, web.on_this_machine_alone)
        app = create_app(self.overview, self.inbox, self._queries.messages, answers)
        server = PageServer(app, web.host, web.port)
        self.page_url = server.start()
        ending.callback(server.stop)

    def overview(self) -> Any:
        """What the first page shows at this moment."""
        return self._queries.overview(self._clock.now_ms(), self._clock.rate, self.broker_state, self.troubles())

    def troubles(self) -> tuple[str, ...]:
        """What is wrong with the daemon itself, in sentences for the page and for `/health`."""
        found = [self._trouble] if self._trouble else []
        if not self._started:
            return (*found, "Clutchwarden is starting.")
        if not self._listener.alive:
            found.append("Nothing listens to the broker any more: restart clutchwarden.")
        if self._listener.store_trouble:
            found.append(f"Readings cannot be stored: {self._listener.store_trouble}")
        if not self._evaluation.is_alive():
            found.append("Readings are not evaluated any more: restart clutchwarden.")
        if not self._courier.alive:
            found.append("Alerts are not sent any more: restart clutchwarden.")
        if self._heartbeat is not None and self._heartbeat.trouble:
            found.append(self._heartbeat.trouble)
        return (*found, *self._undelivered())

    def _undelivered(self) -> list[str]:
        """Alerts that reached nobody's phone, for as long as somebody may still want to know."""
        with self.journal.read() as conn:
            return undelivered(conn, self._stated.site, self._clock.now_ms())

    @property
    def broker_state(self) -> BrokerState:
        """Connected or not, and why."""
        return self._listener.state


@contextlib.contextmanager
def only_one(journal: Path) -> Any:
    """Hold the journal for this daemon alone; two of them would send every alert twice."""
    lock: IO[str]
    try:
        journal.parent.mkdir(parents=True, exist_ok=True)
        lock = journal.with_suffix(".lock").open("w")
    except OSError as error:
        raise ServiceError(
            f"The folder of the journal cannot be written: {journal.parent} ({(error.strerror or '').lower()}). "
            "Let the account that runs clutchwarden write there, or name another journal in settings.toml."
        ) from error
    with lock:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as error:
            raise ServiceError(
                f"Another clutchwarden already runs with the journal {journal}. "
                "End that one first, or give this site a journal of its own."
            ) from error
        yield
