"""How the air temperatures of the last day went: falling or rising fast, and limits that lie ahead.

A look costs about 30 steps through the index for each channel with eggs, and every 23 min twice that again for the day
before, however often its probe sends and however much history there is.
"""

import sqlite3
from collections.abc import Iterator, Mapping

from config.places import Places
from config.site import Site
from config.words import AlarmKind
from daemon.alarms.silence import window_ms
from daemon.climate.cooling import RoomAir, TimeConstant
from daemon.climate.room_air import RoomReadings, room_at
from daemon.room import Room, stated_of
from daemon.standing import fast_change
from daemon.standing.found import Found
from daemon.standing.limit_ahead import Unheated, limit_ahead
from daemon.standing.trend import Course, Watched
from daemon.standing_sources.air import AirChannel, air_channels, with_eggs
from daemon.standing_sources.source import Moment
from daemon.storage import cooling
from daemon.storage.recent import first_good_of_cells

AHEAD = frozenset({AlarmKind.LIMIT_AHEAD, AlarmKind.LETHAL_AHEAD})
RECENT_MS = 30 * 60_000
RECENT_CELL_MS = 60_000
BEFORE_MS = 24 * 3_600_000
BEFORE_CELL_MS = 23 * 60_000
"""Neither a part of an hour nor a multiple: it must not meet a thermostat always at the same moment of its swing."""


class Trends:
    """Looks at the channels of one site."""

    kinds = fast_change.KINDS | AHEAD
    every_ms = 30_000

    def __init__(self, site: Site) -> None:
        self._channels = air_channels(site)
        self._places = Places(site)
        self._room = Room(site)
        self._fahrenheit = site.temperature_unit == "F"
        self._before: dict[str, tuple[int, list[float]]] = {}
        self._learned: tuple[int, Mapping[str, TimeConstant]] = (-1, {})

    def found(self, moment: Moment) -> Iterator[Found]:
        """Everything that holds now of the channels with eggs."""
        constants = self._constants(moment.conn)
        measured = self._measured(moment) if constants else None
        for channel in with_eggs(self._channels, moment):
            name = channel.key.channel
            limits = moment.occupancy.limits(channel.place, moment.now_ms)
            watched = Watched(channel.key, channel.place, channel.interval_s, limits, self._fahrenheit)
            course = self._course(moment, channel)
            on = [kind for kind in fast_change.KINDS if moment.is_on(kind, name)]
            yield from fast_change.fast_changes(watched, course, on)
            unheated = self._unheated(moment, channel, course, constants, measured)
            is_ahead = next((kind for kind in sorted(AHEAD) if moment.is_on(kind, name)), None)
            ahead = limit_ahead(watched, course, unheated, on=is_ahead)
            if ahead is not None:
                yield ahead

    def _course(self, moment: Moment, channel: AirChannel) -> Course:
        """How a channel went.

        All of it is corrected by the calibration of now: one that begins in between would look like a change of the
        air.
        """
        name, now_ms = channel.key.channel, moment.now_ms
        recent = first_good_of_cells(moment.conn, name, now_ms - RECENT_MS, now_ms + 1, RECENT_CELL_MS)
        corrected = moment.air.calibrations.corrected
        # The newest reading that is read may lie a cell before the newest one that is stored.
        counts_ms = window_ms(channel.interval_s) + RECENT_CELL_MS
        return Course(
            [(at_ms, corrected(name, value, now_ms)) for at_ms, value in recent],
            [corrected(name, value, now_ms) for value in self._day_before(moment, name)],
            stale=not recent or now_ms - recent[-1][0] > counts_ms,
        )

    def _day_before(self, moment: Moment, name: str) -> list[float]:
        """The day before what is recent, as the probe said it; read again when a cell of it is over."""
        cell = (moment.now_ms - RECENT_MS) // BEFORE_CELL_MS
        if self._before.get(name, (-1,))[0] != cell:
            end_ms = cell * BEFORE_CELL_MS
            rows = first_good_of_cells(moment.conn, name, end_ms - BEFORE_MS, end_ms, BEFORE_CELL_MS)
            self._before[name] = (cell, [value for _, value in rows])
        return self._before[name][1]

    def _constants(self, conn: sqlite3.Connection) -> Mapping[str, TimeConstant]:
        """Time constants by incubator, read again when another cooling was seen."""
        count = cooling.count(conn)
        if count != self._learned[0]:
            self._learned = (count, cooling.time_constants(conn))
        return self._learned[1]

    def _measured(self, moment: Moment) -> RoomReadings | None:
        return self._room.readings(moment.conn, moment.air.calibrations, moment.now_ms, moment.now_ms)

    def _unheated(
        self,
        moment: Moment,
        channel: AirChannel,
        course: Course,
        constants: Mapping[str, TimeConstant],
        measured: RoomReadings | None,
    ) -> Unheated | None:
        incubator = self._places.incubator_of(channel.place)
        constant = constants.get(incubator.id)
        room: RoomAir | None = None if constant is None else room_at(measured, stated_of(incubator), moment.now_ms)
        if constant is None or room is None or not course.recent:
            return None
        name, newest_c = channel.key.channel, course.recent[-1][1]
        u_k = moment.air.calibrations.standard_uncertainty(name, newest_c, moment.now_ms)
        return Unheated(room, constant, u_k)
