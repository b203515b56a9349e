"""A small invented site in a folder, its daemon as a real process, and a probe's messages on the real broker."""

import json
import sys
import time
from collections.abc import Iterable, Mapping
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path

import paho.mqtt.client as paho
from paho.mqtt.enums import CallbackAPIVersion

from daemon.clutches.register import NewClutch, add_clutch
from daemon.storage import alarm_log, heat, messages, outbox, samples
from daemon.storage.alarm_log import AlarmEvent
from daemon.storage.journal import Journal
from sensors.reading import Outcome
from tests.support.processes import Service, free_port, wait_until

DAY_MS = 86_400_000
MINUTE_MS = 60_000
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
            sent.wait_for_publish(20)

    def temperatures(self, series: Iterable[tuple[int, float]]) -> None:
        """Publish (measured_at_ms, degree Celsius) pairs, one message each."""
        self.send(pack(at_ms, {"air": value}) for at_ms, value in series)

    def close(self) -> None:
        """Leave in good order."""
        self._client.disconnect()
        self._client.loop_stop()


@dataclass
class House:
    """The site's folder, and its daemon as a process. Nothing comes by the calendar unless the story is about that."""

    folder: Path
    by_the_calendar: bool = False
    service: Service = field(init=False)

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

    def enter(self, clutch: NewClutch) -> None:
        """Write a clutch into the register, as the command line does."""
        with Journal.open(self.journal_path) as journal:
            journal.write(lambda conn: add_clutch(conn, clutch, "test", now_ms()))

    def start(self) -> None:
        """Start the daemon and wait until it listens to the broker."""
        before = self.service.output().count("connected to")
        self.service.start()
        wait_until(
            lambda: self.service.output().count("connected to") > before or not self.service.running,
            "the daemon to connect",
            60,
        )
        assert self.service.running, self.service.output()

    def settle(self, messages_expected: int) -> None:
        """Wait until so many messages have an outcome, all readings are evaluated, and no alert waits."""
        wait_until(lambda: self._is_settled(messages_expected), f"{messages_expected} messages to be dealt with", 60)

    def _is_settled(self, expected: int) -> bool:
        with Journal.open(self.journal_path) as journal, journal.read() as conn:
            dealt_with = sum(messages.outcome_counts(conn).values()) >= expected
            evaluated = heat.get_cursor(conn) == samples.count(conn)
            return dealt_with and evaluated and outbox.totals(conn)["waiting"] == 0

    def outcomes(self) -> dict[Outcome, int]:
        """How many messages ended in which outcome."""
        with closing(Journal.open(self.journal_path)) as journal, journal.read() as conn:
            return messages.outcome_counts(conn)

    def events(self) -> list[AlarmEvent]:
        """What happened to alarms, oldest first."""
        with closing(Journal.open(self.journal_path)) as journal, journal.read() as conn:
            return list(reversed(alarm_log.events(conn, 1000)))

    def stored(self) -> list[tuple[str, int, float, int]]:
        """Every stored reading: channel, time, value, quality."""
        with closing(Journal.open(self.journal_path)) as journal, journal.read() as conn:
            return [(row.channel, row.measured_at_ms, row.value, row.quality) for row in samples.after(conn, 0, 10**6)]
