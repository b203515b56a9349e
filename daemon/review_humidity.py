"""Reads from the journal how damp it was in the box of a clutch, where a probe in the box itself tells."""

import sqlite3
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from config.places import Places
from config.site import Site
from config.words import Quantity
from daemon.alarms.silence import window_ms
from daemon.climate.condensation_hours import Hours, Paired, Point, condensation_hours, paired
from daemon.climate.condensation_risk import lid_in, margin_of
from daemon.climate.psychrometrics import SATURATED_PCT
from daemon.climate.room_air import room_at
from daemon.climate.uncertainty import Air, Estimate, Lid, probability_of_water
from daemon.review.clutch_air import NOT_MEASURED, NOTHING_READ, BoxAir, covered_hours, dry_hours
from daemon.room import Room, stated_of
from daemon.storage.recent import first_good_of_cells
from daemon.thermometers import AirChannels

HOUR_MS = 3_600_000
CELL_MS = 10 * 60_000
"""One reading in so long is enough: lids and media follow over hours."""


class _Box(NamedTuple):
    """The channels in a box; `gap_ms` is how far apart two readings may be that count as following each other."""

    humidity: str
    air: str | None
    surface: str | None
    gap_ms: int


class _Read(NamedTuple):
    humidities: Sequence[Point]
    water: Hours | None


@dataclass(slots=True)
class BoxAirs:
    """Reads one moment of the journal; what was read once is not read again while it lives."""

    conn: sqlite3.Connection
    site: Site
    air: AirChannels
    _places: Places = field(init=False)
    _room: Room = field(init=False)
    _kept: dict[tuple[str, int, int], _Read] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._places, self._room = Places(self.site), Room(self.site)

    def of(self, place: str, from_ms: int, to_ms: int, wanted: tuple[float, str] | None) -> BoxAir:
        """Tell how damp it was in a place from a moment on until before another.

        `wanted` is the least humidity, %, that the clutch there needs, with its source; None where none is stated.
        """
        box, whole_h = self._box(place), (to_ms - from_ms) / HOUR_MS
        if box is None:
            return BoxAir(unread_h=whole_h, why_not=NOT_MEASURED)
        read = self._read(place, box, from_ms, to_ms)
        inside = [value for at_ms, value in read.humidities if from_ms <= at_ms < to_ms]
        if not inside:
            return BoxAir(unread_h=whole_h, why_not=NOTHING_READ)
        covered_h = covered_hours(read.humidities, from_ms, to_ms, box.gap_ms)
        return BoxAir(
            covered_h,
            max(0.0, whole_h - covered_h),
            min(inside),
            max(inside),
            read.water,
            None if wanted is None else dry_hours(read.humidities, wanted, from_ms, to_ms, box.gap_ms),
        )

    def _box(self, place: str) -> _Box | None:
        if place not in self._places.boxes:
            return None
        probes = self._places.climate_probes_at(place)
        of = {channel.quantity: f"{probe.id}/{channel.name}" for probe in probes for channel in probe.channels}
        humidity = of.get(Quantity.RELATIVE_HUMIDITY)
        if humidity is None:
            return None
        gap_ms = max(window_ms(probe.interval_s) for probe in probes) + CELL_MS
        return _Box(humidity, of.get(Quantity.AIR_TEMPERATURE), of.get(Quantity.SURFACE_TEMPERATURE), gap_ms)

    def _read(self, place: str, box: _Box, from_ms: int, to_ms: int) -> _Read:
        key = (place, from_ms, to_ms)
        if key not in self._kept:
            around = (from_ms - box.gap_ms, to_ms + box.gap_ms)
            raw = self._cells(box.humidity, *around)
            corrections = self.air.calibrations
            humidities = [
                (at_ms, min(corrections.corrected(box.humidity, value, at_ms), SATURATED_PCT)) for at_ms, value in raw
            ]
            chances = list(self._chances(place, box, raw, around))
            water = condensation_hours(chances, from_ms, to_ms, box.gap_ms) if chances else None
            self._kept[key] = _Read(humidities, water if water is not None and water.covered_h else None)
        return self._kept[key]

    def _cells(self, channel: str | None, from_ms: int, to_ms: int) -> list[Point]:
        return [] if channel is None else first_good_of_cells(self.conn, channel, from_ms, to_ms, CELL_MS)

    def _chances(self, place: str, box: _Box, humidities: Sequence[Point], around: tuple[int, int]) -> Iterator[Point]:
        """The probability of water on the lid at each moment that has all that it takes."""
        factor = self._places.temperature_factor(place)
        if box.air is None or (box.surface is None and factor is None):
            return
        measured = None if factor is None else self._room.readings(self.conn, self.air.calibrations, *around)
        stated = stated_of(self._places.incubator_of(place))
        for pair in paired(self._cells(box.air, *around), humidities, self._cells(box.surface, *around), CELL_MS):
            margin = self._margin(box, box.air, lid_in(room_at(measured, stated, pair.at_ms), factor), pair)
            if margin is not None:
                yield pair.at_ms, probability_of_water(margin)

    def _margin(self, box: _Box, air_channel: str, lid: Lid | None, pair: Paired) -> Estimate | None:
        """Surface minus dew point; None where the surface is not known or a reading is none of air."""
        warm = self._known(air_channel, pair.temperature_c, pair.at_ms)
        damp = self._known(box.humidity, pair.relative_humidity_pct, pair.at_ms)
        air = Air(warm.value, min(damp.value, SATURATED_PCT), warm.standard_uncertainty, damp.standard_uncertainty)
        surface = None
        if box.surface is not None and pair.surface_c is not None:
            surface = self._known(box.surface, pair.surface_c, pair.at_ms)
        try:
            return margin_of(air, surface, lid)
        except ValueError:
            return None

    def _known(self, channel: str, value: float, at_ms: int) -> Estimate:
        corrections = self.air.calibrations
        return Estimate(
            corrections.corrected(channel, value, at_ms), corrections.standard_uncertainty(channel, value, at_ms)
        )
