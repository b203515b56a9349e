"""A small invented site in a folder, its daemon as a real process, and a probe's messages on the real broker."""

import json
import os
import re
import sqlite3
import sys
import time
from collections.abc import Iterable, Iterator, Mapping
from contextlib import AbstractContextManager, closing, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import NamedTuple

import httpx
import paho.mqtt.client as paho
from paho.mqtt.enums import CallbackAPIVersion

from daemon.access_desk import AccessDesk
from daemon.clutches.register import NewClutch, add_clutch
from daemon.storage import alarm_log, heat, messages, samples
from daemon.storage.alarm_log import AlarmEvent
from daemon.storage.connections import open_reader
from sensors.reading import Outcome
from tests.support.accounts import access_of, make_key
from tests.support.journals import new_journal
from tests.support.processes import Service, free_port, wait_until

DAY_MS = 86_400_000
MINUTE_MS = 60_000
LOOK_S = 0.05
STILL_S = 40.0
"""Longer than the 15 s after which an urgent message is tried a second time, with the time that a try may take."""
PATIENCE_S = 60.0
"""For what ends in a moment, and on a machine under load once in a while does not."""
MEASURE = "clutchwarden/north-air/measure"

SITE = """\
[site]
name = "Test house"
time_zone = "Europe/Madrid"

[[incubator]]
id = "north"
name = "North cabinet"
room_temperature_c = 20
temperature_factor = 0.9
[[incubator.zone]]
id = "upper"
name = "upper shelf"
damping_min = 0
[[incubator.zone.box]]
id = "N1"

[[probe]]
id = "north-air"
place = "north/upper"
interval_s = 60
[[probe.channel]]
name = "air"
quantity = "air_temperature"
[[probe.channel]]
name = "rh"
quantity = "relative_humidity"
"""

QUIET_CALENDAR = """
# What comes by the calendar stays out of stories that may run on any day, at any hour.
[care]
round_every_days = 365
[messages]
test = false
digest = false
"""

PERSON = """
[[person]]
id = "ana"
name = "Ana"
[[person.contact]]
kind = "webhook"
url = "{url}"
"""


def now_ms() -> int:
    """The present moment, UTC milliseconds since the epoch."""
    return time.time_ns() // 1_000_000


def write_site(folder: Path, broker_port: int, contact_url: str | None = None, extra: str = "") -> Path:
    """Write the site's two files; gives the folder."""
    folder.mkdir(parents=True, exist_ok=True)
    person = PERSON.format(url=contact_url) if contact_url else ""
    (folder / "site.toml").write_text(SITE + person + extra, encoding="utf-8")
    (folder / "settings.toml").write_text(
        f"[broker]\nport = {broker_port}\n[web]\nport = {free_port()}\n", encoding="utf-8"
    )
    return folder


def a_clutch(set_up_ms: int, label: str = "Juniper", place: str = "north/upper/N1") -> NewClutch:
    """An invented clutch of a ratsnake that wants 24 to 30 degree Celsius."""
    return NewClutch(
        label=label,
        species_id="elaphe-taeniura",
        population=None,
        laid_from_ms=set_up_ms - 2 * DAY_MS,
        laid_to_ms=set_up_ms - DAY_MS,
        egg_count=8,
        note="",
        place=place,
        from_ms=set_up_ms,
    )


def pack(measured_at_ms: int, values: Mapping[str, float]) -> bytes:
    """A SenML message of one moment: `air` in degree Celsius, `rh` in percent."""
    units = {"air": "Cel", "rh": "%RH"}
    records: list[dict[str, object]] = [{"n": name, "u": units[name], "v": value} for name, value in values.items()]
    records[0]["bt"] = measured_at_ms / 1000
    return json.dumps(records).encode()


class Probe:
    """Publishes at QoS 1 and waits for the broker to have each message."""

    def __init__(self, port: int, client_id: str = "test-probe") -> None:
        self._client = paho.Client(CallbackAPIVersion.VERSION2, client_id=client_id)
        self._client.max_inflight_messages_set(100)
        self._client.connect("127.0.0.1", port)
        self._client.loop_start()

    def send(self, payloads: Iterable[bytes], topic: str = MEASURE, *, retain: bool = False) -> None:
        """Publish all, and return when the broker has acknowledged all."""
        for sent in [self._client.publish(topic, payload, qos=1, retain=retain) for payload in payloads]:
            sent.wait_for_publish(PATIENCE_S)
            assert sent.is_published(), f"the broker acknowledges nothing for {PATIENCE_S:g} s"

    def temperatures(self, series: Iterable[tuple[int, float]]) -> None:
        """Publish (measured_at_ms, degree Celsius) pairs, one message each."""
        self.send(pack(at_ms, {"air": value}) for at_ms, value in series)

    def close(self) -> None:
        """Leave in good order."""
        self._client.disconnect()
        self._client.loop_stop()


