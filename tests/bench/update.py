"""What one new reading costs the heat of 60 clutches, early in a season and late.

The ledger is fed as the evaluator feeds it, a reading at a time, on a real journal with a season in it: 60 clutches of
twelve species in 60 boxes of one zone, one probe every 30 seconds. Every hour that becomes complete is computed and
stored for each clutch, with a commit of its own; all of it is counted.
"""

import sqlite3
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

import numpy as np

from config.check import check_site
from daemon.clutches import register
from daemon.clutches.register import NewClutch
from daemon.heat_course import HeatCourse
from daemon.heat_ledger import HeatLedger, heat_rule
from daemon.storage import heat, samples
from daemon.storage.heat import HeatHour
from daemon.storage.journal import Journal
from daemon.storage.samples import StoredReading
from daemon.thermometers import AirChannels
from sensors.decoder import Decoder
from sensors.reading import Reading

CLUTCHES, SPECIES = 60, 12
STEP_MS = 30_000
DAY_MS = 86_400_000
SEASON_DAYS = 120
MEASURED_DAYS = 2
START_MS = 1_780_000_200_000 - 1_780_000_200_000 % 3_600_000
BRIDGE_MS = 1_800_000


class UpdateCost(NamedTuple):
    """Microseconds a reading on the first days and on the last, and the change per day between them."""

    early_us: float
    late_us: float

    @property
    def slope_us_per_day(self) -> float:
        """Rise of the cost per day of history."""
        return (self.late_us - self.early_us) / (SEASON_DAYS - MEASURED_DAYS)


def update_cost() -> UpdateCost:
    """Measure on a season of 345,600 readings."""
    with tempfile.TemporaryDirectory() as folder:
        _write_site(Path(folder))
        with Journal.open(Path(folder) / "journal.sqlite3") as journal:
            return _Season(Path(folder), journal).measure()


class _Season:
    def __init__(self, folder: Path, journal: Journal) -> None:
        checked = check_site(folder)
        if checked.site is None:
            raise SystemExit("\n".join(map(str, checked.mistakes)))
        self.journal, self.profiles = journal, checked.profiles
        self.air = AirChannels(checked.site)
        channels = Decoder(checked.site).channels
        self.ids = journal.write(lambda conn: samples.channel_ids(conn, channels.values()))
        species = [one for one, profile in sorted(self.profiles.items()) if heat_rule(profile) is not None][:SPECIES]
        for number in range(CLUTCHES):
            new = NewClutch(
                f"C{number}", species[number % SPECIES], None, START_MS, START_MS, 8, "", f"c/z/B{number}", START_MS
            )
            journal.write(lambda conn, new=new: register.add_clutch(conn, new, "bench", START_MS))  # type: ignore[misc]
        count = SEASON_DAYS * DAY_MS // STEP_MS
        values = np.round(28 + 3 * np.sin(np.arange(count) / 400), 2).tolist()
        self.readings = [
            Reading("p/air", START_MS + n * STEP_MS, START_MS + n * STEP_MS, value, 0) for n, value in enumerate(values)
        ]
        journal.write(lambda conn: samples.append(conn, self.ids, self.readings))

    def measure(self) -> UpdateCost:
        with self.journal.read() as conn:
            self.air.load(conn)
            self.clutches = register.clutches(conn)
        self.ledger = HeatLedger(self.profiles, self.air.channels_for, BRIDGE_MS)
        per_day = DAY_MS // STEP_MS
        early = self._feed(0, MEASURED_DAYS * per_day)
        late = self._feed((SEASON_DAYS - MEASURED_DAYS) * per_day, SEASON_DAYS * per_day)
        return UpdateCost(early, late)

    def _feed(self, first: int, last: int) -> float:
        """Feed readings one by one; microseconds a reading."""
        seconds = 0.0
        waiting: list[tuple[int, list[HeatHour]]] = []
        with self.journal.read() as conn:
            # The reading before the first one is known to the ledger, as it is to a daemon that has been running.
            self.ledger.spans(conn, [self._row(max(first - 1, 0))], first)
            for number in range(max(first, 1), last):
                row = self._row(number)
                started = time.perf_counter()
                spans = self.ledger.spans(conn, [row], number)
                if spans:
                    course = HeatCourse(conn, self.air, BRIDGE_MS)
                    for clutch in self.clutches:
                        touched = sorted(self.ledger.touched(spans, clutch, START_MS)[0])
                        found = [self.ledger.compute_hour(course, clutch, start) for start in touched]
                        waiting.append((clutch.clutch_id, [hour for hour in found if hour is not None]))
                    if len(waiting) >= CLUTCHES:
                        hours, waiting = waiting, []
                        self.journal.write(lambda at, hours=hours: _store(at, hours))  # type: ignore[misc]
                seconds += time.perf_counter() - started
        return seconds / (last - max(first, 1)) * 1e6

    def _row(self, number: int) -> StoredReading:
        reading = self.readings[number]
        return StoredReading(
            number + 1, reading.channel, reading.measured_at_ms, reading.received_at_ms, reading.value, 0
        )


def _store(conn: sqlite3.Connection, hours: Sequence[tuple[int, Sequence[HeatHour]]]) -> None:
    for clutch_id, of_clutch in hours:
        heat.put_hours(conn, clutch_id, of_clutch)


def _write_site(folder: Path) -> None:
    boxes = "".join(f'[[incubator.zone.box]]\nid = "B{number}"\n' for number in range(CLUTCHES))
    (folder / "site.toml").write_text(
        '[site]\nname = "Bench"\ntime_zone = "UTC"\n'
        '[[incubator]]\nid = "c"\nname = "Cabinet"\nroom_temperature_c = 20\n'
        f'[[incubator.zone]]\nid = "z"\nname = "shelf"\n{boxes}'
        '[[probe]]\nid = "p"\nplace = "c/z"\n[[probe.channel]]\nname = "air"\nquantity = "air_temperature"\n'
    )
    (folder / "settings.toml").write_text("")
