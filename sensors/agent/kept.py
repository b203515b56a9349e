"""The two small files that the agent keeps: how far the broker is, and how the clocks stand.

Each is written beside the old one and put in its place, so that one of the two is whole after a power cut. One that
cannot be understood counts as none: what it says is only what would otherwise be done a second time.
"""

import contextlib
import json
import logging
import os
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any, NamedTuple

from sensors.agent.timekeeper import Offset

log = logging.getLogger("clutchwarden.probe")

_SPOOL, _CLOCK = "spool.json", "clock.json"
_LARGEST_BYTES = 65_536
_MOST_RANGES = 100


class Kept(NamedTuple):
    """All lines up to `acknowledged` are settled, and `ranges` beyond it; the counts are of lines that were lost."""

    acknowledged: int = 0
    given_up: int = 0
    damaged: int = 0
    undated: int = 0
    ranges: tuple[tuple[int, int], ...] = ()


_COUNTS = Kept._fields[:4]


def load_kept(folder: Path) -> Kept:
    """Read what was kept of a spool; the beginning where there is nothing."""
    found = _load(folder / _SPOOL)
    counts = {name: found.get(name, 0) for name in _COUNTS}
    if not all(type(count) is int and count >= 0 for count in counts.values()):
        return Kept()
    try:
        ranges = tuple((int(first), int(last)) for first, last in found.get("ranges", ()))
    except (ValueError, TypeError):
        ranges = ()
    return Kept(**counts, ranges=ranges[:_MOST_RANGES])


def save_kept(folder: Path, kept: Kept) -> None:
    """Keep it. Raises OSError."""
    _save(folder / _SPOOL, kept._asdict())


def ranges_of(numbers: Iterable[int]) -> tuple[tuple[int, int], ...]:
    """Write numbers as ranges from first to last, the first hundred of them."""
    ranges: list[tuple[int, int]] = []
    for number in sorted(numbers):
        if ranges and ranges[-1][1] == number - 1:
            ranges[-1] = (ranges[-1][0], number)
        else:
            ranges.append((number, number))
    return tuple(ranges[:_MOST_RANGES])


def load_clock(folder: Path) -> tuple[dict[str, Offset], int]:
    """Read the offsets of earlier starts of the board, and the newest moment that was given."""
    found = _load(folder / _CLOCK)
    try:
        starts = {str(boot): Offset(int(first), int(latest)) for boot, (first, latest) in found["starts"].items()}
        return starts, int(found["newest_ms"])
    except (KeyError, ValueError, TypeError, AttributeError):
        return {}, 0


def save_clock(folder: Path, starts: Mapping[str, Offset], newest_ms: int) -> None:
    """Keep it. Raises OSError."""
    _save(folder / _CLOCK, {"newest_ms": newest_ms, "starts": {boot: list(each) for boot, each in starts.items()}})


def _load(path: Path) -> dict[str, Any]:
    try:
        with path.open("rb") as file:
            found = json.loads(file.read(_LARGEST_BYTES))
    except FileNotFoundError:
        return {}
    except (OSError, ValueError):
        log.warning("%s cannot be understood and is begun anew.", path)
        return {}
    return found if isinstance(found, dict) else {}


def _save(path: Path, content: Mapping[str, Any]) -> None:
    beside = path.with_suffix(".new")
    try:
        with beside.open("wb") as file:
            file.write(json.dumps(content).encode())
            file.flush()
            os.fsync(file.fileno())
        beside.replace(path)
    except OSError:
        with contextlib.suppress(OSError):
            beside.unlink()
        raise
