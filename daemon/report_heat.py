"""What a clutch had and what was to be expected of it at a moment of the past, of a closed clutch as well.

Worked out now, with the readings, calibrations and profile as they are known now, for whatever was known by then of
heat and place: not what somebody read on that day.
"""

import sqlite3
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from config.site import Site
from config.species import SpeciesProfile
from daemon.clutches.values import Clutch
from daemon.exposure_course import Stretch, course_of
from daemon.heat_now import RECENT_H, HeatNow, HeatReader
from daemon.occupancy import stays
from daemon.overview import ClutchNow
from daemon.overview_clutch import clutch_now
from daemon.overview_past import Past
from daemon.overview_past_reader import PastReader
from daemon.reports.exposure import Worst, worst_of
from daemon.reports.foretold import Foretold, moments_of
from daemon.storage import heat_past
from daemon.thermometers import AirChannels

HOUR_MS = 3_600_000


@dataclass(frozen=True, slots=True)
class HeatThen:
    """Looks at one clutch in one moment of the journal. `air` is loaded from it."""

    conn: sqlite3.Connection
    site: Site
    profiles: Mapping[str, SpeciesProfile]
    air: AirChannels
    bridge_ms: int
    clutch: Clutch

    def reader(self, at_ms: int) -> HeatReader:
        """Give what answers as of a moment."""
        number = self.clutch.clutch_id
        totals = heat_past.between(self.conn, [number], None, at_ms)
        recent = heat_past.between(self.conn, [number], at_ms - RECENT_H * HOUR_MS, at_ms)
        pieces = {one: found.piece for one, found in recent.items()}
        return HeatReader(self.conn, self.site, self.profiles, self.air, self.bridge_ms, at_ms, number, totals, pieces)

    def heat(self, at_ms: int) -> HeatNow | None:
        """Give the heat by a moment; None where none is counted."""
        found = self.reader(at_ms).heat_of(self.clutch)
        return found if found is not None and found.is_measured else None

    def now(self, at_ms: int) -> ClutchNow:
        """Give the clutch as it was at a moment after its set-up."""
        profile = self.profiles.get(self.clutch.species_id)
        return clutch_now(self.clutch, profile, self.reader(at_ms).heat_of(self.clutch), at_ms)

    def past(self, at_ms: int) -> Past:
        """Give what is told of sex and exposure by a moment."""
        reader = PastReader(self.site, self.profiles, self.bridge_ms, None)
        found = reader.read(self.conn, [self.clutch], self.reader(at_ms), self.air, at_ms)
        return found.get(self.clutch.clutch_id, Past())

    def exposures(self, until_ms: int) -> Iterator[Worst]:
        """Give how near it came to each published limit of its species, over its whole time until a moment."""
        profile = self.profiles.get(self.clutch.species_id)
        if profile is None or not profile.exposure:
            return
        lay = [
            Stretch(next(iter(self.air.channels_for.get(stay.place, ())), None), stay.from_ms, min(end_ms, until_ms))
            for stay, end_ms in stays(self.clutch)
            if stay.from_ms < until_ms
        ]
        course = course_of(self.conn, lay, self.air, until_ms)
        for limit in profile.exposure:
            yield worst_of(limit, course, self.bridge_ms, until_ms)

    def foretold(self, until_ms: int) -> Iterator[Foretold]:
        """Give the windows as they were foretold from the set-up until a moment."""
        for at_ms in moments_of(self.clutch.set_up_ms, until_ms):
            yield Foretold(at_ms, self.now(at_ms).window)
