"""When an incubator without heat reaches its next limit: reads from the journal what that takes, for an alert.

All of it is what was measured up to the alarm, so an alert that is written again says the same.
"""

import sqlite3
from dataclasses import replace

from config.model import ROOM
from config.places import Places
from config.site import Site
from config.words import AlarmKind, Quantity
from daemon.alarm_transition import Transition
from daemon.alarms.limits import Limits
from daemon.alarms.time_left import Ahead
from daemon.climate.cooling import Forecast, RoomAir, TimeConstant, time_to_limit, unknown
from daemon.climate.cooling_now import objection_to_cooling
from daemon.climate.room_air import room_at
from daemon.climate.uncertainty import Estimate
from daemon.occupancy import Occupancy
from daemon.room import Room, stated_of
from daemon.storage import calibrations, cooling, samples
from sensors.reading import ChannelKey

WATCHED_MS = 20 * 60_000
"""So long before the alarm it must have cooled by itself."""
_MS_PER_HOUR = 3_600_000
LONGEST_AGE_MS = 30 * 60_000
"""A forecast from older readings is none."""


class CoolingForecasts:
    """Forecasts for the alerts of one site."""

    def __init__(self, site: Site, places: Places) -> None:
        self._site = site
        self._places = places
        self._room = Room(site)
        self._air = [
            (ChannelKey(f"{probe.id}/{channel.name}", probe.id, channel.name, channel.quantity), probe.place)
            for probe in site.probes
            for channel in probe.channels
            if channel.quantity is Quantity.AIR_TEMPERATURE and probe.place != ROOM
        ]

    def ahead(self, conn: sqlite3.Connection, transition: Transition, limits: Limits, now_ms: int) -> Ahead | None:
        """What lies ahead of an alarm that was raised; None for a kind or a place of which cooling says nothing.

        Too cold: the lethal limit. No readings: the same, else the low limit, if the heat is off.
        """
        is_air = transition.channel is not None and transition.channel.quantity is Quantity.AIR_TEMPERATURE
        if not is_air or not self._places.exists(transition.place):
            return None
        if transition.kind is AlarmKind.TEMPERATURE_LOW:
            return self._while_cooling(conn, transition, limits.lethal_low_c, now_ms)
        if transition.kind is AlarmKind.NO_DATA:
            limit_c = limits.low_c if limits.lethal_low_c is None else limits.lethal_low_c
            return self._if_heat_is_off(conn, transition, limit_c, now_ms)
        return None

    def first_ahead(
        self, conn: sqlite3.Connection, transition: Transition, occupancy: Occupancy, now_ms: int
    ) -> Ahead | None:
        """The limit that is reached first where heat may be off in many places; None where nothing is known of any.

        The places are those with eggs in the incubator of the alarm, or in all of them.
        """
        found = []
        for key, place in self._air:
            if transition.place in ("", ROOM, place.split("/", 1)[0]) and occupancy.lying_in(place, transition.at_ms):
                one = replace(transition, channel=key, subject=key.channel, place=place)
                limits = occupancy.limits(place, transition.at_ms)
                limit_c = limits.low_c if limits.lethal_low_c is None else limits.lethal_low_c
                found.append(self._if_heat_is_off(conn, one, limit_c, now_ms))
        known = [each for each in found if each is not None and each.forecast.early_h is not None]
        return min(known, key=_left_h, default=None)

    def _while_cooling(
        self, conn: sqlite3.Connection, transition: Transition, limit_c: float | None, now_ms: int
    ) -> Ahead:
        readings = self._readings(conn, transition, transition.at_ms - WATCHED_MS, transition.at_ms)
        if limit_c is None:
            return Ahead(None, unknown("no lethal cold limit is stated"))
        age_ms = now_ms - readings[-1][0] if readings else LONGEST_AGE_MS
        found = self._known(conn, transition) if age_ms < LONGEST_AGE_MS else "the readings are old"
        if isinstance(found, str):
            return Ahead(limit_c, unknown(found))
        room, constant = found
        u_k = self._uncertainty_k(conn, transition, readings)
        reason = objection_to_cooling(readings, u_k, room, constant)
        forecast = unknown(reason) if reason else _to_limit(readings, u_k, limit_c, room, constant)
        return Ahead(limit_c, forecast, room, age_ms)

    def _if_heat_is_off(
        self, conn: sqlite3.Connection, transition: Transition, limit_c: float | None, now_ms: int
    ) -> Ahead | None:
        """From the last reading on, which was good: nobody has seen it cool, and nobody has seen that it does not."""
        readings = self._readings(conn, transition, transition.at_ms - LONGEST_AGE_MS, transition.at_ms)
        found = self._known(conn, transition)
        age_ms = now_ms - readings[-1][0] if readings else LONGEST_AGE_MS
        if limit_c is None or isinstance(found, str) or age_ms >= LONGEST_AGE_MS or readings[-1][1] <= limit_c:
            return None
        room, constant = found
        forecast = _to_limit(readings, self._uncertainty_k(conn, transition, readings), limit_c, room, constant)
        return Ahead(limit_c, forecast, room, age_ms, if_heat_is_off=True)

    def _known(self, conn: sqlite3.Connection, transition: Transition) -> tuple[RoomAir, TimeConstant] | str:
        """The room and the time constant at the time of the alarm, or what is missing."""
        incubator, at_ms = self._places.incubator_of(transition.place), transition.at_ms
        measured = self._room.readings(conn, calibrations.load(conn, self._site), at_ms, at_ms)
        room = room_at(measured, stated_of(incubator), at_ms)
        if room is None:
            return "the temperature of the room is neither measured nor stated"
        constant = cooling.time_constants(conn, at_ms).get(incubator.id)
        return "it has not been seen cooling often enough" if constant is None else (room, constant)

    def _readings(
        self, conn: sqlite3.Connection, transition: Transition, start_ms: int, end_ms: int
    ) -> list[tuple[int, float]]:
        channel = transition.subject
        corrections = calibrations.load(conn, self._site)
        return [
            (at_ms, corrections.corrected(channel, value, at_ms))
            for at_ms, value in samples.good_between(conn, channel, start_ms, end_ms, 0)
        ]

    def _uncertainty_k(
        self, conn: sqlite3.Connection, transition: Transition, readings: list[tuple[int, float]]
    ) -> float:
        at_ms, value = readings[-1]
        channel = transition.subject
        return calibrations.load(conn, self._site).standard_uncertainty(channel, value, at_ms)


def _left_h(ahead: Ahead) -> float:
    return (ahead.forecast.early_h or 0.0) - ahead.age_ms / _MS_PER_HOUR


def _to_limit(
    readings: list[tuple[int, float]], u_k: float, limit_c: float, room: RoomAir, constant: TimeConstant
) -> Forecast:
    return time_to_limit(Estimate(readings[-1][1], u_k), Estimate(limit_c, 0.0), room, constant)
