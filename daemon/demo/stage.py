"""Runs the demo: history with a progress bar, then live probes on a fast clock, a heater that fails, an alert."""

import contextlib
import json
import tempfile
import threading
import time
import webbrowser
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from functools import partial
from pathlib import Path

from rich.console import Console
from rich.panel import Panel
from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn
from rich.text import Text

from config.check import check_site
from config.errors import ConfigError
from config.places import Places
from daemon.access.values import Refused
from daemon.alarms.wrong import LIMITED
from daemon.clock import AcceleratedClock
from daemon.clutches import register
from daemon.commands.site_folder import SiteFolder
from daemon.demo import scenario
from daemon.demo.pace import Pace
from daemon.demo.past_night import PastNight, last_night
from daemon.demo.past_rounds import walk_through
from daemon.service import Service, Stated
from daemon.storage import alarm_log, heat, outbox, samples
from daemon.storage.audit import HOST
from daemon.storage.journal import Journal
from sensors.decoder import Decoder
from sensors.feed import Command, Feed
from sensors.publisher import ProbePublisher
from sensors.reading import Reading
from sensors.simulation.world import SimulatedSite

RATE = 300.0
FAILS_AFTER_S = 2.0
RESTORED_AFTER_S = 8.0
"""real seconds after the alert came"""
SIGNED_IN_FAILS_AFTER_S, SIGNED_IN_RESTORED_AFTER_S = 6.0, 60.0
"""the same where somebody has signed in, and is to see the alarm come, open it and acknowledge it"""
BATCH = 5_000
LOOK_S = 0.1
_PACES = {
    False: "A round goes on: the clock of the demo runs in real time.",
    True: f"No round goes on: the clock of the demo runs {RATE:g} times faster than real time.",
}


@dataclass(frozen=True, slots=True)
class Summary:
    """What the demo did."""

    samples_stored: int
    alarms_raised: int
    alerts_delivered: int
    clutches_with_heat: int
    seconds_to_first_alert: float | None


_FAR_AHEAD_MS = 2**62


