"""The lid and the medium of a box over the last seven days, from roll-ups: hours with water, and when it is too dry.

As in `box_climate`, but from one value for each hour instead of one for ten minutes: a few milliseconds for a place,
for whoever asks about many places at once.
"""

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from daemon.box_climate import Watched, hourly_medians
from daemon.climate.condensation_hours import KEPT_MS, Hours, Point, condensation_hours, paired
from daemon.climate.condensation_risk import lid_in, margin_of, water_settles
from daemon.climate.dry_out import DryOut, NoDryOut, dry_out, sentence
from daemon.climate.psychrometrics import SATURATED_PCT
from daemon.climate.room_air import RoomReadings, room_at
from daemon.climate.uncertainty import Air, Estimate, probability_of_water
from daemon.series import series
from sensors.calibration import Calibrations

_CELL_MS, _HOUR_MS = 600_000, 3_600_000


@dataclass(frozen=True, slots=True)
class LidPast:
    """Hours with water on a lid, None where no surface temperature is known; whether it was wet in the end.

    `dry_out_text` is a sentence for people, empty where there is no trend to tell of.
    """

    hours: Hours | None
    is_wet: bool
    dry_out: DryOut | NoDryOut
    dry_out_text: str


def lid_past(
    conn: sqlite3.Connection,
    watched: Watched,
    calibrations: Calibrations,
    since_ms: int,
    until_ms: int,
    bridge_ms: int,
    zone: ZoneInfo,
) -> LidPast:
    """Look back seven days from a moment; hours with water are counted from `since_ms` on, UTC ms."""
    start_ms = until_ms - KEPT_MS

    def hours_of(channel: str | None) -> list[Point]:
        return [] if channel is None else _hourly(conn, channel, calibrations, start_ms, until_ms, bridge_ms)

    humidities = hours_of(watched.humidity)
    room = None
    if watched.temperature_factor is not None and watched.room_channel is not None:
        room = _room(hours_of(watched.room_channel), watched.room_channel, calibrations)
    chances, is_wet = [], False
    for pair in paired(hours_of(watched.air), humidities, hours_of(watched.surface), _CELL_MS):
        lid = lid_in(room_at(room, watched.stated_room, pair.at_ms), watched.temperature_factor)
        sure = [
            calibrations.standard_uncertainty(channel, value, pair.at_ms)
            for channel, value in ((watched.air, pair.temperature_c), (watched.humidity, pair.relative_humidity_pct))
        ]
        surface = None
        if watched.surface is not None and pair.surface_c is not None:
            surface_u = calibrations.standard_uncertainty(watched.surface, pair.surface_c, pair.at_ms)
            surface = Estimate(pair.surface_c, surface_u)
        try:
            air = Air(pair.temperature_c, min(pair.relative_humidity_pct, SATURATED_PCT), *sure)
            margin = margin_of(air, surface, lid)
        except ValueError:
            continue
        if margin is not None:
            chances.append((pair.at_ms + _HOUR_MS // 2, probability_of_water(margin)))
            is_wet = water_settles(margin.value, is_wet)
    hours = None
    if chances:
        hours = condensation_hours(chances, max(since_ms, start_ms), until_ms, max(bridge_ms, _CELL_MS) + _HOUR_MS)
    dry = dry_out(humidities, watched.humidity_low_pct, until_ms)
    return LidPast(hours, is_wet, dry, sentence(dry, until_ms, zone) if isinstance(dry, DryOut) else "")


def _hourly(
    conn: sqlite3.Connection, channel: str, calibrations: Calibrations, start_ms: int, until_ms: int, bridge_ms: int
) -> list[Point]:
    """Give the median of each hour of the means of ten minutes: an opened lid of less than half an hour is not seen."""
    pieces = calibrations.straight(channel, start_ms, until_ms - 1)
    found = series(conn, channel, start_ms, until_ms, (until_ms - start_ms) // _CELL_MS, pieces, bridge_ms).columns
    means: Sequence[float | None] = found.mean
    return hourly_medians(
        [(at_ms, mean) for at_ms, mean in zip(found.start_ms, means, strict=True) if mean is not None]
    )


def _room(points: Sequence[Point], channel: str, calibrations: Calibrations) -> RoomReadings | None:
    if not points:
        return None
    u_k = max(calibrations.standard_uncertainty(channel, value, at_ms) for at_ms, value in (points[0], points[-1]))
    return RoomReadings([at_ms for at_ms, _ in points], [value for _, value in points], u_k)