class Progress(NamedTuple):
    """How far a daemon is: messages with an outcome, readings stored and evaluated, alerts that wait and why.

    A message that came once more, as after a kill, has no outcome beyond the one that it had.
    """

    dealt_with: int
    stored: int
    evaluated: int
    waiting: tuple[tuple[str, int, str], ...]

    def is_settled(self, messages_expected: int) -> bool:
        """True where nothing is left to do."""
        return self.dealt_with >= messages_expected and self.stored == self.evaluated and not self.waiting


@dataclass
class House:
    """The site's folder, and its daemon as a process. Nothing comes by the calendar unless the story is about that."""

    folder: Path
    by_the_calendar: bool = False
    service: Service = field(init=False)
    key: str = ""

    def __post_init__(self) -> None:
        if not self.by_the_calendar:
            with (self.folder / "site.toml").open("a", encoding="utf-8") as site:
                site.write(QUIET_CALENDAR)
        command = [sys.executable, "-m", "daemon.cli", "run", str(self.folder)]
        self.service = Service(command, self.folder / "daemon.log")

    @property
    def journal_path(self) -> Path:
        """Where the daemon keeps its journal."""
        return self.folder / "data" / "journal.sqlite3"

    @property
    def url(self) -> str:
        """The start of the addresses of its pages, without a slash."""
        settings = (self.folder / "settings.toml").read_text(encoding="utf-8")
        port = re.findall(r"port = (\d+)", settings.partition("[web]")[2])[0]
        return f"http://127.0.0.1:{port}"

    def access(self) -> AbstractContextManager[AccessDesk]:
        """Its accounts, as a command on the machine itself reaches them, also while the daemon runs."""
        return access_of(self.folder)

    def read(self, path: str) -> httpx.Response:
        """Fetch a page as a program with a key of its own, that may read."""
        if not self.key:
            with self.access() as desk:
                self.key = make_key(desk)
        return httpx.get(f"{self.url}{path}", headers={"Authorization": f"Bearer {self.key}"}, timeout=60)

    def enter(self, clutch: NewClutch) -> None:
        """Write a clutch into the register, as the command line does."""
        with new_journal(self.journal_path) as journal:
            journal.write(lambda conn: add_clutch(conn, clutch, "test", now_ms()))

    def start(self) -> None:
        """Start the daemon and wait until it listens to the broker."""
        before = self.service.output().count("connected to")
        self.service.start()
        wait_until(
            lambda: self.service.output().count("connected to") > before or not self.service.running,
            "the daemon to connect",
            180,
        )
        assert self.service.running, self.service.output()

    def settle(self, messages_expected: int) -> None:
        """Wait until so many messages have an outcome, all readings are evaluated, and no alert waits.

        Duplicates are no messages of their own here: a broker sends again what a killed daemon had stored already.
        For as long as anything moves: a machine under load is slow, and what is lost never comes.
        """
        before, moved_s = self._standing(), time.monotonic()
        while not before.is_settled(messages_expected):
            time.sleep(LOOK_S)
            now = self._standing()
            if now != before:
                before, moved_s = now, time.monotonic()
            still_s = time.monotonic() - moved_s
            assert still_s < STILL_S, f"nothing moves for {STILL_S:g} s, {messages_expected} expected: {before}"
            assert self.service.running, self.service.output()

    @contextmanager
    def look(self) -> Iterator[sqlite3.Connection]:
        """Lend a connection to the journal that only reads, all as of one moment: it and the daemon never wait."""
        if not self.journal_path.exists():
            new_journal(self.journal_path).close()
        with closing(open_reader(self.journal_path, PATIENCE_S)) as conn:
            conn.execute("BEGIN")
            yield conn

    def _standing(self) -> Progress:
        with self.look() as conn:
            waiting = conn.execute("SELECT message_id, attempts, error FROM outbox WHERE state = 'waiting'").fetchall()
            # An alarm by readings that came late is told some seconds after the last of them.
            held = "SELECT alarm_key, 0, 'held' FROM alarm_state WHERE instr(state, '\"held\":') > 0"
            waiting += conn.execute(held).fetchall()
            dealt_with = sum(n for each, n in messages.outcome_counts(conn).items() if each is not Outcome.DUPLICATE)
            return Progress(dealt_with, samples.count(conn), heat.get_cursor(conn), tuple(waiting))

    def processor_s(self) -> float:
        """What the daemon has used of the processor so far (proc(5), /proc/pid/stat: utime and stime)."""
        assert self.service.process is not None
        fields = Path(f"/proc/{self.service.process.pid}/stat").read_text(encoding="ascii").rpartition(")")[2].split()
        return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")

    def outcomes(self) -> dict[Outcome, int]:
        """How many messages ended in which outcome."""
        with self.look() as conn:
            return messages.outcome_counts(conn)

    def events(self) -> list[AlarmEvent]:
        """What happened to alarms, oldest first."""
        with self.look() as conn:
            return list(reversed(alarm_log.events(conn, 1000)))

    def stored(self) -> list[tuple[str, int, float, int]]:
        """Every stored reading: channel, time, value, quality."""
        with self.look() as conn:
            return [(row.channel, row.measured_at_ms, row.value, row.quality) for row in samples.after(conn, 0, 10**6)]
