"""What is known of the site's air temperature at one moment of the journal: calibration, error, cooling, the room."""

import sqlite3
from collections.abc import Mapping, Sequence

from config.places import Places
from config.site import Site
from config.words import Quantity
from daemon.climate.cooling import RoomAir, TimeConstant
from daemon.climate.room_air import ROOM_READING_COUNTS_MS, room_meanwhile
from daemon.development.heat_gap import Cooling
from daemon.room import Room, stated_of
from daemon.storage import calibrations, cooling
from sensors.calibration import Calibrations
from sensors.calibration import stated_of as stated_accuracy

_USUAL_C = 28.0
"""Where the uncertainty of a channel depends on the reading, it is taken here: the middle of what eggs are kept at."""


class AirChannels:
    """Loaded from a moment of the journal; to be loaded again whenever `version` differs."""

    def __init__(self, site: Site) -> None:
        self._site = site
        self._room = Room(site)
        self._stated_rooms = {one.id: stated_of(one) for one in site.incubators}
        self._constants: Mapping[str, TimeConstant] = {}
        self.channel_at = {
            probe.place: f"{probe.id}/{channel.name}"
            for probe in site.probes
            for channel in probe.channels
            if channel.quantity is Quantity.AIR_TEMPERATURE
        }
        """The air temperature channel of each place that has one."""
        places = Places(site)
        self.channels_for = {
            place: tuple(self.channel_at[part] for part in places.chain(place) if part in self.channel_at)
            for place in places.all
        }
        """The channels that speak for each place, the best one first."""
        self.calibrations = Calibrations((), stated_accuracy(site))

    def version(self, conn: sqlite3.Connection) -> tuple[int, int]:
        """Changes with every new calibration, also one entered by another process, and with what is learned."""
        return calibrations.version(conn), cooling.count(conn)

    def load(self, conn: sqlite3.Connection) -> None:
        """Take what the journal holds at this moment."""
        self.calibrations = calibrations.load(conn, self._site)
        self._constants = cooling.time_constants(conn)

    @property
    def calibrated(self) -> dict[str, list[list[float]]]:
        """The dated corrections of each channel that has any, for comparing with those of another moment."""
        return {channel: basis for channel in self.channel_at.values() if (basis := self.calibrations.basis(channel))}

    @property
    def stated(self) -> dict[str, list[float]]:
        """What the keeper stated of each air channel, K, and of the room of each incubator, degree Celsius and K."""
        accuracies = stated_accuracy(self._site)
        channels = {one: [accuracies[one].standard_uncertainty] for one in self.channel_at.values()}
        rooms = {one: [air.temperature_c, air.u_k] for one, air in self._stated_rooms.items() if air is not None}
        return {**channels, **rooms}

    def uncertainty_k(self, channel: str, at_ms: int) -> float:
        """Standard uncertainty (k = 1) of a channel at a moment."""
        return self.calibrations.standard_uncertainty(channel, _USUAL_C, at_ms)

    def corrected(self, channel: str, readings: Sequence[tuple[int, float]]) -> list[tuple[int, float]]:
        """Readings in order of time, each corrected by the calibration of its time."""
        if not readings or not self.calibrations.basis(channel):
            return list(readings)
        pieces = self.calibrations.straight(channel, readings[0][0], readings[-1][0])
        ends = [*(piece.from_ms for piece in pieces[1:]), readings[-1][0] + 1]
        coming = iter(readings)
        corrected: list[tuple[int, float]] = []
        reading = next(coming, None)
        for piece, end_ms in zip(pieces, ends, strict=True):
            while reading is not None and reading[0] < end_ms:
                corrected.append((reading[0], piece.gain * reading[1] + piece.shift))
                reading = next(coming, None)
        return corrected

    def cooling(self, conn: sqlite3.Connection, incubator_id: str, start_ms: int, end_ms: int) -> Cooling | None:
        """How an incubator cools between two moments where its heater is off; None where nothing is known of its room.

        The room is taken at its coldest where a probe measured it all the time, else as it is stated.
        """
        air = self._coldest(conn, start_ms, end_ms) or self._stated_rooms.get(incubator_id)
        if air is None:
            return None
        constant = self._constants.get(incubator_id)
        if constant is None:
            return Cooling(air.temperature_c, air.u_k)
        return Cooling(air.temperature_c, air.u_k, constant.hours, constant.u_hours)

    def _coldest(self, conn: sqlite3.Connection, start_ms: int, end_ms: int) -> RoomAir | None:
        measured = self._room.readings(conn, self.calibrations, start_ms, end_ms)
        moments = [*range(start_ms, end_ms, ROOM_READING_COUNTS_MS), end_ms]
        found = room_meanwhile(measured, None, moments) if measured else None
        if found is None:
            return None
        return RoomAir(found.air.temperature_c + min(found.swing_k), found.air.u_k, measured=True)
