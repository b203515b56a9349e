"""What the last days say of a place: hours with water on its lid, whether that counts as wet, when it is too dry.

Figures over days are worked out again once an hour and place, and then only carried on by the readings that came since;
a page that asks every second costs a look-up.
"""

import sqlite3
import threading
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from statistics import median
from typing import NamedTuple
from zoneinfo import ZoneInfo

from daemon.climate.condensation_hours import KEPT_MS, CondensationHours, Hours, Paired, Point, paired
from daemon.climate.condensation_risk import lid_in, margin_of, water_settles
from daemon.climate.cooling import RoomAir
from daemon.climate.dry_out import DryOut, NoDryOut, dry_out, sentence
from daemon.climate.psychrometrics import SATURATED_PCT
from daemon.climate.room_air import ROOM_READING_COUNTS_MS, RoomReadings, room_at
from daemon.climate.uncertainty import Air, Estimate, Lid, probability_of_water
from daemon.overview import ClimateNow
from daemon.storage.recent import first_good_of_cells
from sensors.calibration import Calibrations

CELL_MS = 10 * 60_000
"""One reading in so long is enough: lids follow the room over hours."""
MOST_AT_ONCE = 2
"""So many places at the most are worked out anew for one page; the others keep their figures for a moment longer."""
_HOUR_MS = 3_600_000
_DAY_MS = 24 * _HOUR_MS
_LEAST_WEEK_H = 48.0
"""A mean day needs more hours with readings than this, or it says no more than the last day does."""


class Watched(NamedTuple):
    """A place with the channels of its air and its lid; `longest_gap_ms` is how old a reading may become there.

    The room around the lid is what `room_channel` measured at the time, else as it is stated.
    """

    place: str
    air: str
    humidity: str
    surface: str | None
    temperature_factor: float | None
    longest_gap_ms: int
    humidity_low_pct: float | None
    stated_room: RoomAir | None = None
    room_channel: str | None = None


@dataclass(frozen=True, slots=True)
class BoxClimate:
    """The last days of one place. Hours are None where no surface temperature is known in them.

    `was_wet`: water was on the lid at the newest reading that went in, or has not yet left the deadband since.
    `dry_out_text` is a sentence for people, empty where there is no trend to tell of.
    """

    last_day: Hours | None
    last_week: Hours | None
    was_wet: bool
    dry_out: DryOut | NoDryOut
    dry_out_text: str


def with_last_days(climate: ClimateNow, found: BoxClimate | None) -> ClimateNow:
    """Add to the climate of a place what its last days say."""
    if found is None:
        return climate
    day, week = found.last_day, found.last_week
    return replace(
        climate,
        condensation_hours_24h=day.expected_h if day and day.covered_h else None,
        hours_unread_24h=day.unknown_h if day and day.covered_h else None,
        condensation_hours_mean_day=_mean_day_h(week),
        stays_wet=climate.margin_k is not None and water_settles(climate.margin_k, found.was_wet),
        dry_out=found.dry_out_text,
        condensation_range_24h=(day.certain_h, day.possible_h) if day and day.covered_h else None,
    )


def _mean_day_h(week: Hours | None) -> float | None:
    return 24 * week.expected_h / week.covered_h if week and week.covered_h > _LEAST_WEEK_H else None


class BoxClimates:
    """Reads and keeps the last days of each place, for the clock of a site. Safe to use from any thread."""

    def __init__(self, zone: ZoneInfo) -> None:
        self._zone = zone
        self._lock = threading.Lock()
        self._kept: dict[str, _Kept] = {}

    def read(
        self,
        conn: sqlite3.Connection,
        places: Iterable[Watched],
        calibrations: Calibrations,
        calibrations_version: object,
        now_ms: int,
        came_late: Mapping[str, int] | None = None,
    ) -> dict[str, BoxClimate]:
        """Give the last days by place; a place whose turn has not come yet is left out until the next call.

        Those go first that have waited longest. Figures of more than an hour ago are no longer given.
        `came_late`: how often late readings came, by channel (`storage/late`).
        """
        hour = now_ms // _HOUR_MS
        with self._lock:
            came = came_late or {}
            keys = {each.place: _Key(hour, each, calibrations_version, _late_of(each, came)) for each in places}
            due = [place for place, key in keys.items() if place not in self._kept or self._kept[place].key != key]
            due.sort(key=lambda place: self._kept[place].key.hour if place in self._kept else -1)
            for place in due[:MOST_AT_ONCE]:
                self._kept[place] = _Kept(keys[place], conn, calibrations, now_ms, self._zone)
            for place, key in keys.items():
                if place in self._kept and self._kept[place].key == key:
                    self._kept[place].carry_on(conn, calibrations, now_ms)
            recent = (place for place in keys if place in self._kept and abs(hour - self._kept[place].key.hour) <= 1)
            return {place: self._kept[place].figures for place in recent}


class _Key(NamedTuple):
    """Figures stay the same, but for new readings, while all of this does."""

    hour: int
    watched: Watched
    calibrations_version: object
    late: tuple[int, ...]
    """how often late readings of its channels came: what they say of the past is not carried on but read"""


