"""The daemon as a process of its own with a clock that a test sets: what a night brings comes in seconds.

`python -m tests.support.clocked SITE_FOLDER CLOCK_FILE RATE` is `clutchwarden run` in everything but the clock.
"""

import logging
import signal
import sys
import threading
import time
from pathlib import Path

from daemon.commands.site_folder import read_site
from daemon.service import Service, Stated
from tests.support.household import House
from tests.support.processes import Service as Process


class SetClock:
    """The machine's clock, moved by what stands in a file (ms). Waits of the daemon are `rate` times as short."""

    def __init__(self, file: Path, rate: float = 1.0) -> None:
        self.rate = rate
        self._file = file

    def now_ms(self) -> int:
        """The present moment on this clock, UTC milliseconds since the epoch."""
        return time.time_ns() // 1_000_000 + int(self._file.read_text(encoding="ascii"))

    def set_to(self, moment_ms: int) -> None:
        """Set the clock to a moment, also of a daemon that runs."""
        new = self._file.with_suffix(".new")
        new.write_text(str(moment_ms - time.time_ns() // 1_000_000), encoding="ascii")
        new.replace(self._file)


class ClockedHouse(House):
    """A house whose daemon goes by a clock that the test sets."""

    def __init__(self, folder: Path, rate: float) -> None:
        super().__init__(folder)
        self.clock = SetClock(folder / "clock", rate)
        command = [sys.executable, "-m", "tests.support.clocked", str(folder), str(folder / "clock"), str(rate)]
        self.service = Process(command, folder / "daemon.log")


def main() -> None:
    """Run until told to end."""
    folder, clock, rate = Path(sys.argv[1]), Path(sys.argv[2]), float(sys.argv[3])
    logging.basicConfig(stream=sys.stderr, level=logging.INFO, format="%(levelname)s %(name)s: %(message)s")
    site = read_site(folder)
    service = Service(Stated(site.folder, site.site, site.settings, site.profiles), SetClock(clock, rate))
    ended = threading.Event()
    signal.signal(signal.SIGTERM, lambda *_: ended.set())
    service.start()
    ended.wait()
    service.stop()


if __name__ == "__main__":
    main()
