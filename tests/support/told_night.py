"""A night without mains with a known truth, as a service lived through it: evaluated minute by minute, and then found.

Local time is that of Madrid, two hours ahead of UTC in May. At ten past two the mains goes and takes heat and machine
with it; both are back at six. Without heat the shelf follows Newton's law towards a room of 18 °C with a time constant
of four hours; afterwards it is heated by 4 K in each hour.
"""

import math
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from pathlib import Path

from config.words import AlarmKind
from daemon.climate.cooling_curves import CoolingCurve
from daemon.clutches import register
from daemon.desk_work import DeskWork
from daemon.evaluate import Evaluator
from daemon.review.account import LineKind, Review
from daemon.review_desk import ReviewDesk
from daemon.review_keeper import IncidentKeeper
from daemon.rollups import RollUps
from daemon.storage import cooling, outbox, runs, samples
from daemon.storage.journal import Journal
from sensors.reading import Reading
from tests.daemon.evaluated import House, house_of
from tests.support.household import DAY_MS, MINUTE_MS, a_clutch, write_site

HOUR_MS = 60 * MINUTE_MS
EVENING_MS = round(datetime(2026, 5, 28, 20, 0, tzinfo=UTC).timestamp() * 1000)
"""22:00 in Madrid"""
AIR, HUMIDITY, ROOM_AIR, MAINS, DOOR = "north-air/air", "north-air/rh", "room/air", "ups/mains", "door/door"
ROOM_C, WARM_C, CONSTANT_H, HEATS_K_H = 18.0, 28.0, 4.0, 4.0
MORE = """
[[probe]]
id = "room"
place = "room"
interval_s = 60
[[probe.channel]]
name = "air"
quantity = "air_temperature"
[[probe]]
id = "ups"
place = "room"
interval_s = 20
[[probe.channel]]
name = "mains"
quantity = "mains"
[[probe]]
id = "door"
place = "north"
interval_s = 60
[[probe.channel]]
name = "door"
quantity = "door"
"""


def at(hour: int, minute: int = 0, second: int = 0) -> int:
    """A moment of that night, local: hours before 22 are of the next morning."""
    return EVENING_MS + ((hour - 22) % 24 * 60 + minute) * MINUTE_MS + second * 1000


LOST_MS, BACK_MS = at(2, 10), at(6)


def truth_c(at_ms: int) -> float:
    """How warm the shelf was."""
    if at_ms <= LOST_MS:
        return WARM_C
    if at_ms <= BACK_MS:
        return ROOM_C + (WARM_C - ROOM_C) * math.exp(-(at_ms - LOST_MS) / HOUR_MS / CONSTANT_H)
    return min(truth_c(BACK_MS) + HEATS_K_H * (at_ms - BACK_MS) / HOUR_MS, WARM_C)


