"""A journal of a small invented site, and a source that looks at it as the evaluation does."""

import sqlite3
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

from config.check import check_site
from config.places import Places
from config.settings import Settings
from config.site import Site
from config.species import SpeciesProfile
from daemon.alarm_transition import Transition
from daemon.alarms.conditions import Change
from daemon.clutches import register
from daemon.occupancy import Occupancy
from daemon.standing_sources.looks import Looks
from daemon.standing_sources.source import Moment, Source
from daemon.storage import calibrations, samples
from daemon.storage.journal import Journal
from daemon.thermometers import AirChannels
from sensors.decoder import Decoder
from sensors.reading import Reading
from tests.daemon.kept import SOUTH
from tests.daemon.test_calibrate_applied import shift
from tests.support.household import DAY_MS, MINUTE_MS, a_clutch, write_site

START_MS = 1_780_000_000_000 - 1_780_000_000_000 % DAY_MS
HOUR_MS = 60 * MINUTE_MS
SHELF, BOX = "north/upper", "north/upper/N1"
AIR, HUMIDITY = "north-air/air", "north-air/rh"
BOX_AIR, BOX_HUMIDITY, LID, SOUTH_BOX = "box-s1/air", "box-s1/rh", "box-s1/lid", "south/low/S1"
TENDER = """
id = "tender"
scientific_name = "Elaphe inventata"
common_name = "invented ratsnake"
group = "snake"
[temperature]
low = { value = 25, source = "invented" }
high = { value = 31, source = "invented" }
lethal_low = { value = 20, source = "invented" }
lethal_high = { value = 35, source = "invented" }
[[exposure]]
above_c = 33
minutes = 60
within_h = 24
source = "invented"
"""


class AirHouse:
    """The test household with a tender species; `make` gives the source that is looked through."""

    def __init__(
        self,
        journal: Journal,
        folder: Path,
        make: Callable[[Site, Settings, dict[str, SpeciesProfile]], Source],
        extra: str = "",
    ) -> None:
        write_site(folder, 1883, "http://127.0.0.1:9/phone", SOUTH + extra)
        (folder / "profiles").mkdir()
        (folder / "profiles" / "tender.toml").write_text(TENDER, encoding="utf-8")
        checked = check_site(folder)
        assert checked.site is not None, checked.mistakes
        assert checked.settings is not None
        self.journal, self.site, self.profiles = journal, checked.site, dict(checked.profiles)
        self._settings, self._make = checked.settings, make
        channels = Decoder(self.site).channels
        self._ids = journal.write(lambda conn: samples.channel_ids(conn, channels.values()))
        self._rows: dict[str, str] = {}
        self.restart()

    def restart(self) -> None:
        """As a daemon does that was started again: what was found is known, what was worked out is not."""
        source = self._make(self.site, self._settings, self.profiles)
        self.looks = Looks(self.site, [source], self._rows)
        self.every_ms = source.every_ms

    def put(self, channel: str, series: Sequence[tuple[int, float]], quality: int = 0) -> None:
        readings = [Reading(channel, at_ms, at_ms, value, quality) for at_ms, value in series]
        self.journal.write(lambda conn: samples.append(conn, self._ids, readings))

    def enter(self, label: str = "Juniper", place: str = BOX, from_ms: int = START_MS) -> int:
        clutch = replace(a_clutch(from_ms, label, place), species_id="tender")
        return self.journal.write(lambda conn: register.add_clutch(conn, clutch, "test", from_ms))

    def calibrate(self, channel: str, shift_k: float, from_ms: int) -> None:
        """From a moment on the probe is known to read so much too low."""
        self.journal.write(lambda conn: calibrations.append(conn, shift(channel, shift_k, from_ms)))

    def moment(self, conn: sqlite3.Connection, now_ms: int) -> Moment:
        """What a source is given."""
        air = AirChannels(self.site)
        air.load(conn)
        occupancy = Occupancy(register.clutches(conn, include_closed=True), Places(self.site), self.profiles)
        return Moment(conn, now_ms, occupancy, air, self.looks.is_on)

    def look(self, now_ms: int) -> list[Transition]:
        """One look; fails where the source does."""
        with self.journal.read() as conn:
            found = self.looks.look(self.moment(conn, now_ms))
        assert self.looks.failing == ()
        self._rows |= self.looks.take_changed()
        return found

    def watch(self, from_ms: int, until_ms: int, step_ms: int = 0) -> list[tuple[Change, str, int]]:
        """Look again and again; gives what is raised and cleared, with its subject and the minute since the start."""
        moments = range(from_ms, until_ms + 1, step_ms or self.every_ms)
        return [
            (one.change, one.subject, (now_ms - START_MS) // MINUTE_MS)
            for now_ms in moments
            for one in self.look(now_ms)
        ]


def every(step_min: float, from_ms: int, until_ms: int, of_hour: Callable[[float], float]) -> list[tuple[int, float]]:
    """Readings of a temperature that depends on the hour since the start; the end is not included."""
    moments = range(from_ms, until_ms, round(step_min * MINUTE_MS))
    return [(at_ms, of_hour((at_ms - START_MS) / HOUR_MS)) for at_ms in moments]
