"""Repeatable chance for the simulated world."""

from collections.abc import Iterator, Sequence

import numpy as np

Seed = int | Sequence[int]
"""What numpy's default_rng accepts: the same seed gives the same world."""

_BLOCK = 1024


def standard_normals(seed: Seed) -> Iterator[float]:
    """Give normal deviates of mean 0 and deviation 1, for ever. Drawn in blocks, which is several times quicker."""
    generator = np.random.default_rng(seed)
    while True:
        yield from generator.standard_normal(_BLOCK).tolist()
