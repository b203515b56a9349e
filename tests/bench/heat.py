"""How the bulk degree-hour integral compares with the plain trapezoid rule of numpy."""

import sys
import time
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from daemon.development.degree_hours import season_degree_hours

SAMPLES = 345_600
"""120 days, a sample every 30 seconds."""
ZERO_C, CAP_C = 16.0, 32.0
REPEATS = 40


def season() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Make times in hours at uneven half minutes, and temperatures that cross zero and cap many times a day."""
    random = np.random.default_rng(20260528)
    times_h = np.cumsum((1 + 0.1 * random.uniform(-1, 1, SAMPLES)) / 120)
    temperatures_c = 24 + 9 * np.sin(2 * np.pi * times_h / 24) + random.normal(0, 0.05, SAMPLES)
    return times_h, temperatures_c


def seconds(work: Callable[[], object]) -> float:
    """How long one call takes."""
    started = time.perf_counter()
    work()
    return time.perf_counter() - started


def season_ratio(repeats: int = REPEATS) -> float:
    """Time of the exact integral over that of `numpy.trapezoid`: best of several, turn by turn in one run."""
    times_h, temperatures_c = season()
    exact, plain = [], []
    for _ in range(repeats):
        plain.append(seconds(lambda: np.trapezoid(temperatures_c, times_h)))
        exact.append(seconds(lambda: season_degree_hours(times_h, temperatures_c, ZERO_C, CAP_C)))
    return min(exact) / min(plain)


def main() -> None:
    """Print the ratio."""
    sys.stdout.write(
        f"degree-hours of {SAMPLES} samples, with crossings: {season_ratio():.2f} x numpy.trapezoid (goal 1.5)\n"
    )


if __name__ == "__main__":
    main()
