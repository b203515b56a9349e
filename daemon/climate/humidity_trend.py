"""Whether a humidity rises or falls over days, under a daily cycle and noise that remembers. Pure.

Hourly medians are a straight line, a daily cycle of two harmonics (24 h and 12 h), and noise of two kinds: a slow one
in which each hour resembles the one before, with a memory of tau hours, and one that is new every time:

    y = level + slope t + cycle(t) + noise,   cov(noise_i, noise_j) = s^2 [(1 - v) exp(-|t_i - t_j| / tau) + v (i = j)]

Ordinary least squares takes such noise for independent and finds trends that are not there: with a memory of 4 h its
standard error is about three times too small. So the line is fitted by generalized least squares, with the residual
likelihood (Harville 1977, J. Am. Stat. Assoc. 72, 320-338) for what the noise is like. Memory and share of the new
noise are not known either, and one best pair would again promise too much: every pair of a grid takes part with the
weight that the data give it. Level and slope are then a mixture of normal distributions.

A median of pairwise slopes (Theil and Sen) was the other choice. It resists single wild readings, which hourly medians
do already, but its usual interval holds for independent noise only.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

_MEMORIES_H = (1.0, 3.0, 6.0, 12.0, 24.0, 48.0)
_NEW_SHARES = (0.0, 0.15, 0.4, 0.7)
_BLOCK_H = 3.0
"""Medians are averaged over so many hours before the fit, which loses nothing of a trend over days and saves time."""
_RESOLUTION_PCT = 0.03
"""A probe that gives tenths of a percent knows no better than 0.1/sqrt(12) (JCGM 100:2008, F.2.2.1)."""
_HALVINGS = 40
_DAY_H = 24.0


class _Component(NamedTuple):
    """Level (%) and slope (% a day) for one kind of noise, with their variances and covariance."""

    weight: float
    level: float
    slope: float
    level_var: float
    both_cov: float
    slope_var: float


@dataclass(frozen=True, slots=True)
class Trend:
    """What is known of the line: `cycle_depth_pct` is how far the daily low lies below it."""

    components: tuple[_Component, ...]
    cycle_depth_pct: float

    @property
    def level_pct(self) -> float:
        """The line now."""
        return sum(part.weight * part.level for part in self.components)

    @property
    def slope_pct_day(self) -> float:
        """The line's slope, percent of relative humidity in a day."""
        return sum(part.weight * part.slope for part in self.components)

    def chance_below(self, level_pct: float, days: float) -> float:
        """Probability that the line lies at or below a level so many days from now."""
        total = 0.0
        for part in self.components:
            variance = part.level_var + 2 * days * part.both_cov + days * days * part.slope_var
            total += part.weight * _normal(level_pct - part.level - part.slope * days, variance)
        return total

    def slope_quantile(self, share: float) -> float:
        """The slope below which it lies with this probability, percent in a day."""
        reach = 10 * max(math.sqrt(part.slope_var) for part in self.components)
        low = min(part.slope for part in self.components) - reach
        high = max(part.slope for part in self.components) + reach
        return crossing(
            lambda at: sum(part.weight * _normal(at - part.slope, part.slope_var) for part in self.components) - share,
            low,
            high,
        )


def humidity_trend(hours: "NDArray[np.float64]", humidities_pct: "NDArray[np.float64]") -> Trend:
    """Fit line, cycle and noise.

    Parameters
    ----------
    hours
        Moments in hours from now, so mostly negative; rising. Two days or more, else cycle and slope cannot be told
        apart.
    humidities_pct
        Relative humidity at each, percent: the median of its hour.

    Returns
    -------
    Trend
    """
    import numpy as np

    hours, humidities_pct = _averaged(hours, humidities_pct)
    design = np.concatenate([np.stack([np.ones_like(hours), hours / _DAY_H], axis=1), _harmonics(hours)], axis=1)
    roots = np.linalg.cholesky(_noise(hours))
    whitened = np.linalg.solve(roots, np.concatenate([design, humidities_pct[:, None]], axis=1))
    lines, values = whitened[:, :, :-1], whitened[:, :, -1:]
    turned = np.swapaxes(lines, 1, 2)
    inverse = np.linalg.inv(turned @ lines)
    found = inverse @ (turned @ values)
    freedom = len(hours) - design.shape[1]
    squares = ((values - lines @ found) ** 2).sum(axis=(1, 2)) + len(hours) * _RESOLUTION_PCT**2
    logs = np.linalg.slogdet(inverse)[1] / 2 - np.log(np.diagonal(roots, axis1=1, axis2=2)).sum(axis=1)
    logs -= freedom / 2 * np.log(squares)
    weights = np.exp(logs - logs.max())
    weights /= weights.sum()
    # The variance of Student's distribution, which the normal one stands in for.
    spread = (squares / (freedom - 2))[:, None, None] * inverse
    cycle = _harmonics(np.arange(0, _DAY_H, 0.5)) @ (weights[:, None] * found[:, 2:, 0]).sum(axis=0)
    parts = zip(weights, found[:, :, 0], spread, strict=True)
    return Trend(
        tuple(_Component(*map(float, (w, b[0], b[1], v[0, 0], v[0, 1], v[1, 1]))) for w, b, v in parts),
        max(0.0, -float(cycle.min())),
    )


def crossing(rising: Callable[[float], float], low: float, high: float) -> float:
    """Find where a rising function is zero, by halving."""
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        if rising(middle) < 0:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def _averaged(
    hours: "NDArray[np.float64]", values: "NDArray[np.float64]"
) -> tuple["NDArray[np.float64]", "NDArray[np.float64]"]:
    """Give the mean moment and the mean value of each block of hours."""
    import numpy as np

    _, block, count = np.unique(np.floor(hours / _BLOCK_H), return_inverse=True, return_counts=True)
    return np.bincount(block, hours) / count, np.bincount(block, values) / count


def _harmonics(hours: "NDArray[np.float64]") -> "NDArray[np.float64]":
    """Cosine and sine of a cycle of 24 h and of one of 12 h."""
    import numpy as np

    turn = 2 * np.pi * hours / _DAY_H
    return np.stack([np.cos(turn), np.sin(turn), np.cos(2 * turn), np.sin(2 * turn)], axis=1)


def _noise(hours: "NDArray[np.float64]") -> "NDArray[np.float64]":
    """Correlation matrix of the noise for every memory and every share of new noise."""
    import numpy as np

    apart = np.abs(hours[:, None] - hours)
    slow = np.exp(-apart / np.array(_MEMORIES_H)[:, None, None, None])
    new = np.array(_NEW_SHARES)[:, None, None]
    kinds: NDArray[np.float64] = (1 - new) * slow + new * np.eye(len(hours))
    return kinds.reshape(-1, len(hours), len(hours))


def _normal(difference: float, variance: float) -> float:
    return math.erfc(-difference / math.sqrt(2 * variance)) / 2
