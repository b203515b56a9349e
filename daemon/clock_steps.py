"""Notices that somebody set the clock, by a second clock that nobody can set."""

import time
from collections.abc import Callable

from daemon.clock import Clock, SystemClock

STEP_MS = 60_000
"""From here on a clock was set; less than that is a time service that does its work."""
_TOGETHER_S = 0.02
_TRIES = 5


class ClockSteps:
    """Compares a clock with one that nobody can set, from look to look. Not to be used by two threads.

    `steady_s` gives seconds since any moment; `rate` is that of the clock that is looked at. Without `steady_s` only a
    clock that goes back can be told from time that has passed.
    """

    def __init__(self, steady_s: Callable[[], float] | None = None, rate: float = 1.0) -> None:
        self._steady_s = steady_s
        self._rate = rate
        self._seen: tuple[int, float] | None = None
        self._kept: tuple[int, float] | None = None

    def look(self, now_ms: Callable[[], int]) -> tuple[int, int]:
        """Give the present moment, and by how much the clock was set since the look that was kept last; 0: not at all.

        A look that is not kept is made again: what followed from it may not have been stored.
        """
        moment_ms, steady_s = self._seen = self._read(now_ms)
        if self._kept is None:
            return moment_ms, 0
        before_ms, before_s = self._kept
        by_ms = moment_ms - before_ms
        if self._steady_s is None:
            return moment_ms, min(by_ms, 0) if by_ms <= -STEP_MS else 0
        by_ms -= round((steady_s - before_s) * 1000 * self._rate)
        return moment_ms, by_ms if abs(by_ms) >= STEP_MS else 0

    def keep(self) -> None:
        """Compare with this look from now on."""
        self._kept = self._seen

    def _read(self, now_ms: Callable[[], int]) -> tuple[int, float]:
        """Read both clocks so close together that no pause of this thread looks like a clock that was set."""
        if self._steady_s is None:
            return now_ms(), 0.0
        for _ in range(_TRIES):
            before_s, moment_ms, after_s = self._steady_s(), now_ms(), self._steady_s()
            if after_s - before_s < _TOGETHER_S:
                break
        return moment_ms, (before_s + after_s) / 2


def steady_beside(clock: Clock) -> Callable[[], float] | None:
    """A clock that nobody can set, to compare this one with; None for a clock that is made of such a one itself."""
    return _steady_s if isinstance(clock, SystemClock) else None


def _steady_s() -> float:
    """Seconds that have really passed; also while the machine slept, where it can tell that."""
    boot_time = getattr(time, "CLOCK_BOOTTIME", None)
    return time.monotonic() if boot_time is None else time.clock_gettime(boot_time)
