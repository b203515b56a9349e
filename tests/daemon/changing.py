"""A house on a real journal whose site file, clock and stored rows a test may change between two looks."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from config.check import check_site
from daemon.alarm_desk import Desk
from daemon.alarms.delivery import OutgoingMessage
from daemon.arrival import BrokerState
from daemon.clock_steps import ClockSteps
from daemon.clutches import register
from daemon.desk_work import DeskWork, Done
from daemon.evaluate import Evaluator
from daemon.standing.machine import MachineFacts
from daemon.standing_sources.all_of import sources_of
from daemon.storage import samples
from daemon.storage.journal import Journal
from sensors.decoder import Decoder
from sensors.reading import Reading
from tests.support.household import DAY_MS, MINUTE_MS, PERSON, QUIET_CALENDAR, SITE, a_clutch, write_site

START_MS = 1_780_000_000_000
AIR = "north-air/air"
HIGH, LETHAL, NO_DATA = f"temperature-high:{AIR}", f"temperature-lethal-high:{AIR}", f"no-data:{AIR}"
GOOD_C, LETHAL_C = 27.0, 36.0
BEN = """
[[person]]
id = "ben"
name = "Ben"
[[person.contact]]
kind = "webhook"
url = "http://127.0.0.1:9/ben"
"""
SECOND_BOX = """
[[incubator.zone.box]]
id = "N2"
"""
BOX_PROBE = """
[[probe]]
id = "boxp"
place = "{place}"
interval_s = 60
[[probe.channel]]
name = "air"
quantity = "air_temperature"
"""
SOUTH = """
[[incubator]]
id = "south"
name = "South cabinet"
room_temperature_c = 27
[[probe]]
id = "south-air"
place = "south"
interval_s = 60
[[probe.channel]]
name = "air"
quantity = "air_temperature"
"""


class _Machine:
    """All is well with the machine."""

    def facts(self) -> MachineFacts:
        broker = BrokerState(connected=True, detail="", since_ms=START_MS)
        return MachineFacts(broker=broker, starting=False, up_ms=DAY_MS)


@dataclass
class Changing:
    """One reading a minute and a look at everything each time; `now_ms` is a clock that may be set."""

    journal: Journal
    folder: Path
    extra: str = ""
    now_ms: int = START_MS
    steady_s: float = 1000.0
    seen: set[str] = field(default_factory=set)

    def __post_init__(self) -> None:
        self.site_file(self.extra)

    def site_file(self, extra: str = "", *, second_box: bool = False) -> None:
        """Write another site file and start the daemon again, as it has to be after that."""
        text = SITE + PERSON.format(url="http://127.0.0.1:9/phone") + BEN + extra + QUIET_CALENDAR
        self.with_text(text.replace('id = "N1"\n', f'id = "N1"\n{SECOND_BOX}', 1) if second_box else text)

    def with_text(self, text: str) -> None:
        """The same with a whole site file."""
        write_site(self.folder, 1883)
        (self.folder / "site.toml").write_text(text, encoding="utf-8")
        checked = check_site(self.folder)
        assert checked.site is not None, checked.mistakes
        assert checked.settings is not None
        self.site, self.settings, self.profiles = checked.site, checked.settings, checked.profiles
        self.channels = dict(Decoder(checked.site).channels)
        self.ids = self.journal.write(lambda conn: samples.channel_ids(conn, self.channels.values()))
        self.work = DeskWork(checked.site, checked.profiles)
        self.restart()

    def restart(self) -> None:
        sources = sources_of(self.site, self.settings, self.profiles, _Machine())  # type: ignore[arg-type]
        steps = ClockSteps(lambda: self.steady_s)
        self.evaluator = Evaluator(
            self.journal,
            self.site,
            self.settings,
            self.profiles,
            self.channels,
            self.now_ms,
            sources=sources,
            clock_steps=steps,
        )

    def enter(self, label: str = "Juniper", place: str = "north/upper/N1", days_ago: int = 10) -> int:
        new = a_clutch(START_MS - days_ago * DAY_MS, label, place)
        return self.journal.write(lambda conn: register.add_clutch(conn, new, "test", START_MS))

    def minutes(self, count: int, values: Mapping[str, float]) -> list[str]:
        """Let minutes pass with these readings; humidity is good. Gives the new messages: contact and headline."""
        for _ in range(count):
            self.now_ms += MINUTE_MS
            self.steady_s += 60
            self.put(values)
            self.evaluator.step(lambda: self.now_ms)
        return self.new_messages()

    def put(self, values: Mapping[str, float]) -> None:
        """Store readings of now, with a good humidity where they have none."""
        said = {"north-air/rh": 70.0, **values} if AIR in values else values
        rows = [Reading(channel, self.now_ms, self.now_ms, value, 0) for channel, value in said.items()]
        self.journal.write(lambda conn: samples.append(conn, self.ids, rows))

    def new_messages(self) -> list[str]:
        """What was written to people since the last call, oldest first."""
        with self.journal.read() as conn:
            rows = conn.execute("SELECT message_id, contact, body FROM outbox ORDER BY rowid").fetchall()
        new = [row for row in rows if row[0] not in self.seen]
        self.seen |= {row[0] for row in new}
        return [f"{contact}: {OutgoingMessage.from_json(body).headline}" for _, contact, body in new]

    def acknowledge(self, *keys: str) -> list[Done]:
        return self.journal.write(lambda conn: self.work.acknowledge(conn, keys, "ana", "seen", self.now_ms))

    def desk(self) -> Desk:
        with self.journal.read() as conn:
            return self.work.read(conn)

    def damage(self, table: str, names: str, old: str, new: str) -> int:
        """Replace a word in stored rows; gives how many rows have changed."""
        column = {"alarm_desk": "name", "alarm_state": "alarm_key"}[table]
        query = f"UPDATE {table} SET state = replace(state, ?, ?) WHERE {column} LIKE ? AND instr(state, ?)"
        return self.journal.write(lambda conn: conn.execute(query, (old, new, names, old)).rowcount)
