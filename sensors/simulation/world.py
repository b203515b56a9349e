"""A whole simulated site: an incubator for each one stated, and a probe for each one stated, at its place."""

import zlib
from collections.abc import Iterator, Mapping, Sequence
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np

from config.model import ROOM, Incubator, Probe, Site
from config.places import Places
from config.words import Quantity
from sensors.simulation.incubator import IncubatorModel
from sensors.simulation.parameters import (
    BoxParameters,
    IncubatorParameters,
    RoomParameters,
    Thermostat,
    ZoneParameters,
)
from sensors.simulation.probes import DIGITAL, ONE_WIRE, SOUND, SimulatedProbe
from sensors.simulation.run import Measured, due_times

DEFAULT_SET_POINT_C = 29.0
DEFAULT_ROOM_C = 20.0
DEFAULT_TEMPERATURE_FACTOR = 0.9
_WARMEST_LOCAL_HOUR = 15.0
_STRATIFICATION = 0.05
_WARM_UP_MS = 12 * 3_600_000
"""Runs before the first reading, so that boxes and vapour are where a running incubator has them."""


class SimulatedSite:
    """Every incubator and every probe of a site. Same site, start, seed and calls: same readings.

    Probes with foreign sources are simulated like all others; how they are sent is the sender's business. An incubator
    without a set point in `set_points_c` (by incubator id) runs at 29 degree Celsius.
    """

    def __init__(
        self, site: Site, start_ms: int, *, seed: int, set_points_c: Mapping[str, float] | None = None
    ) -> None:
        places = Places(site)
        wanted_c = set_points_c or {}
        self.at_ms = start_ms
        """Everything before this moment has been read."""
        self.models = {
            incubator.id: IncubatorModel(
                incubator_parameters(
                    incubator,
                    places,
                    set_point_c=wanted_c.get(incubator.id, DEFAULT_SET_POINT_C),
                    warmest_hour_utc=_utc_hour(site.time_zone, start_ms, _WARMEST_LOCAL_HOUR),
                    seed=_seed(seed, incubator.id),
                ),
                _seed(seed, incubator.id, 1),
                start_ms=start_ms - _WARM_UP_MS,
            )
            for incubator in site.incubators
        }
        self.probes = tuple(_simulated(probe, _seed(seed, probe.id, 2)) for probe in site.probes)
        # Each simulated incubator has a room and mains of its own; a probe in the room reads those of the first.
        self._models = tuple(
            self.models[site.incubators[0].id if probe.place == ROOM else places.incubator_of(probe.place).id]
            for probe in site.probes
        )

    def read(self, index: int, at_ms: int) -> dict[str, float] | None:
        """Let time pass to `at_ms` and read one probe, by its index in `probes`; None where it gives nothing."""
        probe, model = self.probes[index], self._models[index]
        model.advance_to(at_ms)
        conditions = model.conditions if probe.contacts else SOUND
        return probe.read(model.climate(probe.place), at_ms, conditions)

    def readings(self, end_ms: int, every_s: float | None = None) -> Iterator[Measured]:
        """Give what all probes read from `at_ms` until just before `end_ms`, in the order of time.

        Each probe reads at its own interval, or all of them every `every_s` seconds. Take all of it: `at_ms` moves on
        with the last one.
        """
        intervals_ms = [probe.interval_ms if every_s is None else round(every_s * 1000) for probe in self.probes]
        for due_ms, index in due_times(intervals_ms, self.at_ms):
            if due_ms >= end_ms:
                break
            values = self.read(index, due_ms)
            if values is not None:
                yield due_ms, self.probes[index].probe_id, values
        self.at_ms = max(self.at_ms, end_ms)


def history(
    site: Site,
    start_ms: int,
    end_ms: int,
    *,
    seed: int,
    set_points_c: Mapping[str, float] | None = None,
    every_s: float | None = None,
) -> Iterator[Measured]:
    """Give a past for all probes of a site at once: (measured_at_ms, probe id, values by channel name)."""
    return SimulatedSite(site, start_ms, seed=seed, set_points_c=set_points_c).readings(end_ms, every_s)


def incubator_parameters(
    incubator: Incubator, places: Places, *, set_point_c: float, warmest_hour_utc: float, seed: Sequence[int]
) -> IncubatorParameters:
    """Make a cabinet of its own for a stated incubator. Its zones are taken from top to bottom as they are listed."""
    chance = np.random.default_rng(seed)
    zone_places = [f"{incubator.id}/{zone.id}" for zone in incubator.zones]
    slopes = np.linspace(_STRATIFICATION, -_STRATIFICATION, len(zone_places)) if len(zone_places) > 1 else [0.0]
    boxes = [
        _box(zone_place, f"{zone_place}/{box.id}", places, chance)
        for zone_place, zone in zip(zone_places, incubator.zones, strict=True)
        for box in zone.boxes
    ]
    stated_c = incubator.room_temperature_c
    return IncubatorParameters(
        place=incubator.id,
        wall_loss_w_k=float(chance.uniform(1.4, 1.9)),
        contents_capacity_j_k=float(chance.uniform(35_000.0, 50_000.0)),
        exchange_per_h=float(chance.uniform(0.4, 0.6)),
        temperature_factor=_factor(places, incubator.id),
        thermostat=Thermostat(set_point_c=set_point_c),
        room=RoomParameters(mean_c=DEFAULT_ROOM_C if stated_c is None else stated_c, warmest_hour_utc=warmest_hour_utc),
        zones=tuple(
            ZoneParameters(place=place, stratification=float(slope))
            for place, slope in zip(zone_places, slopes, strict=False)
        ),
        boxes=tuple(boxes),
    )


def _box(zone: str, place: str, places: Places, chance: np.random.Generator) -> BoxParameters:
    return BoxParameters(
        place=place,
        zone=zone,
        capacity_j_k=float(chance.uniform(3_000.0, 5_000.0)),
        exchange_per_h=float(chance.uniform(0.2, 0.6)),
        temperature_factor=_factor(places, place),
    )


def _factor(places: Places, place: str) -> float:
    stated = places.temperature_factor(place)
    return DEFAULT_TEMPERATURE_FACTOR if stated is None else stated


def _simulated(probe: Probe, seed: Sequence[int]) -> SimulatedProbe:
    channels = {channel.name: channel.quantity for channel in probe.channels}
    character = DIGITAL if Quantity.RELATIVE_HUMIDITY in channels.values() else ONE_WIRE
    return SimulatedProbe(
        probe.id, probe.place, channels, character, seed, interval_ms=max(1, round(probe.interval_s * 1000))
    )


def _seed(seed: int, name: str, part: int = 0) -> tuple[int, int, int]:
    """Give each thing chance of its own, so that another incubator in the site changes no other's readings."""
    return seed, zlib.crc32(name.encode()), part


def _utc_hour(time_zone: str, at_ms: int, local_hour: float) -> float:
    offset = datetime.fromtimestamp(at_ms / 1000, UTC).astimezone(ZoneInfo(time_zone)).utcoffset()
    return local_hour - (offset.total_seconds() / 3600.0 if offset else 0.0)