@dataclass
class ToldNight:
    """The site, its journal, and the clock of the night."""

    house: House
    folder: Path
    journal: Journal
    now_ms: int = EVENING_MS
    run_id: int = 0
    evaluator: Evaluator | None = field(default=None)

    def __post_init__(self) -> None:
        self.ids = self.journal.write(lambda conn: samples.channel_ids(conn, self.house.channels.values()))
        self.keeper = IncidentKeeper(self.journal, self.house.site, lambda: self.now_ms)
        self.desk = ReviewDesk(
            self.journal, self.house.site, self.house.profiles, self.house.settings.heat.longest_bridge_s,
            lambda: self.now_ms,
        )  # fmt: skip

    def enter(self, label: str = "Juniper", species: str = "elaphe-taeniura", place: str = "north/upper/N1") -> int:
        """A clutch lies there since five days."""
        new = replace(a_clutch(EVENING_MS - 5 * DAY_MS, label, place), species_id=species)
        return self.journal.write(lambda conn: register.add_clutch(conn, new, "test", EVENING_MS))

    def know_the_cooling(self) -> None:
        """Three nights have shown how the cabinet cools."""
        starts = [EVENING_MS - days * DAY_MS for days in (4, 3, 2)]
        curves = [CoolingCurve(one, one + HOUR_MS, CONSTANT_H, 0.2, ROOM_C, room_measured=True) for one in starts]
        span = (min(starts), EVENING_MS)
        self.journal.write(lambda conn: cooling.replace_curves(conn, "north", AIR, span, curves))

    def days_before(self) -> None:
        """Five days at 28 °C, a reading in ten minutes: too seldom for a probe that is to speak each minute."""
        moments = range(EVENING_MS - 5 * DAY_MS, EVENING_MS, 10 * MINUTE_MS)
        self._store([Reading(AIR, one, one + 40, WARM_C, 0) for one in moments])

    def start(self, boot: str) -> None:
        """The service starts."""
        self.run_id = self.journal.write(lambda conn: runs.begin_run(conn, self.now_ms, "test", boot))
        self.evaluator = Evaluator(
            self.journal, self.house.site, self.house.settings, self.house.profiles, self.house.channels, self.now_ms
        )

    def run_to(self, until_ms: int, mains: float = 1.0) -> None:
        """Minute by minute: readings come, are evaluated, and messages are taken by their receivers."""
        while self.now_ms < until_ms:
            self.now_ms = min(self.now_ms + MINUTE_MS, until_ms)
            begin_ms = self.now_ms - MINUTE_MS
            rows = [
                Reading(MAINS, begin_ms + 20_000 * part, begin_ms + 20_000 * part + 40, mains, 0) for part in range(3)
            ]
            rows.append(Reading(AIR, begin_ms, begin_ms + 40, round(truth_c(begin_ms), 2), 0))
            rows.append(Reading(HUMIDITY, begin_ms, begin_ms + 40, 88.0, 0))
            rows.append(Reading(ROOM_AIR, begin_ms, begin_ms + 40, ROOM_C, 0))
            rows.append(Reading(DOOR, begin_ms, begin_ms + 40, 0.0, 0))
            self._store(rows)
            self.step()

    def step(self) -> None:
        """One turn of the service."""
        assert self.evaluator is not None
        while self.evaluator.step(lambda: self.now_ms)[0]:
            pass
        self.journal.write(lambda conn: runs.touch_run(conn, self.run_id, self.now_ms))
        with self.journal.read() as conn:
            waiting = outbox.due(conn, self.now_ms)
        for row in waiting:
            self.journal.write(
                lambda conn, name=row.message_id: outbox.record_attempt(  # type: ignore[misc]
                    conn, name, "delivered", self.now_ms, None, ""
                )
            )

    def loses_the_mains(self) -> None:
        """The contact says so once; fifteen seconds later the machine is off."""
        self._store([Reading(MAINS, LOST_MS + 20_000, LOST_MS + 20_040, 0.0, 0)])
        self.now_ms = LOST_MS + 35_000
        self.step()
        self.now_ms, self.evaluator = BACK_MS, None

    def acknowledge(self, kind: AlarmKind, subject: str, who: str, note: str) -> None:
        """Somebody sees to an alarm."""
        work = DeskWork(self.house.site, self.house.profiles)
        self.journal.write(lambda conn: work.acknowledge(conn, [f"{kind}:{subject}"], who, note, self.now_ms))

    def look(self) -> None:
        """Let the keeper of incidents look until it has seen all."""
        RollUps(self.journal).run()
        while self.keeper.look():
            pass

    def newest(self) -> Review:
        """The account of the newest incident."""
        found = self.desk.newest()
        assert found is not None
        return found

    def _store(self, rows: list[Reading]) -> None:
        self.journal.write(lambda conn: samples.append(conn, self.ids, rows))


def live_through(night: ToldNight, meanwhile: Callable[[], object] = lambda: None) -> None:
    """All of it, up to nine in the morning; Ana acknowledges at twenty to seven, `meanwhile` comes before that."""
    night.enter()
    night.know_the_cooling()
    night.days_before()
    night.start("a")
    night.run_to(at(22, 5))
    night.acknowledge(AlarmKind.NO_DATA, AIR, "ana", "that was in the days before")
    night.run_to(LOST_MS)
    night.loses_the_mains()
    night.start("b")
    night.run_to(at(6, 40))
    meanwhile()
    night.acknowledge(AlarmKind.TEMPERATURE_LOW, AIR, "ana", "heater is warm, doors kept shut")
    night.run_to(at(9))
    night.look()


def lines(review: Review, kind: LineKind) -> list[str]:
    """What the timeline of an account says of one kind, in order."""
    return [line.words for line in review.timeline if line.kind is kind]


@contextmanager
def told_night(folder: Path, zone: str = "Europe/Madrid", unit: str = "C") -> Iterator[ToldNight]:
    """A site folder as a keeper has it, with one cabinet, a room probe, contacts of mains and door, and Ana."""
    site = write_site(folder / "site", 1883, "http://127.0.0.1:9/ana", MORE)
    text = (site / "site.toml").read_text(encoding="utf-8").replace("Europe/Madrid", zone)
    text = text.replace("time_zone =", f'temperature_unit = "{unit}"\ntime_zone =')
    (site / "site.toml").write_text(text, encoding="utf-8")
    (site / "data").mkdir()
    with Journal.open(site / "data" / "journal.sqlite3") as journal:
        yield ToldNight(house_of(site), site, journal)
