"""The agent as a process on a clock that runs fast: `python -m tests.support.fast_agent FILE RATE ORIGIN_MS`.

`ORIGIN_MS` is the moment of the machine's own steady clock at which the board started, so that a process that begins
again goes on in the same start of the board.
"""

import logging
import signal
import sys
import threading
import time
from pathlib import Path

from sensors.agent.process import Agent
from sensors.agent.stated import load_plan
from tests.sensors.agent.boards import BOOT, START_MS


class FastClocks:
    """Right from the beginning, `rate` times as fast as the machine's."""

    boot = BOOT

    def __init__(self, rate: float, origin_ms: int) -> None:
        self._rate, self._origin_ms = rate, origin_ms

    def steady_ms(self) -> int:
        return round((time.monotonic() * 1000 - self._origin_ms) * self._rate)

    def wall_ms(self) -> int:
        return START_MS + self.steady_ms()

    def synchronised(self) -> bool:
        return True

    def wait(self, stop: threading.Event, until_ms: int) -> bool:
        while not stop.is_set() and (early_ms := until_ms - self.steady_ms()) > 0:
            stop.wait(early_ms / 1000 / self._rate)
        return stop.is_set()


def main(file: str, rate: str, origin_ms: str) -> None:
    """Run until told to end."""
    logging.basicConfig(stream=sys.stderr, level=logging.INFO)
    agent = Agent(load_plan(Path(file)), FastClocks(float(rate), int(origin_ms)), (0.02, 0.1))
    signal.signal(signal.SIGTERM, lambda *_: agent.stop())
    agent.run()


if __name__ == "__main__":
    main(*sys.argv[1:])
