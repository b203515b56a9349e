"""How fast the agent keeps what it measures, beside a bare append and fsync of the same batches, and what it costs."""

import os
import sys
import tempfile
import time
from pathlib import Path
from typing import NamedTuple

from sensors.agent.lines import Line, encode
from sensors.agent.plan import Bounds
from sensors.agent.spool import Sample, Settled, Spool

SAMPLES = 20_000
BATCH = 100
ROUNDS = 3
GOAL_PER_S = 2_000
_ROOMY = Bounds(64_000_000, 30 * 86_400_000)
_START_MS = 1_780_000_000_000
_BOOT = "5f0c11d2aabbccdd"


class SpoolCost(NamedTuple):
    """Samples per second of wall time through the spool and bare, and of processor time; best of all rounds."""

    per_s: float
    bare_per_s: float
    per_processor_s: float
    taken_out_per_s: float
    load: float

    @property
    def ratio(self) -> float:
        """What the spool reaches of a bare append."""
        return self.per_s / self.bare_per_s


def samples() -> list[Sample]:
    """Two values each, as a probe for temperature and humidity has them."""
    return [
        Sample(at, _START_MS + at, f'{{"t":[{28 + at % 97 / 100:.3f},"Cel"],"rh":[{80 + at % 13 / 10:.1f},"%RH"]}}')
        for at in range(1, SAMPLES + 1)
    ]


def spool_cost() -> SpoolCost:
    """Measure both ways turn by turn, each in a new folder."""
    work = [samples()[first : first + BATCH] for first in range(0, SAMPLES, BATCH)]
    through, bare, processor, out = [], [], [], []
    with tempfile.TemporaryDirectory() as name:
        for turn in range(ROUNDS):
            bare.append(_bare_s(Path(name) / f"bare-{turn}", work))
            began_s, busy_s = time.perf_counter(), time.process_time()
            spool = Spool(Path(name) / f"spool-{turn}", _ROOMY, _BOOT, lambda _line: 0)
            for batch in work:
                spool.append(batch)
            through.append(time.perf_counter() - began_s)
            processor.append(time.process_time() - busy_s)
            out.append(_taken_out_s(spool))
            spool.close()
    best = [SAMPLES / min(each) for each in (through, bare, processor, out)]
    return SpoolCost(best[0], best[1], best[2], best[3], os.getloadavg()[0])


def _bare_s(path: Path, work: list[list[Sample]]) -> float:
    number, batches = 0, []
    for batch in work:
        lines = [encode(Line(number + at, _BOOT, *sample)) for at, sample in enumerate(batch, start=1)]
        batches.append(b"".join(lines))
        number += len(batch)
    opened = os.open(path, os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o644)
    began_s = time.perf_counter()
    for data in batches:
        os.write(opened, data)
        os.fsync(opened)
    took_s = time.perf_counter() - began_s
    os.close(opened)
    return took_s


def _taken_out_s(spool: Spool) -> float:
    """Processor time to read all of it back and settle it, as sending does."""
    began_s = time.process_time()
    number = 0
    while (line := spool.next(number)) is not None:
        number = line.number
        spool.settle(number, Settled.SENT)
    if spool.waiting:
        raise AssertionError(f"{spool.waiting} samples did not come out")
    return time.process_time() - began_s


def line_of(cost: SpoolCost) -> str:
    """Tell it."""
    return (
        f"agent's spool: {cost.per_s:,.0f} samples/s in batches of {BATCH} (goal at least {GOAL_PER_S:,}), "
        f"{cost.ratio:.2f} of a bare append and fsync; {cost.per_processor_s:,.0f} per s of processor time, "
        f"and {cost.taken_out_per_s:,.0f} out again; load of this machine {cost.load:.1f}"
    )


def main() -> None:
    """Print it."""
    sys.stdout.write(line_of(spool_cost()) + "\n")


if __name__ == "__main__":
    main()
