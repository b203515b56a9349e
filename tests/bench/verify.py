"""What looking through a journal costs: verify beside its limits, a bare SELECT and a bare SHA-256 of the same bytes.

All in processor time of this process, so that a busy machine changes little.
"""

import hashlib
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import NamedTuple

from daemon.chain_rules import DAY_MS
from daemon.day_digests import DayDigests
from daemon.storage.connections import open_reader
from daemon.storage.journal import Journal
from daemon.verify import verify
from tests.bench import big_site

_READING_BYTES = 40
_BLOCK = 1000


class VerifyCost(NamedTuple):
    """Seconds of processor time: making all digests, verifying, and the two limits; and what there was to verify."""

    digests_s: float
    verify_s: float
    select_s: float
    hash_s: float
    readings: int
    events: int


def verify_cost(folder: Path) -> VerifyCost:
    """Measure on a site that was made before."""
    path = folder / "journal.sqlite3"
    with Journal.open(path) as journal:
        now_ms = big_site.newest_ms(journal) + 2 * DAY_MS
        digests_s = _processor_s(DayDigests(journal, lambda: now_ms).run)
    began = time.process_time()
    found = verify(path)
    verify_s = time.process_time() - began
    if found.faults:
        raise SystemExit(f"the bench journal is not as it was written: {found.faults[0]}")
    return VerifyCost(
        digests_s,
        verify_s,
        _processor_s(lambda: _select(path)),
        _processor_s(lambda: _hash(found.readings)),
        found.readings,
        found.events,
    )


def line_of(cost: VerifyCost) -> str:
    """Tell it."""
    return (
        f"verify of {cost.readings:,} readings and {cost.events:,} events: {cost.verify_s:.1f} s of processor time "
        f"(goal at most 10 for a season); bare SELECT {cost.select_s:.1f} s, bare SHA-256 {cost.hash_s:.2f} s: "
        f"{cost.verify_s / (cost.select_s + cost.hash_s):.2f} times both; making all digests {cost.digests_s:.1f} s"
    )


def _processor_s(work: Callable[[], object]) -> float:
    began = time.process_time()
    work()
    return time.process_time() - began


def _select(path: Path) -> None:
    with closing(open_reader(path, 5)) as conn:
        rows = conn.execute(
            "SELECT channel_id, measured_at_ms, received_at_ms, value, quality FROM sample ORDER BY seq"
        )
        while rows.fetchmany(_BLOCK):
            pass


def _hash(readings: int) -> None:
    hashed, block = hashlib.sha256(), bytes(_READING_BYTES * _BLOCK)
    for _ in range(readings // _BLOCK):
        hashed.update(block)
    hashed.hexdigest()
