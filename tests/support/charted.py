"""A site with weeks of invented readings, rolled up, and the app of its charts."""

import math
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from fastapi import FastAPI

from config.site import Site
from config.words import Quantity
from daemon.chart_reader import ChartReader
from daemon.rollups import RollUps
from daemon.storage import samples
from daemon.storage.journal import Journal
from dashboards.app import create_app
from sensors.reading import ChannelKey, Quality, Reading
from tests.dashboards import samples as shown
from tests.support.journals import new_journal

MINUTE_MS = 60_000
HOUR_MS = 60 * MINUTE_MS
DAY_MS = 24 * HOUR_MS
NOW_MS = 1_782_907_200_000
"""1 July 2026, 14:00 in Berlin."""
AIR, HUMIDITY, DOOR, SOUTH = "north-air/t", "north-air/rh", "north-door/open", "south-air/t"
SPIKE_MS = NOW_MS - 200 * DAY_MS
SPIKE_C = 36.5
GAP_MS = (NOW_MS - 16 * HOUR_MS, NOW_MS - 12 * HOUR_MS)
SUSPECT_MS = NOW_MS - 5 * HOUR_MS
EVERY_MS = 10 * MINUTE_MS
_KEYS = [
    ChannelKey(AIR, "north-air", "t", Quantity.AIR_TEMPERATURE),
    ChannelKey(HUMIDITY, "north-air", "rh", Quantity.RELATIVE_HUMIDITY),
    ChannelKey(DOOR, "north-door", "open", Quantity.DOOR),
]


def site(temperature_unit: str = "C", name: str = "North <b>cabinet</b>") -> Site:
    """Two incubators: one with climate and door, one with a thermometer that has never spoken."""
    air = {"name": "t", "quantity": Quantity.AIR_TEMPERATURE}
    humidity = {"name": "rh", "quantity": Quantity.RELATIVE_HUMIDITY}
    door = {"name": "open", "quantity": Quantity.DOOR}
    return Site.model_validate(
        {
            "name": "Reptile room",
            "time_zone": "Europe/Berlin",
            "temperature_unit": temperature_unit,
            "incubators": (
                {"id": "north", "name": name, "zone": ({"id": "upper", "name": "upper shelf"},)},
                {"id": "south", "name": "South cabinet"},
            ),
            "probes": (
                {"id": "north-air", "place": "north/upper", "channel": (air, humidity)},
                {"id": "north-door", "place": "north", "channel": (door,)},
                {"id": "south-air", "place": "south", "channel": (air,)},
            ),
            "people": (),
            "alarms": {},
        }
    )


@dataclass(frozen=True, slots=True)
class Charted:
    """The app, the journal that it reads, and the clock by which it goes: a list of one moment, UTC ms."""

    app: FastAPI
    journal: Journal
    clock: list[int]

    def goes_on(self, minutes: int, air_c: float) -> None:
        """Let so many minutes pass, with a reading of the air at their end."""
        self.clock[0] += minutes * MINUTE_MS
        at_ms = self.clock[0]
        key, reading = _KEYS[0], Reading(AIR, at_ms - 1, at_ms - 1, air_c, Quality.GOOD)
        self.journal.write(lambda conn: samples.append(conn, samples.channel_ids(conn, [key]), [reading]))


@contextmanager
def charted(folder: Path, of: Site | None = None, days: int = 365) -> Iterator[Charted]:
    """Open a journal with a year of readings at one in ten minutes: calm, but for a gap, a spike and a suspect one."""
    stated = site() if of is None else of
    with new_journal(folder / "journal.sqlite3") as journal:
        rows = list(_readings(days))
        journal.write(lambda conn: samples.append(conn, samples.channel_ids(conn, _KEYS), rows))
        RollUps(journal).run()
        clock = [NOW_MS]
        reader = ChartReader(journal, stated, 1800.0, lambda: clock[0])
        yield Charted(create_app(shown.overview, charts=reader), journal, clock)


def _readings(days: int) -> Iterator[Reading]:
    for number in range(days * DAY_MS // EVERY_MS):
        at_ms = NOW_MS - days * DAY_MS + number * EVERY_MS
        if GAP_MS[0] < at_ms < GAP_MS[1]:
            continue
        wave = math.sin(at_ms / DAY_MS * 2 * math.pi)
        for channel, value in ((AIR, 28.4 + 0.6 * wave), (HUMIDITY, 82.0 - 4 * wave), (DOOR, float(number % 40 == 0))):
            yield Reading(channel, at_ms, at_ms, round(value, 2), Quality.GOOD)
    yield Reading(AIR, SUSPECT_MS + 1, SUSPECT_MS + 1, 85.0, Quality.FAULT_VALUE)
    if days * DAY_MS > NOW_MS - SPIKE_MS:
        yield Reading(AIR, SPIKE_MS + 1, SPIKE_MS + 1, SPIKE_C, Quality.GOOD)
