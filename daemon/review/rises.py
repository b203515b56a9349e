"""Pure: the fastest rises of a place while its heater evidently ran, from what stretches of ten minutes held.

A rise tells how hot a heater can make a place only where the heater did not switch off on the way. So it counts only
where each stretch of it was warmer than the one before, and so was the one behind it. The heater may have begun at any
moment of the first stretch, so the rise is taken to have lasted a stretch less than it may have: it seems faster, never
slower. Figures without a source here are this project's choice.
"""

from typing import TYPE_CHECKING

from daemon.review.passive import FastestRise

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

CELL_MS = 10 * 60_000
WINDOWS = (1, 2, 3, 6, 12)
"""Lengths in cells, from ten minutes to two hours."""
LEAST_RISE_K = 1.0
"""Less than this may be the swing of a thermostat."""
STILL_RISING_K = 0.2
"""So much warmer than in the cell before: the heater was on."""


def fastest_rise(cells: "NDArray[np.int64]", least: "Array", most: "Array", mean: "Array") -> FastestRise | None:
    """Give the fastest rises by the numbers of the cells that have readings, rising, and what each of them held.

    Temperatures in degree Celsius. None where the heater was never seen to heat the place.
    """
    import numpy as np

    warmer = (np.diff(cells) == 1) & (np.diff(mean) >= STILL_RISING_K)
    windows = []
    for length in WINDOWS:
        if len(cells) < length + 2:
            break
        is_on = np.lib.stride_tricks.sliding_window_view(warmer, length + 1).all(axis=1)
        rises = (most[length:-1] - least[: -length - 1])[is_on]
        if rises.size and rises.max() >= LEAST_RISE_K:
            windows.append((length * CELL_MS / 3_600_000, float(rises.max())))
    return FastestRise(tuple(windows)) if windows else None
