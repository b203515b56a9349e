"""What the probes say of a box since a moment: extremes, hours outside, water on the lid, when it is too dry.

All of it from roll-ups, so that a span of weeks costs some milliseconds.
"""

import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from config.places import Places
from config.site import Site
from config.words import Quantity
from daemon.alarms.limits import Limits
from daemon.alarms.silence import window_ms
from daemon.box_climate import Watched
from daemon.box_lid import lid_past
from daemon.climate.condensation_hours import KEPT_MS
from daemon.climate.dry_out import DryOut
from daemon.occupancy import Occupancy
from daemon.room import Room, stated_of
from daemon.rounds.measured import Band, measured
from daemon.rounds.sheet import Measured, WaterOnLid
from daemon.series import series
from daemon.storage import rollups
from sensors.calibration import Calibrations

FINE_MS, COARSE_MS = 600_000, 3_600_000
FINE_UNTIL_MS = 8 * 24 * 3_600_000
"""Stretches in which hours outside are counted; coarse ones where the span is longer than this. Project choice."""
_TEMPERATURE, _HUMIDITY = Quantity.AIR_TEMPERATURE, Quantity.RELATIVE_HUMIDITY


@dataclass(frozen=True, slots=True)
class BoxPast:
    """What was measured of a box over a span. `behind`: readings wait to be rolled up, so some may be missing."""

    temperature: Measured | None
    humidity: Measured | None
    water_on_lid: WaterOnLid | None
    dry_out: str
    dry_days: float | None
    behind: bool


class BoxPastReader:
    """Reads for one site. A step between two readings that is longer than `bridge_ms` is a gap."""

    def __init__(self, site: Site, bridge_ms: int) -> None:
        self._places = Places(site)
        self._bridge_ms = bridge_ms
        self._zone = ZoneInfo(site.time_zone)
        self._room = Room(site).channel

    def read(
        self,
        conn: sqlite3.Connection,
        place: str,
        occupancy: Occupancy,
        calibrations: Calibrations,
        since_ms: int,
        until_ms: int,
    ) -> BoxPast:
        """Give what was measured from one moment until before another. About 10 ms for a week."""
        until_ms = max(until_ms, since_ms + 1)
        now = occupancy.limits(place, until_ms)
        found: dict[Quantity, Measured | None] = {}
        behind = False
        for quantity in (_TEMPERATURE, _HUMIDITY):
            nearest = self._nearest(place, quantity)
            found[quantity] = None
            if nearest is None:
                continue
            channel, at, bridge_ms = nearest
            pieces = calibrations.straight(channel, since_ms, until_ms - 1)
            width_ms = FINE_MS if until_ms - since_ms <= FINE_UNTIL_MS else COARSE_MS
            stretches = max(1, (until_ms - since_ms) // width_ms)
            course = series(conn, channel, since_ms, until_ms, stretches, pieces, bridge_ms)
            behind = behind or course.is_behind
            # A lidded box and the shelf around it share their temperature and not their humidity.
            counts = quantity is _TEMPERATURE or at == place
            found[quantity] = measured(
                course,
                quantity,
                lambda at_ms, of=quantity, on=counts: _band(occupancy.limits(place, at_ms), of, counts=on),  # type: ignore[misc]
                _band(now, quantity, counts=counts),
                self._places.name(at),
                in_box=at == place,
            )
        water, sentence, days = self._lid(conn, place, now, calibrations, since_ms, until_ms)
        return BoxPast(found[_TEMPERATURE], found[_HUMIDITY], water, sentence, days, behind)

    def mark(self, conn: sqlite3.Connection, place: str, since_ms: int, until_ms: int) -> object:
        """Give what changes where readings of a span come late that this place is told of."""
        probes = [probe for at in self._places.chain(place) for probe in self._places.climate_probes_at(at)]
        channels = [f"{probe.id}/{channel.name}" for probe in probes for channel in probe.channels]
        channels += [] if self._room is None else [self._room]
        return rollups.counted(conn, channels, min(since_ms, until_ms - KEPT_MS), until_ms)

    def _nearest(self, place: str, quantity: Quantity) -> tuple[str, str, int] | None:
        """Give the channel that speaks best for a place, where its probe is, and what is a gap of it."""
        for at in self._places.chain(place):
            for probe in self._places.climate_probes_at(at):
                for channel in probe.channels:
                    if channel.quantity is quantity:
                        return f"{probe.id}/{channel.name}", at, max(self._bridge_ms, window_ms(probe.interval_s))
        return None

    def _lid(
        self,
        conn: sqlite3.Connection,
        place: str,
        now: Limits,
        calibrations: Calibrations,
        since_ms: int,
        until_ms: int,
    ) -> tuple[WaterOnLid | None, str, float | None]:
        for watched in self._watched(place, now):
            past = lid_past(conn, watched, calibrations, since_ms, until_ms, self._bridge_ms, self._zone)
            water = None
            if past.hours is not None and past.hours.covered_h:
                from_ms = max(since_ms, until_ms - KEPT_MS)
                known = past.hours
                between = known.certain_h, known.possible_h
                water = WaterOnLid(known.expected_h, known.covered_h, from_ms, past.is_wet, *between)
            return water, past.dry_out_text, past.dry_out.likely_days if isinstance(past.dry_out, DryOut) else None
        return None, "", None

    def _watched(self, place: str, now: Limits) -> Iterator[Watched]:
        """Give the place where temperature and humidity of the air in the box itself are measured."""
        probes = self._places.climate_probes_at(place)
        of = {channel.quantity: f"{probe.id}/{channel.name}" for probe in probes for channel in probe.channels}
        air, humidity = of.get(_TEMPERATURE), of.get(_HUMIDITY)
        if air is not None and humidity is not None:
            yield Watched(
                place,
                air,
                humidity,
                of.get(Quantity.SURFACE_TEMPERATURE),
                self._places.temperature_factor(place),
                max(window_ms(probe.interval_s) for probe in probes),
                now.humidity_low_pct,
                stated_of(self._places.incubator_of(place)),
                self._room,
            )


def _band(limits: Limits, quantity: Quantity, *, counts: bool) -> Band:
    if not counts:
        return None, None
    if quantity is _TEMPERATURE:
        return limits.low_c, limits.high_c
    return limits.humidity_low_pct, limits.humidity_high_pct
