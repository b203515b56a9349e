"""What is wrong with the machine that watches: its broker, its clock, its disk. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import tzinfo
from itertools import pairwise

from config.words import AlarmKind
from daemon.alarms.figures import clock_text, duration_text
from daemon.arrival import BrokerState
from daemon.standing.found import Found

CLOCK_HOLD_MS = 15 * 60_000
"""So long after the clock was set the alarm is on: by then somebody was called. Project choice."""

LEAST_FREE_BYTES = 1_000_000_000
LEAST_FREE_SHARE = 0.05
"""The disk is nearly full below the smaller of the two: 1 GB is days of readings on a large disk, and on a memory card
of 8 GB it would be told all the time. Project choice."""

SOON_FULL_H = 72.0
"""At the rate of the last hours; over a weekend nobody may look. Project choice."""

DISK_DEADBAND = 1.25
"""Room and time have to be larger than the limit by this factor before the alarm is over. Project choice."""

FILL_SPAN_S = 6 * 3600.0
SHORTEST_FILL_SPAN_S = 3600.0
_PARTS = 3
_HOUR_S = 3600.0
_HOUR_MS = 3_600_000
_MEGABYTE, _GIGABYTE = 1_000_000, 1_000_000_000


@dataclass(frozen=True, slots=True)
class ClockSet:
    """The clock was set by `by_ms` (negative: back), and then showed `at_ms`; `ago_ms` have passed since then."""

    by_ms: int
    at_ms: int
    ago_ms: int


@dataclass(frozen=True, slots=True)
class DiskRoom:
    """Room on the disk of the journal. The rate is that at which it fills; None where it is not known yet."""

    free_bytes: int
    total_bytes: int
    fills_bytes_per_h: float | None = None


@dataclass(frozen=True, slots=True)
class MachineFacts:
    """What the machine looks like at one moment.

    `up_ms` is how long the daemon runs. `starting`: too short to say anything of a broker that never answered yet.
    `disk` is None where nothing is known of it, or nothing any more.
    """

    broker: BrokerState
    starting: bool
    up_ms: int
    clock_sets: Sequence[ClockSet] = ()
    disk: DiskRoom | None = None


def broker_lost(broker: BrokerState, *, starting: bool) -> Found | None:
    """A broker that is not connected. While the daemon starts that is no news, and nothing that was on is over."""
    if broker.connected:
        return None
    reason = broker.detail.rstrip(". ") or "not connected"
    return Found(AlarmKind.BROKER_LOST, "broker", reason, since_ms=broker.since_ms, known=not starting)


def clock_stepped(clock_sets: Sequence[ClockSet], up_ms: int, now_ms: int, zone: tzinfo, *, on: bool) -> Found | None:
    """A clock that was set within the last minutes; of several times the largest is told.

    After a restart nobody knows of what was before, so an alarm that is on stays on for as long as it could have.
    """
    fresh = [each for each in clock_sets if each.ago_ms < CLOCK_HOLD_MS]
    if not fresh:
        unknown = Found(AlarmKind.CLOCK_STEPPED, "clock", "the daemon was started since then", known=False)
        return unknown if on and up_ms < CLOCK_HOLD_MS else None
    largest = max(fresh, key=lambda each: abs(each.by_ms))
    direction = "back" if largest.by_ms < 0 else "forward"
    times = f", the largest of {len(fresh)} times" if len(fresh) > 1 else ""
    reason = (
        f"clock moved {direction} by {duration_text(abs(largest.by_ms))} "
        f"at {clock_text(largest.at_ms, now_ms, zone)}{times}"
    )
    return Found(AlarmKind.CLOCK_STEPPED, "clock", reason)


def disk_low(disk: DiskRoom | None, *, on: bool) -> Found | None:
    """A disk with little room, or one that is full within days as things go."""
    unknown = Found(AlarmKind.DISK_LOW, "disk", "the disk does not say how much room it has", known=False)
    if disk is None or disk.total_bytes <= 0:
        return unknown if on else None
    factor = DISK_DEADBAND if on else 1.0
    room = f"{bytes_text(disk.free_bytes)} of {bytes_text(disk.total_bytes)} are free"
    rate = disk.fills_bytes_per_h
    hours = disk.free_bytes / rate if rate else None
    soon = hours is not None and hours < SOON_FULL_H * factor
    if soon and rate and hours is not None:
        room = f"{room}; at {bytes_text(rate)} an hour it is full in {duration_text(int(hours * _HOUR_MS))}"
    if soon or disk.free_bytes < least_free_bytes(disk.total_bytes) * factor:
        return Found(AlarmKind.DISK_LOW, "disk", room)
    return unknown if on and rate is None else None


def least_free_bytes(total_bytes: int) -> float:
    """Below this a disk of this size is nearly full."""
    return min(LEAST_FREE_BYTES, LEAST_FREE_SHARE * total_bytes)


def fill_rate_bytes_per_h(seen: Sequence[tuple[float, int]]) -> float | None:
    """How fast a disk fills by (second, free bytes) pairs in order of time; 0 where it does not, None where too short.

    The slowest of three equal stretches counts: a disk that fills does so all the time, and one large file that
    somebody stored is no trend.
    """
    if not seen or seen[-1][0] - seen[0][0] < SHORTEST_FILL_SPAN_S:
        return None
    first_s, last_s = seen[0][0], seen[-1][0]
    corners = [_nearest(seen, first_s + part * (last_s - first_s) / _PARTS) for part in range(_PARTS + 1)]
    rates = [
        (before - after) / (after_s - before_s) * _HOUR_S
        for (before_s, before), (after_s, after) in pairwise(corners)
        if after_s > before_s
    ]
    return max(0.0, min(rates)) if len(rates) == _PARTS else None


def _nearest(seen: Sequence[tuple[float, int]], at_s: float) -> tuple[float, int]:
    return min(seen, key=lambda pair: abs(pair[0] - at_s))


def bytes_text(size: float) -> str:
    """Write an amount of storage: `412 MB`, `1.3 GB`."""
    if size >= _GIGABYTE:
        return f"{size / _GIGABYTE:.1f} GB"
    return f"{size / _MEGABYTE:.0f} MB" if size >= _MEGABYTE else f"{size / 1000:.0f} kB"