class Demo:
    """One run of the demo in a folder of its own that is removed at the end."""

    def __init__(
        self, console: Console, page_port: int, broker_port: int, seconds: float | None, *, sign_in: bool = False
    ) -> None:
        self._console = console
        self._page_port = page_port
        self._broker_port = broker_port
        self._seconds = seconds
        self._sign_in = sign_in
        self._began = time.monotonic()
        self._stop = threading.Event()
        self._first_alert_s: float | None = None

    def run(self, *, open_browser: bool) -> Summary:
        """Show everything until the time is up or Ctrl-C; gives what was counted."""
        with tempfile.TemporaryDirectory(prefix="clutchwarden-demo-") as folder:
            site = self._write(Path(folder))
            start_ms = time.time_ns() // 1_000_000
            self._write_past(site, start_ms)
            clock = AcceleratedClock(start_ms, RATE)
            whole = Stated(site.folder, site.site, site.settings, site.profiles)
            service = Service(whole, clock, demo=True, sign_in=self._sign_in)
            service.start()
            try:
                self._announce(service, open_browser=open_browser)
                with contextlib.suppress(KeyboardInterrupt):
                    self._live(site, service, clock)
                return self._count(service.journal)
            finally:
                service.stop()

    def _write(self, folder: Path) -> SiteFolder:
        scenario.write_site(folder, self._page_port, self._broker_port)
        checked = check_site(folder)
        if checked.site is None or checked.settings is None:
            raise ConfigError(checked.mistakes)
        return SiteFolder(folder, checked.site, checked.settings, dict(checked.profiles), Places(checked.site))

    def _write_past(self, site: SiteFolder, now_ms: int) -> None:
        """Forty days of readings and the clutches, straight into the journal, as if they had been measured."""
        start_ms = now_ms - scenario.HISTORY_DAYS * scenario.DAY_MS
        channels = Decoder(site.site).channels
        steps = int((now_ms - start_ms) / 1000 / scenario.HISTORY_EVERY_S) * len(site.site.probes)
        columns = (
            TextColumn("{task.description}"),
            BarColumn(),
            TextColumn("{task.percentage:3.0f}%"),
            TimeRemainingColumn(),
        )
        with site.journal() as journal, Progress(*columns, console=self._console, transient=True) as progress:
            for clutch in scenario.invented_clutches(now_ms):
                journal.write(partial(register.add_clutch, new=clutch, who="demo", now_ms=now_ms))
            for incubator in site.site.incubators:
                walked = partial(walk_through, site=site.site, profiles=site.profiles, incubator=incubator.id)
                journal.write(partial(walked, now_ms=now_ms))
            ids = journal.write(lambda conn: samples.channel_ids(conn, channels.values()))
            task = progress.add_task(f"Inventing {scenario.HISTORY_DAYS} days of readings", total=steps)
            night = last_night(now_ms, site.site.time_zone)
            past = PastNight(journal, site.site, site.settings, site.profiles, night)
            world = SimulatedSite(site.site, start_ms, seed=scenario.SEED, set_points_c=scenario.SET_POINTS_C)
            past.befall(world)

            def store(until_ms: int) -> None:
                for batch in _batches(world, until_ms):
                    journal.write(partial(samples.append, ids=ids, readings=past.heard(batch)))
                    progress.advance(task, len({(row.channel.split("/")[0], row.measured_at_ms) for row in batch}))

            store(night.watched_from_ms)
            past.watch(store)
            store(now_ms)
            # But for that night nobody watched: heat is counted from all of it, alarms are not raised for the rest.
            journal.write(lambda conn: heat.set_cursor(conn, samples.count(conn)))
            past.write_runs(start_ms, now_ms)

    def _announce(self, service: Service, *, open_browser: bool) -> None:
        url = service.page_url or ""
        self._console.print(
            Panel(
                f"Everything here is invented. The demo clock runs {RATE:g} times faster than real time.\n"
                f"Status page: {url}\nPhone inbox: {url}inbox\n"
                f"{self._way_in(service)}"
                f"{'As soon as you have signed in' if self._sign_in else 'In a moment'} the heater of the "
                f"{scenario.FAILING_INCUBATOR} cabinet fails.\n"
                "While a round goes on the clock runs in real time, so that you can walk one. Ctrl-C ends the demo.",
                title="clutchwarden demo",
            )
        )
        if open_browser:
            webbrowser.open(url)

    def _way_in(self, service: Service) -> str:
        """Say how somebody gets in, where they are asked to sign in: as on the first start of a site of one's own."""
        if not self._sign_in:
            return ""
        made = service.access.first_code(None, HOST)
        if isinstance(made, Refused):
            return f"{made.reason}\n"
        return f"Sign in: open {service.page_url}welcome and enter this code, good for 1 hour, once:\n{made[0]}\n"

    def _live(self, site: SiteFolder, service: Service, clock: AcceleratedClock) -> None:
        world = SimulatedSite(site.site, clock.now_ms(), seed=scenario.SEED, set_points_c=scenario.SET_POINTS_C)
        feed = Feed(site.site, world, self._outlet, clock.now_ms, lambda: clock.rate)
        publishing = threading.Thread(target=feed.run, args=(self._stop,), name="demo-probes", daemon=True)
        publishing.start()
        try:
            self._play(service, feed, Pace(service.journal, clock))
        finally:
            self._stop.set()
            publishing.join(15)

    def _outlet(self, probe_id: str) -> ProbePublisher:
        return ProbePublisher(probe_id, "127.0.0.1", self._broker_port, protocol="3.1.1")

    def _play(self, service: Service, feed: Feed, pace: Pace) -> None:
        """The heater fails, the alert comes, the heater is mended, the all-clear comes."""
        failed = restored = False
        fails_after_s = SIGNED_IN_FAILS_AFTER_S if self._sign_in else FAILS_AFTER_S
        restored_after_s = SIGNED_IN_RESTORED_AFTER_S if self._sign_in else RESTORED_AFTER_S
        shown: set[str] = set()
        began: float | None = None
        while not self._stop.wait(LOOK_S):
            now = time.monotonic()
            if self._seconds is not None and now - self._began >= self._seconds:
                return
            if pace.look():
                self._console.print(Text(_PACES[pace.is_fast]))
            if began is None and not (self._sign_in and service.access.needs_first()):
                began = now
            if not failed and began is not None and now - began >= fails_after_s:
                failed = True
                feed.command(scenario.FAILING_INCUBATOR, Command.HEATER_FAILS)
                self._console.print(Text(f"The heater of the {scenario.FAILING_INCUBATOR} cabinet has failed."))
            for message in reversed(service.inbox.messages()):
                if message.message_id not in shown:
                    shown.add(message.message_id)
                    self._show(message.headline, message.body)
                    if failed and message.alarm in LIMITED and self._first_alert_s is None:
                        self._first_alert_s = time.monotonic() - self._began
            waited = now - self._began - (self._first_alert_s or 0.0)
            if self._first_alert_s is not None and not restored and waited >= restored_after_s:
                restored = True
                feed.command(scenario.FAILING_INCUBATOR, Command.HEATER_RESTORED)
                self._console.print(Text("Somebody has mended the heater."))

    def _show(self, headline: str, body: str) -> None:
        self._console.print(Panel(Text(f"{headline}\n{body}"), title="on the phone", expand=False))

    def _count(self, journal: Journal) -> Summary:
        with journal.read() as conn:
            raised = sum(event.event.startswith("raised") for event in alarm_log.events(conn, 100_000))
            return Summary(
                samples_stored=samples.count(conn),
                alarms_raised=raised,
                alerts_delivered=outbox.totals(conn)["delivered"],
                clutches_with_heat=sum(total.piece.best_ch > 0 for total in heat.totals(conn, _FAR_AHEAD_MS).values()),
                seconds_to_first_alert=None if self._first_alert_s is None else round(self._first_alert_s, 1),
            )


def _batches(world: SimulatedSite, end_ms: int) -> Iterator[list[Reading]]:
    batch: list[Reading] = []
    for measured_at_ms, probe, values in world.readings(end_ms, scenario.HISTORY_EVERY_S):
        batch += [
            Reading(f"{probe}/{name}", measured_at_ms, measured_at_ms, value, 0) for name, value in values.items()
        ]
        if len(batch) >= BATCH:
            yield batch
            batch = []
    yield batch


def summary_json(summary: Summary) -> str:
    """The summary as one line of JSON."""
    return json.dumps(asdict(summary))