def _late_of(watched: Watched, came: Mapping[str, int]) -> tuple[int, ...]:
    channels = (watched.air, watched.humidity, watched.surface, watched.room_channel)
    return tuple(0 if channel is None else came.get(channel, 0) for channel in channels)


class _Kept:
    """The figures of one place, of one hour."""

    def __init__(
        self,
        key: _Key,
        conn: sqlite3.Connection,
        calibrations: Calibrations,
        now_ms: int,
        zone: ZoneInfo,
    ) -> None:
        self.key = key
        self._watched = watched = key.watched
        self._hours = CondensationHours(watched.longest_gap_ms + CELL_MS)
        self._was_wet = False
        self._next_ms = now_ms - KEPT_MS
        self._asked_ms = now_ms
        humidities = [
            (at_ms, calibrations.corrected(watched.humidity, value, at_ms))
            for at_ms, value in self._take(conn, calibrations, now_ms)
        ]
        dry = dry_out(hourly_medians(humidities), watched.humidity_low_pct, now_ms)
        self._advice = dry, sentence(dry, now_ms, zone) if isinstance(dry, DryOut) else ""
        self.figures = self._summed(now_ms)

    def carry_on(self, conn: sqlite3.Connection, calibrations: Calibrations, now_ms: int) -> None:
        """Take in what came since; once in a cell, also where nothing came."""
        if now_ms >= self._asked_ms + CELL_MS:
            self._asked_ms = now_ms
            self._take(conn, calibrations, now_ms)
            self.figures = self._summed(now_ms)

    def _summed(self, now_ms: int) -> BoxClimate:
        day = week = None
        if self._hours.last_ms is not None:
            day, week = (self._hours.between(now_ms - span_ms, now_ms) for span_ms in (_DAY_MS, KEPT_MS))
        return BoxClimate(day, week, self._was_wet, *self._advice)

    def _take(self, conn: sqlite3.Connection, calibrations: Calibrations, now_ms: int) -> list[Point]:
        """Read from where it left off, and give the humidities as the probe said them."""
        watched, start_ms = self._watched, self._next_ms

        def series(channel: str | None) -> list[Point]:
            return [] if channel is None else first_good_of_cells(conn, channel, start_ms, now_ms, CELL_MS)

        humidities = series(watched.humidity)
        measured = None if watched.temperature_factor is None else _room(conn, watched, calibrations, start_ms, now_ms)
        for pair in paired(series(watched.air), humidities, series(watched.surface), CELL_MS):
            room = room_at(measured, watched.stated_room, pair.at_ms)
            margin = _margin(watched, lid_in(room, watched.temperature_factor), pair, calibrations)
            if margin is not None:
                self._hours.add(pair.at_ms, probability_of_water(margin))
                self._was_wet = water_settles(margin.value, self._was_wet)
        if humidities:
            self._next_ms = humidities[-1][0] - humidities[-1][0] % CELL_MS + CELL_MS
        return humidities


def hourly_medians(points: Sequence[Point]) -> list[Point]:
    """Give the beginning of each hour with its median; an opened lid of less than half an hour is not seen in it."""
    by_hour: dict[int, list[float]] = defaultdict(list)
    for at_ms, value in points:
        by_hour[at_ms - at_ms % _HOUR_MS].append(value)
    return [(hour_ms, median(values)) for hour_ms, values in sorted(by_hour.items())]


def _room(
    conn: sqlite3.Connection, watched: Watched, calibrations: Calibrations, start_ms: int, end_ms: int
) -> RoomReadings | None:
    """Give one reading of the room in each cell, from so long before the start as one counts."""
    channel = watched.room_channel
    if channel is None:
        return None
    rows = first_good_of_cells(conn, channel, start_ms - ROOM_READING_COUNTS_MS, end_ms, CELL_MS)
    if not rows:
        return None
    corrected = [calibrations.corrected(channel, value, at_ms) for at_ms, value in rows]
    u_k = max(calibrations.standard_uncertainty(channel, value, at_ms) for at_ms, value in (rows[0], rows[-1]))
    return RoomReadings([at_ms for at_ms, _ in rows], corrected, u_k)


def _margin(watched: Watched, lid: Lid | None, pair: Paired, calibrations: Calibrations) -> Estimate | None:
    """Surface minus dew point; None where the surface is not known or a reading is none of air."""

    def known(channel: str, value: float) -> Estimate:
        at_ms = pair.at_ms
        sure = calibrations.standard_uncertainty(channel, value, at_ms)
        return Estimate(calibrations.corrected(channel, value, at_ms), sure)

    warm, damp = known(watched.air, pair.temperature_c), known(watched.humidity, pair.relative_humidity_pct)
    air = Air(warm.value, min(damp.value, SATURATED_PCT), warm.standard_uncertainty, damp.standard_uncertainty)
    surface = None
    if watched.surface is not None and pair.surface_c is not None:
        surface = known(watched.surface, pair.surface_c)
    try:
        return margin_of(air, surface, lid)
    except ValueError:
        return None
