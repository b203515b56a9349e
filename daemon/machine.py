"""Looks at the machine that watches, for alarms about the watch itself.

The disk is looked at in a thread of its own, because a disk that hangs holds up whoever asks it. All else is asked by
the evaluation and costs nothing.
"""

import logging
import os
import threading
import time
from collections import deque
from collections.abc import Callable
from pathlib import Path

from daemon.arrival import BrokerState
from daemon.clock import Clock
from daemon.clock_steps import ClockSteps, steady_beside
from daemon.standing.machine import (
    CLOCK_HOLD_MS,
    FILL_SPAN_S,
    ClockSet,
    DiskRoom,
    MachineFacts,
    fill_rate_bytes_per_h,
)

log = logging.getLogger("clutchwarden.machine")

DISK_EVERY_S = 60.0
DISK_OLD_S = 600.0
"""What was seen of a disk so long ago says nothing any more."""
STARTING_S = 30.0
"""A broker that has not answered yet is no news within this time after the start."""


class Machine:
    """The machine as the evaluation sees it. `facts` belongs to one thread."""

    def __init__(
        self,
        folder: Path,
        broker: Callable[[], BrokerState],
        clock: Clock,
        steady_s: Callable[[], float] | None = None,
        monotonic_s: Callable[[], float] = time.monotonic,
    ) -> None:
        self._folder = folder
        self._broker = broker
        self._clock = clock
        self._monotonic_s = monotonic_s
        self._steps = ClockSteps(steady_s or steady_beside(clock), clock.rate)
        self._sets: list[tuple[int, int, float]] = []
        self._began_s = monotonic_s()
        # Replaced as a whole by the thread that looks, so that nobody needs a lock.
        self._disk: tuple[float, DiskRoom] | None = None
        self._seen: deque[tuple[float, int]] = deque()
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, name="machine", daemon=True)

    def start(self) -> None:
        """Begin to look at the disk."""
        self._thread.start()

    def stop(self) -> None:
        """End. A disk that hangs is not waited for."""
        self._stopping.set()

    def _run(self) -> None:
        failed = False
        while True:
            try:
                self.look_at_disk()
                failed = False
            except Exception as error:  # noqa: BLE001 - an alarm that cannot be looked for is said once, and tried again
                if not failed:
                    log.warning("The room on the disk of the journal cannot be read: %s.", error)
                failed = True
            if self._stopping.wait(DISK_EVERY_S):
                return

    def look_at_disk(self) -> None:
        """Ask the disk how much room it has, as anybody but its administrator may use it. Raises OSError."""
        found = os.statvfs(self._folder)
        now_s, free_bytes = self._monotonic_s(), found.f_bavail * found.f_frsize
        self._seen.append((now_s, free_bytes))
        while self._seen[0][0] < now_s - FILL_SPAN_S:
            self._seen.popleft()
        rate = fill_rate_bytes_per_h(self._seen)
        self._disk = (now_s, DiskRoom(free_bytes, found.f_blocks * found.f_frsize, rate))

    @property
    def disk(self) -> DiskRoom | None:
        """What was seen of the disk; None where nothing is known, or nothing any more. May be asked from any thread."""
        seen = self._disk
        return seen[1] if seen is not None and self._monotonic_s() - seen[0] < DISK_OLD_S else None

    def facts(self) -> MachineFacts:
        """What is known at this moment. Reads no file and waits for nothing."""
        now_s, broker = self._monotonic_s(), self._broker()
        self._look_at_clock(now_s)
        up_s = now_s - self._began_s
        return MachineFacts(
            broker=broker,
            starting=not broker.ever and up_s < STARTING_S,
            up_ms=self._clock_ms(up_s),
            clock_sets=[ClockSet(by_ms, at_ms, self._clock_ms(now_s - at_s)) for by_ms, at_ms, at_s in self._sets],
            disk=self.disk,
        )

    def _look_at_clock(self, now_s: float) -> None:
        moment_ms, by_ms = self._steps.look(self._clock.now_ms)
        self._steps.keep()
        self._sets = [each for each in self._sets if self._clock_ms(now_s - each[2]) < CLOCK_HOLD_MS]
        if by_ms:
            self._sets.append((by_ms, moment_ms, now_s))
            log.warning("The clock of this machine was set by %+d s.", by_ms // 1000)

    def _clock_ms(self, seconds: float) -> int:
        """Real seconds as ms of the service's clock."""
        return round(seconds * 1000 * self._clock.rate)
