"""Reads from the journal how warm it was where a clutch lay, for as long as its exposure limits look back."""

import sqlite3
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from config.species import ExposureLimit
from daemon.clutches.register import Clutch
from daemon.occupancy import stays
from daemon.storage.recent import first_of_cells
from daemon.thermometers import AirChannels

CELL_MS = 10 * 60_000
"""The beginning of a course is rounded down to this, so that what is worked out of it holds for a while."""
READ_EVERY_MS = 60_000
"""One reading a minute is enough for hours of exposure. Project choice."""
_HOUR_MS = 3_600_000


class Stretch(NamedTuple):
    """Where a clutch lay from one moment until before another, by the channel that speaks for it; None for none."""

    channel: str | None
    from_ms: int
    end_ms: int


def stretches_of(
    clutch: Clutch, limits: Sequence[ExposureLimit], air: AirChannels, bridge_ms: int, now_ms: int
) -> Iterator[Stretch]:
    """Where it lay as long as its longest limit looks back, and a bridge more, so that no first minute is open."""
    longest_h = max(limit.within_h for limit in limits)
    oldest_ms = now_ms - now_ms % CELL_MS - longest_h * _HOUR_MS - bridge_ms
    for stay, end_ms in stays(clutch):
        if end_ms > oldest_ms and stay.from_ms <= now_ms:
            channel = next(iter(air.channels_for.get(stay.place, ())), None)
            yield Stretch(channel, max(stay.from_ms, oldest_ms), end_ms)


def course_of(
    conn: sqlite3.Connection, lay: Sequence[Stretch], air: AirChannels, now_ms: int
) -> list[tuple[int, float | None]]:
    """Give (measured_at_ms, temperature_c), calibrated and in order of time; None for what is not known."""
    course: list[tuple[int, float | None]] = []
    for channel, from_ms, end_ms in lay:
        # Nothing is known from then on until the first reading there.
        course.append((from_ms, None))
        if channel is None:
            continue
        rows = first_of_cells(conn, channel, from_ms, min(end_ms, now_ms + 1), READ_EVERY_MS)
        good = dict(air.corrected(channel, [(at_ms, value) for at_ms, value, quality in rows if quality == 0]))
        course += [(at_ms, good.get(at_ms)) for at_ms, _, _ in rows]
    return course
