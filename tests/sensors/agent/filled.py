"""What the tests of the spool do with one: fill it, settle it, and take the disk from it."""

import resource
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sensors.agent.plan import Bounds
from sensors.agent.spool import Settled, Spool
from tests.sensors.agent.boards import DAY_MS, sample

SMALL = Bounds(1_000_000, 30 * DAY_MS)


def fill(spool: Spool, numbers: range) -> None:
    """Many at a time, since each time waits for the disk."""
    for first in range(numbers.start, numbers.stop, 50):
        spool.append([sample(number) for number in range(first, min(first + 50, numbers.stop))])


def segments(folder: Path) -> list[Path]:
    return sorted(folder.glob("*.spool"))


def settle(spool: Spool, numbers: range) -> None:
    for number in numbers:
        spool.settle(number, Settled.SENT)


@contextmanager
def largest_file(size: int) -> Iterator[None]:
    """No file of this process may grow beyond so many bytes, as on a full disk."""
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
