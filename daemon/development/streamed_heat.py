"""Heat of a record that may be too long to hold: a block at a time, each with `heat_between`."""

import math
from collections.abc import Iterable
from itertools import islice

from daemon.development.degree_hours import Heat, heat_between

_BLOCK = 8192


def heat_of(samples: Iterable[tuple[int, float]], zero_c: float, cap_c: float | None, longest_bridge_ms: int) -> Heat:
    """Degree-hours from the first sample to the last.

    Parameters
    ----------
    samples
        (measured_at_ms, temperature_c), in order of time; gone through once.
    zero_c, cap_c, longest_bridge_ms
        As for `heat_between`, which is exact; windows that share an edge add up to the whole.

    Raises
    ------
    ValueError
        As `heat_between`.
    """
    coming = iter(samples)
    block = list(islice(coming, 1))
    parts: list[Heat] = []
    while more := list(islice(coming, _BLOCK)):
        block += more
        parts.append(heat_between(block, block[0][0], block[-1][0], zero_c, cap_c, longest_bridge_ms))
        block = block[-1:]
    return Heat(
        math.fsum(part.degree_hours_ch for part in parts),
        sum(part.covered_ms for part in parts),
        sum(part.missing_ms for part in parts),
    )
