"""The room around an incubator: what a probe measured where it did, else what the keeper stated, else nothing."""

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean

from daemon.climate.cooling import RoomAir

ROOM_READING_COUNTS_MS = 30 * 60_000
"""A room changes slowly: so long a reading of it counts before and after its time. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class RoomReadings:
    """Good, corrected readings of the room in order of time (UTC ms, degree Celsius), and their uncertainty (k = 1)."""

    times_ms: Sequence[int]
    temperatures_c: Sequence[float]
    u_k: float


@dataclass(frozen=True, slots=True)
class RoomMeanwhile:
    """The room over a stretch of time, and how far it was from that at each moment of it; empty where not measured."""

    air: RoomAir
    swing_k: Sequence[float]


def stated_room(temperature_c: float | None, u_k: float) -> RoomAir | None:
    """Give the room as the keeper stated it; None where nothing is stated."""
    return None if temperature_c is None else RoomAir(temperature_c, u_k, measured=False)


def room_at(measured: RoomReadings | None, stated: RoomAir | None, at_ms: int) -> RoomAir | None:
    """Give the room at a moment, by the newest reading up to then if it is fresh enough; None where nobody knows."""
    if measured is None:
        return stated
    newest = bisect_right(measured.times_ms, at_ms) - 1
    if newest < 0 or at_ms - measured.times_ms[newest] > ROOM_READING_COUNTS_MS:
        return stated
    return RoomAir(measured.temperatures_c[newest], measured.u_k, measured=True)


def room_meanwhile(
    measured: RoomReadings | None, stated: RoomAir | None, times_ms: Sequence[int]
) -> RoomMeanwhile | None:
    """Give the room over these moments, which rise; None where nobody knows.

    A measurement counts only where none of the moments is far from a reading; a straight line lies between two.
    """
    if measured is not None and times_ms and all(_is_near(measured.times_ms, at_ms) for at_ms in times_ms):
        import numpy as np

        course = np.interp(times_ms, measured.times_ms, measured.temperatures_c).tolist()
        mean_c = fmean(course)
        return RoomMeanwhile(RoomAir(mean_c, measured.u_k, measured=True), [each - mean_c for each in course])
    return None if stated is None else RoomMeanwhile(stated, ())


def _is_near(readings_ms: Sequence[int], at_ms: int) -> bool:
    after = bisect_left(readings_ms, at_ms)
    around = readings_ms[max(after - 1, 0) : after + 1]
    return any(abs(each - at_ms) <= ROOM_READING_COUNTS_MS for each in around)
