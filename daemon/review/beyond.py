"""Pure: how long, and by how much, straight lines lie below or above a limit; exact, and all lines at once.

A line is outside by x = limit - value (below) or value - limit (above). Where x has one sign it is outside all the time
or never; where it changes sign, the part outside is that of the line beyond the crossing:

    share = (x0+ + x1+) / (|x0| + |x1|)        area = length * share * (x0+ + x1+) / 2        with x+ = max(x, 0)

At the limit itself nothing is outside.
"""

import math
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

MS_PER_HOUR = 3_600_000


class Lines(NamedTuple):
    """Straight lines in order of time: begin and end (ms), value at both. Ends may touch, and never overlap."""

    from_ms: "Array"
    to_ms: "Array"
    first: "Array"
    last: "Array"


class Runs(NamedTuple):
    """Stretches outside, in order of time and merged where they touch, ms."""

    from_ms: "Array"
    to_ms: "Array"

    @property
    def longest_ms(self) -> float:
        """The longest of them; 0 for none."""
        return float((self.to_ms - self.from_ms).max()) if self.from_ms.size else 0.0


def outside(lines: Lines, limit: float, *, above: bool) -> tuple[float, float]:
    """Give the time outside, ms, and the degree-hours outside (value times hour, never below 0).

    Both are not a number where a line's value is none; the second is infinite where a line outside is.
    """
    import numpy as np

    shares, over = _shares(lines, limit, above=above)
    time_ms = (lines.to_ms - lines.from_ms) * shares
    areas = np.where(shares == 0, 0.0, time_ms * over)
    return float(time_ms.sum()), float(areas.sum()) / 2 / MS_PER_HOUR


def runs_outside(lines: Lines, limit: float, *, above: bool) -> Runs:
    """Give when the lines are outside; a line that is not a number is not outside."""
    import numpy as np

    shares, _ = _shares(lines, limit, above=above)
    at = np.flatnonzero(shares > 0)
    shares, begin, end = shares[at], lines.from_ms[at], lines.to_ms[at]
    is_late = (lines.first[at] <= limit) if above else (lines.first[at] >= limit)
    length = (end - begin) * shares
    starts = np.where(is_late & (shares < 1), end - length, begin)
    return merged(starts, np.where(is_late | (shares >= 1), end, begin + length))


def merged(from_ms: "Array", to_ms: "Array") -> Runs:
    """Join stretches that touch; they come in order of time."""
    import numpy as np

    if not from_ms.size:
        return Runs(from_ms, to_ms)
    is_new = np.r_[True, from_ms[1:] > to_ms[:-1]]
    return Runs(from_ms[is_new], to_ms[np.r_[is_new[1:], True]])


def cut(lines: Lines, from_ms: float, to_ms: float) -> Lines:
    """Give the part of the lines between two moments."""
    import numpy as np

    at = np.flatnonzero((lines.to_ms > from_ms) & (lines.from_ms < to_ms))
    if not at.size:
        return Lines(*(each[at] for each in lines))
    begin, end, first, last = (each[at].copy() for each in lines)
    for place, moment in ((0, from_ms), (-1, to_ms)):
        t0, t1, v0, v1 = begin[place], end[place], first[place], last[place]
        if t0 < moment < t1:
            value = v0 + (v1 - v0) * (moment - t0) / (t1 - t0) if np.isfinite(v0 + v1) else _endless(v0, v1)
            if place == 0:
                begin[0], first[0] = moment, value
            else:
                end[-1], last[-1] = moment, value
    return Lines(begin, end, first, last)


def _endless(first: float, last: float) -> float:
    """A value on a line of which an end is infinite or not a number: it is what that end is."""
    return first if math.isnan(first) or (math.isinf(first) and not math.isnan(last)) else last


def joined(parts: list[Lines]) -> Lines:
    """Put lines one after the other in order of time."""
    import numpy as np

    if not parts:
        none = np.empty(0)
        return Lines(none, none, none, none)
    together = [np.concatenate(each) for each in zip(*parts, strict=True)]
    order = np.argsort(together[0], kind="stable")
    return Lines(*(each[order] for each in together))


def _shares(lines: Lines, limit: float, *, above: bool) -> "tuple[Array, Array]":
    """Share of each line that is outside, and how far both ends are outside, added up."""
    import numpy as np

    x0, x1 = (lines.first - limit, lines.last - limit) if above else (limit - lines.first, limit - lines.last)
    over = np.maximum(x0, 0.0) + np.maximum(x1, 0.0)
    whole = np.abs(x0) + np.abs(x1)
    with np.errstate(invalid="ignore", divide="ignore"):
        shares = np.where(whole > 0, over / whole, np.where(np.isnan(whole), np.nan, 0.0))
    # An infinite end: all of the line is as far out as that end.
    return np.where(np.isinf(over), 1.0, np.where(np.isinf(whole), 0.0, shares)), over
