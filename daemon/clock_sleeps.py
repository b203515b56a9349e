"""Notices that the machine slept: one of its clocks stands still while it is suspended, and another one does not."""

import time
from collections.abc import Callable
from typing import NamedTuple

from daemon.clock import Clock, SystemClock
from daemon.storage.sleeps import Slept

SHORTEST_MS = 30_000
"""Less is no reason to tell anybody: no probe is missed by it. Project choice."""


class Clocks(NamedTuple):
    """Seconds since the machine started: all of them, and those in which it was awake."""

    all_s: float
    awake_s: float


class Sleeps:
    """Compares the two clocks from look to look. Not to be used by two threads."""

    def __init__(self, clocks: Callable[[], Clocks]) -> None:
        self._clocks = clocks
        self._seen = self._kept = clocks()

    def look(self, now_ms: Callable[[], int]) -> Slept | None:
        """Tell whether the machine slept since the look that was kept last.

        A look that is not kept is made again: what followed from it may not have been stored.
        """
        self._seen, until_ms = self._clocks(), now_ms()
        passed_s = self._seen.all_s - self._kept.all_s
        slept_ms = round((passed_s - (self._seen.awake_s - self._kept.awake_s)) * 1000)
        # By the clock as it stands now: it may have been set when the machine woke up.
        return Slept(until_ms - round(passed_s * 1000), until_ms, slept_ms) if slept_ms >= SHORTEST_MS else None

    def keep(self) -> None:
        """Compare with this look from now on."""
        self._kept = self._seen


def sleeps_beside(clock: Clock) -> Sleeps | None:
    """For the machine's own clock, where the system has both clocks; None otherwise."""
    known = hasattr(time, "CLOCK_BOOTTIME") and hasattr(time, "CLOCK_MONOTONIC")
    return Sleeps(_of_machine) if known and isinstance(clock, SystemClock) else None


def _of_machine() -> Clocks:
    return Clocks(time.clock_gettime(time.CLOCK_BOOTTIME), time.clock_gettime(time.CLOCK_MONOTONIC))
