"""A journal with coolings in it, and what is learned and told from them."""

import json
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from config.check import check_site
from config.site import Site
from daemon.climate.cooling import TimeConstant
from daemon.climate.cooling_curves import CoolingCurve
from daemon.clutches import register
from daemon.cooling_learner import CoolingLearner
from daemon.evaluate import Evaluator
from daemon.storage import cooling, samples
from daemon.storage.journal import Journal
from sensors.decoder import Decoder
from sensors.reading import Reading
from tests.support.cabinet import Night
from tests.support.household import DAY_MS, a_clutch, write_site

START_MS = 1_780_000_000_000 - 1_780_000_000_000 % DAY_MS
"""A midnight, UTC: the simulated cabinets begin at one."""
AIR, HUMIDITY, ROOM = "north-air/air", "north-air/rh", "room-air/t"
TENDER = """
id = "tender"
scientific_name = "Elaphe inventata"
common_name = "invented ratsnake"
group = "snake"
[temperature]
low = { value = 25, source = "invented" }
high = { value = 30, source = "invented" }
lethal_low = { value = 22, source = "invented" }
lethal_high = { value = 34, source = "invented" }
"""
ROOM_PROBE = """
[[probe]]
id = "room-air"
place = "room"
interval_s = 60
[[probe.channel]]
name = "t"
quantity = "air_temperature"
"""


class Cooled:
    """The test household with a probe in its room, and a journal of its own. `from_ms` is when the watch began."""

    def __init__(self, journal: Journal, folder: Path, extra: str = ROOM_PROBE, from_ms: int = START_MS) -> None:
        write_site(folder, 1883, "http://127.0.0.1:9/phone", extra)
        (folder / "profiles").mkdir()
        (folder / "profiles" / "tender.toml").write_text(TENDER, encoding="utf-8")
        checked = check_site(folder)
        assert checked.site is not None
        assert checked.settings is not None
        self.journal = journal
        self.site: Site = checked.site
        self.now_ms = from_ms
        channels = Decoder(self.site).channels
        self._ids = journal.write(lambda conn: samples.channel_ids(conn, channels.values()))
        self._evaluator = Evaluator(journal, self.site, checked.settings, checked.profiles, channels, from_ms)
        self.learner = CoolingLearner(journal, self.site, lambda: self.now_ms)

    def put(self, channel: str, series: Sequence[tuple[int, float]], quality: int = 0) -> None:
        """Store readings that came at the time of measuring."""
        readings = [Reading(channel, at_ms, at_ms, value, quality) for at_ms, value in series]
        self.journal.write(lambda conn: samples.append(conn, self._ids, readings))
        self.now_ms = max([self.now_ms, *(at_ms for at_ms, _ in series)])

    def put_night(self, night: Night, hours: tuple[float, float], *, room: bool = True) -> None:
        """Store what was read from one hour to another."""
        first_ms, last_ms = (START_MS + round(each * 3_600_000) for each in hours)
        times = [START_MS + at_ms for at_ms in night.times_ms]
        for channel, values in ((AIR, night.air_c), (ROOM, night.room_c)):
            if room or channel == AIR:
                series = zip(times, values, strict=True)
                self.put(channel, [(at_ms, value) for at_ms, value in series if first_ms <= at_ms < last_ms])

    def enter(self, species_id: str = "tender", place: str = "north/upper/N1") -> None:
        """Somebody set up a clutch long ago."""
        clutch = replace(a_clutch(START_MS - DAY_MS, "Juniper", place), species_id=species_id)
        self.journal.write(lambda conn: register.add_clutch(conn, clutch, "test", START_MS - DAY_MS))

    def know(self, hours: float, u_hours: float, count: int = 3) -> None:
        """Coolings that were learned before the start."""
        starts = [START_MS - (day + 1) * DAY_MS for day in range(count)]
        curves = [CoolingCurve(at, at + 3_600_000, hours, u_hours, 20.0, room_measured=True) for at in starts]
        span = (min(starts), START_MS)
        self.journal.write(lambda conn: cooling.replace_curves(conn, "north", AIR, span, curves))

    def told(self) -> list[dict[str, object]]:
        """Evaluate all, and give every message as a contact receives it, oldest first."""
        while self._evaluator.step(lambda: self.now_ms)[0]:
            pass
        with self.journal.read() as conn:
            rows = conn.execute("SELECT body FROM outbox ORDER BY rowid").fetchall()
        return [fields_of(body) for (body,) in rows]

    @property
    def curves(self) -> list[CoolingCurve]:
        with self.journal.read() as conn:
            return cooling.curves_of(conn).get("north", [])

    @property
    def constant(self) -> TimeConstant | None:
        with self.journal.read() as conn:
            return cooling.time_constants(conn).get("north")


def fields_of(body: str) -> dict[str, object]:
    """The fields of a stored message."""
    found: dict[str, object] = json.loads(body)
    return found
