"""Hours with water on a lid, from readings with gaps. Pure.

Between two readings the probability of water is taken as a straight line. Its integral is the expected time with water
(the expectation of a sum is the sum of expectations, JCGM 101:2008, 5.3, also where all readings err alike). Beside it
stand the hours that are certain, those in which the probability is `CERTAIN` or more, the hours that are possible,
which are all but those certainly without water, and the hours of which nothing is known because no readings cover them.

Two forms of one sum: `condensation_hours` over any window of a whole record, and `CondensationHours`, which takes
reading after reading at a cost that does not grow, and keeps the quarters of an hour of seven days.
"""

import math
from bisect import bisect_left
from collections import deque
from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import NamedTuple

CERTAIN = 0.95
QUARTER_MS = 900_000
KEPT_MS = 7 * 24 * 3_600_000
_HOUR_MS = 3_600_000

Point = tuple[int, float]
"""A moment (UTC milliseconds since the epoch) and a value."""


class Paired(NamedTuple):
    """Readings of one moment: °C, % and, where there is a probe with a reading, the surface in °C."""

    at_ms: int
    temperature_c: float
    relative_humidity_pct: float
    surface_c: float | None


class Hours(NamedTuple):
    """Hours of one window; `covered_h` and `unknown_h` add up to it, the others are part of what is covered."""

    expected_h: float
    certain_h: float
    covered_h: float
    unknown_h: float
    possible_h: float


def paired(
    temperatures: Sequence[Point], humidities: Sequence[Point], surfaces: Sequence[Point], apart_ms: int
) -> Iterator[Paired]:
    """Give each humidity with the nearest temperature, and the nearest surface, at most `apart_ms` away.

    All in the order of time. A humidity without a temperature near it is left out: it has no dew point.
    """
    for at_ms, humidity_pct in humidities:
        temperature_c = _nearest(temperatures, at_ms, apart_ms)
        if temperature_c is not None:
            yield Paired(at_ms, temperature_c, humidity_pct, _nearest(surfaces, at_ms, apart_ms))


def condensation_hours(chances: Sequence[Point], start_ms: int, end_ms: int, longest_gap_ms: int) -> Hours:
    """Add up the hours with water in one window.

    Parameters
    ----------
    chances
        Moments, rising, with the probability of water at each, 0 to 1.
    start_ms, end_ms
        The window, UTC milliseconds since the epoch.
    longest_gap_ms
        Two readings further apart leave the time between them unknown.

    Returns
    -------
    Hours
    """
    total = _Part()
    for first, second in pairwise(chances):
        if second[0] - first[0] <= longest_gap_ms:
            total.add(first, second, start_ms, end_ms)
    return total.hours(end_ms - start_ms)


class CondensationHours:
    """The hours with water of the last days, reading by reading. What a reading costs depends on its gap alone."""

    def __init__(self, longest_gap_ms: int) -> None:
        self._longest_gap_ms = longest_gap_ms
        self._last: Point | None = None
        self._quarters: deque[tuple[int, _Part]] = deque()

    @property
    def last_ms(self) -> int | None:
        """The moment of the newest reading; None before the first."""
        return None if self._last is None else self._last[0]

    def __len__(self) -> int:
        """How many quarters of an hour are kept."""
        return len(self._quarters)

    def add(self, at_ms: int, chance: float) -> None:
        """Take the next reading. Raises ValueError for one that is no later than the last: rebuild from the record."""
        last = self._last
        if last is not None and at_ms <= last[0]:
            raise ValueError(f"A reading of {at_ms} comes after one of {last[0]}; add up the record again instead.")
        self._last = (at_ms, chance)
        if last is None or at_ms - last[0] > self._longest_gap_ms:
            return
        for start_ms in range(last[0] - last[0] % QUARTER_MS, at_ms, QUARTER_MS):
            self._quarter(start_ms).add(last, self._last, start_ms, start_ms + QUARTER_MS)
        while self._quarters[0][0] < at_ms - KEPT_MS - QUARTER_MS:
            self._quarters.popleft()

    def between(self, start_ms: int, end_ms: int) -> Hours:
        """Add up from the quarter of `start_ms` until `end_ms`, the newest reading or later; both within what is kept.

        The start is moved back to the beginning of its quarter.
        """
        start_ms -= start_ms % QUARTER_MS
        total = _Part()
        for quarter_ms, part in self._quarters:
            if start_ms <= quarter_ms < end_ms:
                total.join(part)
        return total.hours(end_ms - start_ms)

    def _quarter(self, start_ms: int) -> "_Part":
        if not self._quarters or self._quarters[-1][0] != start_ms:
            self._quarters.append((start_ms, _Part()))
        return self._quarters[-1][1]


class _Part:
    """Milliseconds of part of a window: with water as expected, certainly and possibly with water, covered."""

    __slots__ = ("certain_ms", "covered_ms", "expected_ms", "possible_ms")

    def __init__(self) -> None:
        self.expected_ms = self.certain_ms = self.covered_ms = self.possible_ms = 0.0

    def add(self, first: Point, second: Point, start_ms: int, end_ms: int) -> None:
        """Add what of the line between two readings lies between start and end."""
        from_ms, until_ms = max(first[0], start_ms), min(second[0], end_ms)
        if from_ms >= until_ms:
            return
        rise = (second[1] - first[1]) / (second[0] - first[0])
        one, other = first[1] + rise * (from_ms - first[0]), first[1] + rise * (until_ms - first[0])
        length_ms = until_ms - from_ms
        self.covered_ms += length_ms
        self.expected_ms += (one + other) / 2 * length_ms
        self.certain_ms += _share_above(one, other, CERTAIN) * length_ms
        self.possible_ms += (1 - _share_above(1 - one, 1 - other, CERTAIN)) * length_ms

    def join(self, other: "_Part") -> None:
        """Add another part."""
        self.expected_ms += other.expected_ms
        self.certain_ms += other.certain_ms
        self.possible_ms += other.possible_ms
        self.covered_ms += other.covered_ms

    def hours(self, window_ms: int) -> Hours:
        """Give it in hours, with what of the window is not covered."""
        unknown_ms = max(0.0, window_ms - self.covered_ms)
        parts = (self.expected_ms, self.certain_ms, self.covered_ms, unknown_ms, self.possible_ms)
        return Hours(*(part / _HOUR_MS for part in parts))


def _share_above(one: float, other: float, level: float) -> float:
    """How much of a straight line from one value to another is at a level or above."""
    low, high = min(one, other), max(one, other)
    if low >= level:
        return 1.0
    return 0.0 if high < level else (high - level) / (high - low)


def _nearest(points: Sequence[Point], at_ms: int, apart_ms: int) -> float | None:
    index = bisect_left(points, (at_ms, -math.inf))
    near = points[max(index - 1, 0) : index + 1]
    found = min(near, key=lambda point: abs(point[0] - at_ms), default=None)
    return None if found is None or abs(found[0] - at_ms) > apart_ms else found[1]
