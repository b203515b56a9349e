"""A journal filled through the daemon's own functions, and what the queries give of it."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from config.check import check_site
from config.places import Places
from daemon.arrival import BrokerState
from daemon.clutches import register
from daemon.clutches.register import NewClutch
from daemon.evaluate import Evaluator
from daemon.overview import ChannelNow, ClimateNow, ClutchNow, IncubatorNow, Overview
from daemon.queries import Queries
from daemon.storage import samples
from daemon.storage.journal import Journal
from sensors.decoder import Decoder
from sensors.reading import Reading
from tests.support.household import MINUTE_MS, a_clutch

START_MS = 1_780_000_000_000
HOUR_MS = 60 * MINUTE_MS
AIR = "north-air/air"
BOX = "south/low/S1"
SOUTH = """
[[incubator]]
id = "south"
name = "South cabinet"
room_temperature_c = 20
[[incubator.zone]]
id = "low"
name = "low shelf"
[[incubator.zone.box]]
id = "S1"
[[incubator.zone.box]]
id = "S2"
name = "the blue box"

[[probe]]
id = "box-s1"
place = "south/low/S1"
interval_s = 300
[[probe.channel]]
name = "air"
quantity = "air_temperature"
[[probe.channel]]
name = "rh"
quantity = "relative_humidity"
[[probe.channel]]
name = "lid"
quantity = "surface_temperature"
"""


class Kept:
    """A journal of the test's own, filled through the same functions as in the daemon."""

    def __init__(self, journal: Journal, folder: Path) -> None:
        checked = check_site(folder)
        assert checked.site is not None
        assert checked.settings is not None
        channels = dict(Decoder(checked.site).channels)
        self.journal = journal
        self.profiles = checked.profiles
        self.site, self._channels = checked.site, channels
        self.places = Places(checked.site)
        self.ids = journal.write(lambda conn: samples.channel_ids(conn, channels.values()))
        self.queries = Queries(journal, checked.site, checked.profiles, channels, 1800)
        self._settings = checked.settings
        self.restart()

    def restart(self) -> None:
        """Evaluate as a daemon does that was started again."""
        self._evaluator = Evaluator(self.journal, self.site, self._settings, self.profiles, self._channels, START_MS)

    def put(self, readings: Sequence[Reading]) -> None:
        self.journal.write(lambda conn: samples.append(conn, self.ids, readings))

    def enter(self, clutch: NewClutch) -> int:
        return self.journal.write(lambda conn: register.add_clutch(conn, clutch, "test", START_MS))

    def step(self, now_ms: int) -> int:
        return self._evaluator.step(lambda: now_ms)[0]

    def evaluate(self, now_ms: int) -> None:
        while self.step(now_ms):
            pass

    def overview(self, now_ms: int, troubles: tuple[str, ...] = ()) -> Overview:
        broker = BrokerState(connected=True, detail="connected to a test", since_ms=START_MS)
        return self.queries.overview(now_ms, 1.0, broker, troubles)

    def channels(self, now_ms: int) -> dict[str, ChannelNow]:
        return {each.channel: each for incubator in self.overview(now_ms).incubators for each in incubator.channels}

    def climates(self, now_ms: int) -> dict[str, ClimateNow]:
        return {each.place: each for incubator in self.overview(now_ms).incubators for each in incubator.climates}

    def clutches(self, now_ms: int) -> dict[str, ClutchNow]:
        return {each.label: each for incubator in self.overview(now_ms).incubators for each in incubator.clutches}

    def with_profile(self, species_id: str, **changes: object) -> ClutchNow:
        """The one clutch of a species, as it would be shown at the start with another profile."""
        profile = self.profiles[species_id].model_copy(update=changes)
        queries = Queries(self.journal, self.site, {**self.profiles, species_id: profile}, self._channels, 1800)
        broker = BrokerState(connected=True, detail="", since_ms=START_MS)
        shown = queries.overview(START_MS, 1.0, broker)
        return next(each for here in shown.incubators for each in here.clutches if each.species_id == species_id)

    def incubator(self, incubator_id: str, now_ms: int) -> IncubatorNow:
        return next(each for each in self.overview(now_ms).incubators if each.incubator_id == incubator_id)


def at(moment_ms: int, values: Mapping[str, float], quality: int = 0) -> list[Reading]:
    """Readings of several channels at one moment."""
    return [Reading(channel, moment_ms, moment_ms + 40, value, quality) for channel, value in values.items()]


def steady(channel: str, value: float, start_ms: int, end_ms: int) -> list[Reading]:
    """One value every five minutes, both ends included."""
    return [each for moment in range(start_ms, end_ms + 1, 5 * MINUTE_MS) for each in at(moment, {channel: value})]


def in_box(label: str, species_id: str, place: str = BOX) -> NewClutch:
    return replace(a_clutch(START_MS, label, place), species_id=species_id)
