"""What the mirror costs: filling it beside its client library alone, and what storing readings keeps meanwhile.

Both sides send the same lines in requests of the same size, compressed, to the same InfluxDB, in turn. The library gets
lines that are made already, in both ways that it takes them; the faster one counts. All is processor time, so that a
busy machine changes little; the InfluxDB and its gateway are processes of their own.
"""

import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import NamedTuple

from influxdb_client import InfluxDBClient, WritePrecision
from influxdb_client.client.write_api import SYNCHRONOUS

from config.mirror import MirrorSettings
from config.settings import IngestSettings
from config.site import Site
from daemon.arrival import Arrival
from daemon.commands.site_folder import read_site
from daemon.decoding import decoder_of
from daemon.ingest import Ingest
from daemon.mirror_filling import fill
from daemon.mirror_keeper import MirrorKeeper
from daemon.mirror_source import MirrorSource
from daemon.storage import identity, mirror
from daemon.storage.journal import Journal
from tests.support.household import MEASURE, now_ms, pack, write_site
from tests.support.influxdb import InfluxDb
from tests.support.processes import free_port, wait_until

MINUTES = 50_000
ROUNDS = 5
MESSAGES = 20_000
_BATCH = 200
_BUCKET = "bench"
_INSERT = "INSERT INTO sample (channel_id, measured_at_ms, received_at_ms, value, quality) VALUES (?, ?, ?, ?, 0)"


class MirrorCost(NamedTuple):
    """Ratios of processor time: the library alone to a backfill; storing a message without a mirror to with one.

    `share_on`, `share_down`: what the mirror's own thread took of the processor time of storing.
    """

    backfill: float
    backfill_us: float
    ingest_on: float
    ingest_down: float
    share_on: float
    share_down: float
    load: float


def mirror_cost(folder: Path) -> MirrorCost:
    """Measure in a folder."""
    whole = read_site(write_site(folder / "site", 1883))
    with _engine(folder) as url, Journal.open(whole.journal_path) as journal:
        _fill(journal)
        settings = MirrorSettings(url=url, bucket=_BUCKET)
        ours, alone, lines = _backfill(journal, whole.site, settings)
        down = MirrorSettings(url=f"http://127.0.0.1:{free_port()}", bucket=_BUCKET)
        off, on, away = _ingest(journal, whole.site, settings, down)
    return MirrorCost(
        alone / ours,
        ours / lines * 1e6,
        off.message_us / on.message_us,
        off.message_us / away.message_us,
        on.own_share,
        away.own_share,
        os.getloadavg()[0],
    )


def line_of(cost: MirrorCost) -> str:
    """Tell it."""
    return (
        f"mirror: backfill reaches {cost.backfill:.2f} of what its client library alone does (goal at least 0.5), "
        f"{cost.backfill_us:.1f} µs of processor time a line; storing readings keeps {cost.ingest_on:.2f} of its rate "
        f"with the mirror on and {cost.ingest_down:.2f} with it down (goal at least 0.95); its own thread "
        f"takes {cost.share_on:.1%} and {cost.share_down:.1%} of the processor time; "
        f"load of this machine {cost.load:.1f}"
    )


def _fill(journal: Journal) -> None:
    """Temperature and humidity of a probe, each minute."""
    start_ms = now_ms() // 600_000 * 600_000 - MINUTES * 60_000 - 600_000
    channels = [
        (1, "north-air/air", "north-air", "air_temperature"),
        (2, "north-air/rh", "north-air", "relative_humidity"),
    ]
    rows = [
        (number, start_ms + minute * 60_000, start_ms + minute * 60_000 + 300, base + minute % 97 / 7)
        for minute in range(MINUTES)
        for number, base in ((1, 20), (2, 60))
    ]
    journal.write(lambda conn: conn.executemany("INSERT INTO channel VALUES (?, ?, ?, ?)", channels).rowcount)
    journal.write(lambda conn: conn.executemany(_INSERT, rows).rowcount)


def _backfill(journal: Journal, site: Site, settings: MirrorSettings) -> tuple[float, float, int]:
    """Seconds of processor time of ours and of the library, each the median of its rounds; and how many lines."""
    lines = list(_lines(journal, site))
    ours, as_list, as_text = list[float](), list[float](), list[float]()
    for _ in range(ROUNDS):
        ours.append(_thread_s(lambda: fill(journal, site, settings, now_ms, None, lambda _: lambda _: None)))
        as_list.append(_thread_s(lambda: _alone(settings, lines, list)))
        as_text.append(_thread_s(lambda: _alone(settings, lines, "\n".join)))
    return statistics.median(ours), min(statistics.median(as_list), statistics.median(as_text)), len(lines)


