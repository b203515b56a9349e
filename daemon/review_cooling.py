"""What the journal tells of heat around a gap: the room meanwhile, the time constant, the fastest rise."""

import math
import sqlite3
from collections.abc import Mapping

from config.places import Places
from config.site import Site
from daemon.climate.cooling import RoomAir, TimeConstant
from daemon.climate.room_air import ROOM_READING_COUNTS_MS, RoomReadings, room_meanwhile
from daemon.review.passive import FastestRise, Passive
from daemon.review.rises import CELL_MS, fastest_rise
from daemon.room import Room, stated_of
from daemon.storage import cooling, rollups
from daemon.thermometers import AirChannels

LOOKS_BACK_MS = 14 * 86_400_000
"""So long before the end of a gap a rise is looked for: an incubator is filled and emptied over a season. Project
choice."""
LOOKS_AHEAD_MS = 3 * 3_600_000
"""And so long behind it: what heats up after an outage shows best what its heater can do. Project choice."""
ROOM_MEANWHILE_U_K = 3.0
"""Standard uncertainty of a room in which nobody measured meanwhile. Common practice, no source."""
_HOUR_MS = 3_600_000
_Rooms = tuple[RoomAir, RoomAir, RoomAir]
"""The coldest, the mean and the warmest that it was."""


class PlaceCooling:
    """Reads one moment of the journal; what was read once is not read again. Not to be kept."""

    def __init__(self, conn: sqlite3.Connection, site: Site, air: AirChannels) -> None:
        self._conn = conn
        self._air = air
        self._room = Room(site)
        self._stated = {incubator.id: stated_of(incubator) for incubator in site.incubators}
        self._boxes = frozenset(Places(site).boxes)
        self._constants: Mapping[str, TimeConstant] = cooling.time_constants(conn)
        self._rooms: dict[tuple[int, int], tuple[_Rooms | None, _Rooms | None]] = {}
        self._rises: dict[tuple[str, int], FastestRise | None] = {}

    def passive(self, place: str, from_ms: int, to_ms: int) -> Passive | None:
        """How a place goes without heat between two moments; None where nothing is known of its room."""
        incubator_id = place.split("/", maxsplit=1)[0]
        # Whole hours, so that channels which fell silent some seconds apart share what was read.
        start_ms, end_ms = from_ms // _HOUR_MS * _HOUR_MS, -(-to_ms // _HOUR_MS) * _HOUR_MS
        stated = self._stated.get(incubator_id)
        measured, beside = self._measured(start_ms, end_ms)
        rooms = measured or (None if stated is None else (stated, stated, stated)) or beside
        if rooms is None:
            return None
        return Passive.of(rooms, self._constants.get(incubator_id), in_box=place in self._boxes)

    def rise(self, channel: str, until_ms: int) -> FastestRise | None:
        """How fast a channel was seen to rise around a moment; None where its heater was never seen at work."""
        key = (channel, until_ms // _HOUR_MS)
        if key not in self._rises:
            self._rises[key] = self._rise(channel, key[1] * _HOUR_MS)
        return self._rises[key]

    def _measured(self, start_ms: int, end_ms: int) -> tuple[_Rooms | None, _Rooms | None]:
        """The room where a probe measured it all the time; else what it was before and behind, give or take."""
        if (start_ms, end_ms) not in self._rooms:
            readings = self._room.readings(self._conn, self._air.calibrations, start_ms, end_ms)
            found = (None, None) if readings is None else (_rooms_of(readings, start_ms, end_ms), _beside(readings))
            self._rooms[start_ms, end_ms] = found
        return self._rooms[start_ms, end_ms]

    def _rise(self, channel: str, until_ms: int) -> FastestRise | None:
        import numpy as np

        found = self._conn.execute("SELECT channel_id FROM channel WHERE channel = ?", (channel,)).fetchone()
        if found is None:
            return None
        start_ms, end_ms = until_ms - LOOKS_BACK_MS, until_ms + LOOKS_AHEAD_MS
        rows = rollups.of_calm_rollups(self._conn, CELL_MS, found[0], start_ms, end_ms, 0, CELL_MS, CELL_MS)
        good = [(row[0], row[3], row[4], row[2] / row[1]) for row in rows if row[1]]
        if not good:
            return None
        cells, *values = (np.array(each) for each in zip(*good, strict=True))
        # A rise is a difference, so only the gain of a calibration matters.
        gain = abs(self._air.calibrations.straight(channel, until_ms, until_ms)[-1].gain)
        return fastest_rise(cells, *(gain * each for each in values))


def _beside(readings: RoomReadings) -> _Rooms:
    """What is left where a probe was silent with all the others: the room is taken to have stayed about as it was."""
    mean_c = (readings.temperatures_c[0] + readings.temperatures_c[-1]) / 2
    air = RoomAir(mean_c, math.hypot(readings.u_k, ROOM_MEANWHILE_U_K), measured=False)
    return air, air, air


def _rooms_of(readings: RoomReadings, start_ms: int, end_ms: int) -> _Rooms | None:
    moments = [*range(start_ms, end_ms, ROOM_READING_COUNTS_MS), end_ms]
    found = room_meanwhile(readings, None, moments)
    if found is None:
        return None
    mean_c, u_k = found.air.temperature_c, found.air.u_k
    swings = min(found.swing_k), 0.0, max(found.swing_k)
    coldest, mean, warmest = (RoomAir(mean_c + swing_k, u_k, measured=True) for swing_k in swings)
    return coldest, mean, warmest
