"""Floods of alarms in counts by ten minutes, as ISA-18.2-2016, 16.4.4, defines them. Pure. UTC ms."""

from collections.abc import Mapping
from dataclasses import dataclass

from daemon.alarms.classes import MINUTE_MS

BIN_MS = 10 * MINUTE_MS
PLANT_FLOOD = (10, 5)
OWN_FLOOD = (3, 1)
"""a flood begins above the first count in ten minutes and ends below the second"""


@dataclass(frozen=True, slots=True)
class Flood:
    """A flood: `count` annunciations in all, `peak` in its worst ten minutes."""

    start_ms: int
    end_ms: int
    count: int
    peak: int


def floods(bins: Mapping[int, int], above: int, below: int) -> tuple[Flood, ...]:
    """Find floods in counts by ten-minute bin: begun by a bin above the one figure, ended by one below the other."""
    found: list[Flood] = []
    running: list[int] = []
    start_ms = 0
    for moment_ms in _every_bin(bins):
        count = bins.get(moment_ms, 0)
        if not running and count > above:
            start_ms = moment_ms
        if running or count > above:
            if count < below:
                found.append(Flood(start_ms, moment_ms, sum(running), max(running)))
                running = []
            else:
                running.append(count)
    return tuple(found)


def _every_bin(bins: Mapping[int, int]) -> range:
    """All bins from the first to the one after the last, which is empty and so ends a flood."""
    return range(min(bins, default=0), max(bins, default=0) + 2 * BIN_MS, BIN_MS)
