"""Pure: what a quantity was since the last look, from its stretches of ten minutes or an hour."""

from collections.abc import Callable
from statistics import fmean

from config.words import Quantity
from daemon.rounds.sheet import Measured
from daemon.series import Series

_HOUR_MS = 3_600_000
Band = tuple[float | None, float | None]
"""The lower and the upper limit; None where none is watched."""


def measured(
    series: Series, quantity: Quantity, band_at: Callable[[int], Band], now: Band, measured_at: str, *, in_box: bool
) -> Measured:
    """Sum a series up; `band_at` gives the limits of a moment (UTC ms), `now` those that are told beside it.

    A stretch is outside where its mean is, and unknown where it has no good reading or a gap.
    """
    below_ms = above_ms = known_ms = 0
    ends_below = False
    means = []
    for part in series.buckets:
        if part.mean is None:
            continue
        means.append(part.mean)
        if part.gap_inside:
            continue
        length_ms = min(part.end_ms, series.until_ms) - max(part.start_ms, series.from_ms)
        low, high = band_at(part.start_ms)
        ends_below = low is not None and part.mean < low
        known_ms += length_ms
        below_ms += length_ms if low is not None and part.mean < low else 0
        above_ms += length_ms if high is not None and part.mean > high else 0
    least = [part.least for part in series.buckets if part.least is not None]
    most = [part.most for part in series.buckets if part.most is not None]
    return Measured(
        quantity=quantity,
        mean=fmean(means) if means else None,
        least=min(least, default=None),
        most=max(most, default=None),
        hours_below=below_ms / _HOUR_MS,
        hours_above=above_ms / _HOUR_MS,
        hours_known=known_ms / _HOUR_MS,
        hours_unknown=max(0, series.until_ms - series.from_ms - known_ms) / _HOUR_MS,
        low=now[0],
        high=now[1],
        measured_at=measured_at,
        in_box=in_box,
        ends_below=ends_below,
    )
