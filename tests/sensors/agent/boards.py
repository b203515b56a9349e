"""A board of the test's own: clocks that the test moves, a thermometer in a tree of files, and the agent's file."""

import threading
from collections.abc import Callable
from pathlib import Path

from sensors.agent.lines import Line
from sensors.agent.plan import Bounds
from sensors.agent.spool import Sample, Spool
from tests.support.sysfs import FRAME_25_C, Sysfs, w1_slave

DEVICE = "28-0316a2795bff"
BOOT = "5f0c11d2"
START_MS = 1_780_000_000_000
"""2026-05-28T20:26:40Z, the true moment at which the board starts."""
EPOCH_MS = 0
DAY_MS = 86_400_000
ROOMY = Bounds(64_000_000, 30 * DAY_MS)
TEXT = '{"t":[28.4,"Cel"]}'


class TestClocks:
    """Clocks that stand still until the test moves them. `wrong_ms`: how far the wall clock is off."""

    __test__ = False

    def __init__(self, boot: str = BOOT, start_ms: int = START_MS, *, synchronised: bool = True) -> None:
        self.boot = boot
        self.start_ms = start_ms
        self.at_ms = 0
        self.wrong_ms = 0
        self.is_synchronised = synchronised

    def steady_ms(self) -> int:
        return self.at_ms

    def wall_ms(self) -> int:
        return self.start_ms + self.at_ms + self.wrong_ms

    def synchronised(self) -> bool:
        return self.is_synchronised

    def wait(self, stop: threading.Event, until_ms: int) -> bool:
        self.at_ms = max(self.at_ms, until_ms)
        return stop.is_set()


def young(_line: Line) -> int | None:
    """For a spool whose days are not the matter."""
    return 0


opened: list[Spool] = []
"""Spools that nobody closes, as after a kill; the tests let their files go in the end."""


def spool_in(
    folder: Path, bounds: Bounds = ROOMY, boot: str = BOOT, age_ms: Callable[[Line], int | None] = young
) -> Spool:
    """A spool in a folder, opened as after a start."""
    spool = Spool(folder, bounds, boot, age_ms)
    opened.append(spool)
    return spool


def sample(number: int, moment_ms: int | None = None) -> Sample:
    """One that says its own number, a minute after the one before."""
    return Sample(number * 60_000, moment_ms, f'{{"t":[{number}.0,"Cel"]}}')


def drained(spool: Spool) -> list[int]:
    """The numbers of all that waits."""
    numbers: list[int] = []
    after = spool.acknowledged
    while (line := spool.next(after)) is not None:
        numbers.append(line.number)
        after = line.number
    return numbers


def board(folder: Path, port: int, *, interval_s: float = 60.0, more: str = "", clock: str = "own") -> Path:
    """Write the agent's file for one thermometer; its tree of files stands in `sys` beside it."""
    Sysfs(folder / "sys").one_wire(DEVICE, {"w1_slave": w1_slave(FRAME_25_C, 25_062)})
    file = folder / "probe.toml"
    file.write_text(
        f"""\
sysfs = "{folder / "sys"}"
[broker]
host = "127.0.0.1"
port = {port}
[clock]
source = "{clock}"
{more}
[[probe]]
id = "north-air"
interval_s = {interval_s}
[[probe.channel]]
name = "t"
kind = "1-wire"
device = "{DEVICE}"
""",
        encoding="utf-8",
    )
    return file
