"""Dew points and margins for the mirror: one of each place and ten minutes, by the first good readings in these."""

import sqlite3
from collections.abc import Iterable, Iterator, Mapping
from typing import NamedTuple

from config.places import Places
from config.site import Incubator, Site
from config.words import Quantity
from daemon.climate.condensation import surface_temperature_c
from daemon.climate.psychrometrics import SATURATED_PCT, dew_point_c
from daemon.climate.room_air import RoomReadings, room_at
from daemon.mirror.cells import CELL_MS, Cells, touched_by
from daemon.mirror.points import CLIMATE, Climate, Origin, climate_line, place_tags
from daemon.mirror_client import series_of
from daemon.room import Room, stated_of
from daemon.storage import calibrations
from daemon.storage.recent import first_good_of_cells
from sensors.calibration import Calibrations

SampleRow = tuple[int, int, int, int, float, int]


class _Measured(NamedTuple):
    """A place with the channels of its air and its lid."""

    place: str
    incubator: Incubator
    air: str
    humidity: str
    surface: str | None
    temperature_factor: float | None


class MirrorClimate:
    """Works out the climate of every place where temperature and humidity are measured."""

    def __init__(self, site: Site, origin: Origin) -> None:
        self._site = site
        self._room = Room(site)
        self._measured = {each.place: each for each in _measured(site)}
        self._of_channel = {
            channel: each.place
            for each in self._measured.values()
            for channel in (each.air, each.humidity, each.surface)
            if channel is not None
        }
        self._series = {place: series_of(CLIMATE, place_tags(origin, place).items()) for place in self._measured}
        self._cells = Cells()
        self._calibrations: tuple[int, Calibrations] | None = None

    def lines(self, conn: sqlite3.Connection, rows: Iterable[SampleRow], channels: Mapping[int, str]) -> Iterator[str]:
        """Give the lines of what these readings bring or change; `channels` by number."""
        places = {number: self._of_channel[name] for number, name in channels.items() if name in self._of_channel}
        corrections = self._corrections(conn)
        for place, start_ms, end_ms in self._cells.due(touched_by(rows, places)):
            yield from self._between(conn, self._measured[place], corrections, start_ms, end_ms)

    def _corrections(self, conn: sqlite3.Connection) -> Calibrations:
        version = calibrations.version(conn)
        if self._calibrations is None or self._calibrations[0] != version:
            self._calibrations = version, calibrations.load(conn, self._site)
        return self._calibrations[1]

    def _between(
        self, conn: sqlite3.Connection, of: _Measured, corrections: Calibrations, start_ms: int, end_ms: int
    ) -> Iterator[str]:
        def by_cell(channel: str | None) -> dict[int, tuple[int, float]]:
            rows = [] if channel is None else first_good_of_cells(conn, channel, start_ms, end_ms, CELL_MS)
            return {at_ms // CELL_MS: (at_ms, value) for at_ms, value in rows}

        air, surface = by_cell(of.air), by_cell(of.surface)
        room = None
        if of.temperature_factor is not None:
            room = self._room.readings(conn, corrections, start_ms, end_ms)
        for cell, (at_ms, humidity_pct) in by_cell(of.humidity).items():
            if cell not in air:
                continue
            used = [air[cell], (at_ms, humidity_pct), *([surface[cell]] if cell in surface else [])]
            found = _climate(of, corrections, room, used)
            if found is not None:
                yield climate_line(self._series[of.place], found, cell * CELL_MS)
            if of.surface is None or cell in surface:
                self._cells.known(of.place, cell * CELL_MS, max(each[0] for each in used))


def _climate(
    of: _Measured, corrections: Calibrations, room: RoomReadings | None, used: list[tuple[int, float]]
) -> Climate | None:
    """Give it by air, humidity and, where there is one, surface; None where the readings are none of air."""
    (air_ms, air), (at_ms, humidity), *lid = used
    warm_c = corrections.corrected(of.air, air, air_ms)
    damp_pct = corrections.corrected(of.humidity, humidity, at_ms)
    surface_c = None
    try:
        dew_c = dew_point_c(warm_c, min(damp_pct, SATURATED_PCT))
        if lid and of.surface is not None:
            surface_c = corrections.corrected(of.surface, lid[0][1], lid[0][0])
        elif of.temperature_factor is not None:
            around = room_at(room, stated_of(of.incubator), at_ms)
            if around is not None:
                surface_c = surface_temperature_c(warm_c, around.temperature_c, of.temperature_factor)
    except ValueError:
        return None
    return Climate(warm_c, damp_pct, dew_c, None if surface_c is None else surface_c - dew_c)


def _measured(site: Site) -> Iterator[_Measured]:
    places = Places(site)
    for place in places.all:
        of = {
            channel.quantity: f"{probe.id}/{channel.name}"
            for probe in places.climate_probes_at(place)
            for channel in probe.channels
        }
        air, humidity = of.get(Quantity.AIR_TEMPERATURE), of.get(Quantity.RELATIVE_HUMIDITY)
        if air is not None and humidity is not None:
            surface, factor = of.get(Quantity.SURFACE_TEMPERATURE), places.temperature_factor(place)
            yield _Measured(place, places.incubator_of(place), air, humidity, surface, factor)