def _lines(journal: Journal, site: Site) -> Iterator[str]:
    with journal.read() as conn:
        source = MirrorSource(site, identity.journal_id(conn))
        rows = mirror.samples_after(conn, 0, -1)
        yield from source.readings(conn, rows).lines
        yield from source.climate(conn, rows).lines


def _alone(settings: MirrorSettings, lines: list[str], given: Callable[[list[str]], object]) -> None:
    size = settings.batch_size
    with InfluxDBClient(settings.url, token="any", org=settings.org, enable_gzip=True) as client:
        api = client.write_api(write_options=SYNCHRONOUS)
        for first in range(0, len(lines), size):
            api.write(_BUCKET, record=given(lines[first : first + size]), write_precision=WritePrecision.MS)


class _Cost(NamedTuple):
    """µs of processor time of this process for a message, and the share of it that the mirror's own thread took."""

    message_us: float
    own_share: float


def _ingest(journal: Journal, site: Site, on: MirrorSettings, down: MirrorSettings) -> list[_Cost]:
    """Medians without a mirror, with one, and with one that is off; the order is another one in each round."""
    sending = _Sending(Ingest(decoder_of(site, IngestSettings(), journal), journal, lambda: None))
    found: dict[str, list[_Cost]] = {"off": [], "on": [], "down": []}
    ways = [("off", MirrorSettings()), ("on", on), ("down", down)]
    for _ in range(ROUNDS):
        ways.append(ways.pop(0))
        for how, settings in ways:
            found[how].append(_cost(sending, MirrorKeeper(journal, site, settings, now_ms), settings))
    # In many a round the mirror rests all the time, so its share is a mean.
    return [
        _Cost(statistics.median(one.message_us for one in each), statistics.fmean(one.own_share for one in each))
        for each in found.values()
    ]


def _cost(sending: "_Sending", keeper: MirrorKeeper, settings: MirrorSettings) -> _Cost:
    keeper.start()
    # What it loads at first is not what it costs from then on.
    wait_until(lambda: keeper._state is not None or not settings.enabled, "its first step")
    ident = keeper._thread.ident
    clock = None if ident is None else time.pthread_getcpuclockid(ident)
    before_s = 0.0 if clock is None else time.clock_gettime(clock)
    message_us = sending.cost_us(MESSAGES)
    own_s = 0.0 if clock is None else time.clock_gettime(clock) - before_s
    keeper.stop()
    return _Cost(message_us, own_s / (message_us * MESSAGES / 1e6))


class _Sending:
    """A probe that sends without a rest."""

    def __init__(self, ingest: Ingest) -> None:
        self._ingest = ingest
        self._at_ms = now_ms()

    def cost_us(self, count: int) -> float:
        """Send so many messages; gives µs of processor time for one."""
        began_s = time.process_time()
        for _ in range(count // _BATCH):
            self._ingest.commit([self._arrival() for _ in range(_BATCH)]).result()
        return (time.process_time() - began_s) / count * 1e6

    def _arrival(self) -> Arrival:
        self._at_ms += 1
        payload = pack(self._at_ms, {"air": 28 + self._at_ms % 7 / 100, "rh": 70 + self._at_ms % 11 / 10})
        decoded = self._ingest.decode(MEASURE, payload, False, self._at_ms)
        return Arrival(MEASURE, payload, False, self._at_ms, decoded, 0, 1)


@contextmanager
def _engine(folder: Path) -> Iterator[str]:
    """An InfluxDB in a process of its own, with its gateway; gives its address."""
    command = [sys.executable, "-m", "tests.bench.mirror", str(folder / "influxdb")]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdin is not None
        assert process.stdout is not None
        try:
            yield process.stdout.readline().strip()
        finally:
            process.stdin.close()
            process.wait(30)


def _serve(folder: Path) -> None:
    """Be that process until the input ends."""
    program = shutil.which("influxd")
    if program is None:
        raise SystemExit("InfluxDB is not installed; deploy/test-services.sh brings it")
    engine = InfluxDb(folder, program)
    engine.start()
    engine.query(f'CREATE DATABASE "{_BUCKET}"')
    print(engine.url, flush=True)
    sys.stdin.read()
    engine.stop()


def _thread_s(work: Callable[[], object]) -> float:
    began_s = time.thread_time()
    work()
    return time.thread_time() - began_s


if __name__ == "__main__":
    if len(sys.argv) > 1:
        _serve(Path(sys.argv[1]))
    else:
        with tempfile.TemporaryDirectory() as name:
            print(line_of(mirror_cost(Path(name))))
