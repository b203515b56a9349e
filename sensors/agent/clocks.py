"""The clocks of the board: one that people and time services set, and one that nobody can."""

import ctypes
import threading
import time
from contextlib import suppress
from pathlib import Path
from typing import Protocol

_TIME_ERROR = 5
"""What adjtimex(2) gives for a clock that no time service keeps."""
_LARGEST_TIMEX_BYTES = 512
_TOGETHER_MS = 20
_TRIES = 5
_LONGEST_WAIT_S = 3600.0


class Clocks(Protocol):
    """Where the agent's times come from."""

    boot: str
    """a name for this start of the board, of small letters and digits"""

    def steady_ms(self) -> int:
        """Milliseconds since the board started."""

    def wall_ms(self) -> int:
        """UTC milliseconds since the epoch, as the board's clock has it."""

    def synchronised(self) -> bool:
        """True while the kernel says that a time service keeps the clock."""

    def wait(self, stop: threading.Event, until_ms: int) -> bool:
        """Wait for a time of the steady clock; True where `stop` was set meanwhile."""


class SystemClocks:
    """The clocks of this machine."""

    def __init__(self) -> None:
        self.boot = _boot()

    def steady_ms(self) -> int:
        """Milliseconds since the start, with the time that the board slept."""
        return time.clock_gettime_ns(getattr(time, "CLOCK_BOOTTIME", time.CLOCK_MONOTONIC)) // 1_000_000

    def wall_ms(self) -> int:
        """UTC milliseconds since the epoch."""
        return time.time_ns() // 1_000_000

    def synchronised(self) -> bool:
        """Ask the kernel; what cannot be asked says no."""
        try:
            state = ctypes.CDLL(None, use_errno=True).adjtimex(ctypes.create_string_buffer(_LARGEST_TIMEX_BYTES))
        except (OSError, AttributeError):
            return False
        return bool(0 <= state < _TIME_ERROR)

    def wait(self, stop: threading.Event, until_ms: int) -> bool:
        """Wait for a time of the steady clock."""
        while not stop.is_set() and (early_ms := until_ms - self.steady_ms()) > 0:
            stop.wait(min(early_ms / 1000, _LONGEST_WAIT_S))
        return stop.is_set()


def together(clocks: Clocks) -> tuple[int, int]:
    """Read both clocks so close together that no pause of this thread looks like a clock that was set."""
    for _ in range(_TRIES):
        before_ms, wall_ms, after_ms = clocks.steady_ms(), clocks.wall_ms(), clocks.steady_ms()
        if after_ms - before_ms < _TOGETHER_MS:
            break
    return (before_ms + after_ms) // 2, wall_ms


def _boot() -> str:
    with suppress(OSError):
        name = Path("/proc/sys/kernel/random/boot_id").read_text(encoding="ascii").strip()
        return name.replace("-", "")
    return f"{round((time.time() - time.monotonic()) / 10):x}"
