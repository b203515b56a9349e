"""Whether the clock of this machine may date what arrives: a board without a battery clock starts in the past.

It may not as long as it stands before the newest reading of the journal, or close behind it while the machine has
started a moment ago and no time service has set its clock yet. Both are waited for with an end: a machine that is never
told the time still has to call people, and a reading that was dated by a clock that was ahead must not hold up all
others for ever.
"""

import ctypes
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

from daemon.clock import Clock
from daemon.clock_steps import steady_beside
from daemon.storage import samples
from daemon.storage.journal import Journal

AHEAD_MS = 120_000
"""So far the clock of a probe may be ahead of this one, as `future_tolerance_s` has it usually."""
AFTER_BOOT_S = 300.0
LONGEST_WAIT_S = 600.0
"""Project choices. A time service answers within a minute where there is a network at all."""
SAVED_MS = 3_600_000
"""Boards without a clock commonly save the time once an hour, and start from what was saved."""
_TIME_ERROR = 5
"""What adjtimex(2) gives for a clock that is not synchronised."""
_LARGEST_TIMEX_BYTES = 512


class ClockTrust:
    """Asked by one thread. Once the clock is trusted it stays so: what is set later is noticed by `clock_steps`.

    `newest_ms`: the newest reading of the journal, UTC ms, 0 without one. `up_s`: seconds since the machine started.
    `is_synchronised` gives None where nobody can say.
    """

    def __init__(
        self,
        now_ms: Callable[[], int],
        newest_ms: int,
        up_s: Callable[[], float],
        is_synchronised: Callable[[], bool | None],
        boot: str = "",
    ) -> None:
        self._now_ms = now_ms
        self._newest_ms = newest_ms
        self._up_s = up_s
        self._is_synchronised = is_synchronised
        self._began_s = up_s()
        self._trusted = False
        self.boot = boot

    def doubt(self) -> str:
        """Why the clock is not trusted, as a part of a sentence; empty where it is."""
        if not self._trusted:
            found = self._doubt()
            self._trusted = not found
            return found
        return ""

    def has_waited_since(self, steady_ms: int) -> None:
        """Something waits since then, by the steady clock: a daemon that is started again and again waits no longer."""
        self._began_s = min(self._began_s, steady_ms / 1000)

    @property
    def steady_ms(self) -> int:
        """Time since the machine started, ms, by a clock that nobody can set."""
        return round(self._up_s() * 1000)

    def moment_of(self, steady_ms: int) -> int:
        """The moment, UTC ms, that was so long after the start of the machine."""
        return self._now_ms() - (self.steady_ms - steady_ms)

    def _doubt(self) -> str:
        up_s = self._up_s()
        if up_s - self._began_s >= LONGEST_WAIT_S:
            return ""
        # Where a time service has set it, it was the newest reading that was dated by a clock that was ahead.
        if self._now_ms() < self._newest_ms - AHEAD_MS and self._is_synchronised() is not True:
            return "the clock of this machine stands before the newest reading of the journal"
        # A clock that goes on from where it stood when the machine went off has missed the time in between.
        goes_on = self._now_ms() < self._newest_ms + round(up_s * 1000) + SAVED_MS
        if goes_on and up_s < AFTER_BOOT_S and self._is_synchronised() is False:
            return "the machine has just started, and no time service has set its clock yet"
        return ""


def trust_of(journal: Journal, clock: Clock) -> ClockTrust | None:
    """For the clock of this machine; None for a clock that is made of one that nobody can set. Raises JournalError."""
    steady_s = steady_beside(clock)
    if steady_s is None:
        return None
    with journal.read() as conn:
        newest_ms = max((each.measured_at_ms for each in samples.newest(conn).values()), default=0)
    return ClockTrust(clock.now_ms, newest_ms, steady_s, _is_synchronised, _boot())


def _boot() -> str:
    """A name for the time since the machine started: another one after each start."""
    with suppress(OSError):
        return Path("/proc/sys/kernel/random/boot_id").read_text(encoding="ascii").strip()
    return str(round((time.time() - time.monotonic()) / 10))


def _is_synchronised() -> bool | None:
    """Ask the kernel, which time services tell; None for a system that cannot be asked."""
    with suppress(OSError, AttributeError):
        nothing_to_set = ctypes.create_string_buffer(_LARGEST_TIMEX_BYTES)
        found = int(ctypes.CDLL(None, use_errno=True).adjtimex(nothing_to_set))
        return None if found < 0 else found != _TIME_ERROR
    return None
