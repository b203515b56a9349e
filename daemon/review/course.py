"""Pure: what the temperature of a place can have been in a gap, moment by moment, and what that makes of a limit.

All temperatures are what the probe of the place would have read: an error that it has all the time is in its readings
and in the course alike. Between two moments of a course each of its three curves is a straight line.
"""

import math
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TYPE_CHECKING

from daemon.review.beyond import Lines, cut, outside
from daemon.review.gap_values import Known
from daemon.review.values import Bounds, Span

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Array = NDArray[np.float64]


class GapKind(StrEnum):
    """What is known of the heat in a gap."""

    HEAT_OFF = "heat-off"
    """there is evidence that the heat was off, so the place followed its room until the heat came back"""
    NOBODY_KNOWS = "nobody-knows"
    """the heat may have run, failed, or stuck on"""
    OTHER_PROBE = "other-probe"
    """no gap of its own kind: the probe of the zone or incubator around it was read meanwhile"""


@dataclass(frozen=True, slots=True, eq=False)
class GapCourse:
    """The estimated course inside a gap (or the part of one that was asked for), with bounds of about 95 %.

    `at_ms` rises from the begin to the end of `span`; `low_c` <= `best_c` <= `high_c` at each moment. `low_c` is minus
    infinity where nothing bounds it below ("unknown below"), `high_c` plus infinity where nothing bounds it above.
    `best_c` is not a number (nan) where nothing speaks for one value. `before` and `after` are the readings around the
    whole gap, None where there is none. `heat_back_ms`: when the heat came back, the best estimate, where the kind is
    HEAT_OFF and it did. `contradiction`: the readings do not fit what is known of the cooling, so the bounds are wider.
    `reason` is a sentence for people: what the course rests on.
    """

    span: Span
    kind: GapKind
    before: Known | None
    after: Known | None
    at_ms: "Array"
    low_c: "Array"
    best_c: "Array"
    high_c: "Array"
    heat_back_ms: int | None
    contradiction: bool
    reason: str

    @property
    def end_ms(self) -> int:
        """The last moment of the course."""
        return int(self.at_ms[-1])

    @property
    def length_ms(self) -> int:
        """How long it is."""
        return self.end_ms - self.span.from_ms

    @property
    def coldest_c(self) -> Bounds:
        """The coldest that it can have been: between the lowest of the low and the lowest of the high curve."""
        return bounds_of(float(self.low_c.min()), float(self.best_c.min()), float(self.high_c.min()))

    @property
    def hottest_c(self) -> Bounds:
        """The hottest that it can have been."""
        return bounds_of(float(self.low_c.max()), float(self.best_c.max()), float(self.high_c.max()))

    @property
    def low_lines(self) -> Lines:
        """The straight lines of the low curve."""
        return self._lines(self.low_c)

    @property
    def best_lines(self) -> Lines:
        """The straight lines of the best estimate."""
        return self._lines(self.best_c)

    @property
    def high_lines(self) -> Lines:
        """The straight lines of the high curve."""
        return self._lines(self.high_c)

    def part(self, from_ms: int, to_ms: int) -> "GapCourse":
        """Give the part between two moments; parts that touch add up to the whole.

        Raises ValueError where the part is empty or reaches beyond the course.
        """
        if (from_ms, to_ms) == (self.span.from_ms, self.end_ms):
            return self
        if not self.span.from_ms <= from_ms < to_ms <= self.end_ms:
            raise ValueError(
                f"{from_ms} to {to_ms} ms is no part of a gap from {self.span.from_ms} to {self.end_ms} ms."
            )
        import numpy as np

        at_ms = np.empty(0)
        curves = []
        for lines in (self.low_lines, self.best_lines, self.high_lines):
            inside = cut(lines, from_ms, to_ms)
            at_ms = np.append(inside.from_ms, inside.to_ms[-1])
            curves.append(np.append(inside.first, inside.last[-1]))
        return replace(
            self, span=Span(from_ms, to_ms), at_ms=at_ms, low_c=curves[0], best_c=curves[1], high_c=curves[2]
        )

    def time_beyond_ms(self, limit_c: float, *, above: bool) -> Bounds:
        """Time below a limit, or above it, ms. `best` is None where a part of the course has no best estimate."""
        return bounds_of(*(time_ms for time_ms, _ in self._beyond(limit_c, above=above)))

    def degree_hours_beyond(self, limit_c: float, *, above: bool) -> Bounds:
        """Degree-hours below a limit, or above it (K h, >= 0); `high` is infinite where nothing bounds that side."""
        return bounds_of(*(degree_hours for _, degree_hours in self._beyond(limit_c, above=above)))

    def _beyond(self, limit_c: float, *, above: bool) -> list[tuple[float, float]]:
        """Time and degree-hours: the least possible, the best estimate, the most possible."""
        inner, outer = (self.low_lines, self.high_lines) if above else (self.high_lines, self.low_lines)
        return [outside(lines, limit_c, above=above) for lines in (inner, self.best_lines, outer)]

    def _lines(self, values: "Array") -> Lines:
        return Lines(self.at_ms[:-1], self.at_ms[1:], values[:-1], values[1:])


def bounds_of(low: float, best: float, high: float) -> Bounds:
    """Put three numbers in order; one that is not a number is no best estimate.

    Rounding may have moved the middle one past an end by its last digit.
    """
    return Bounds(low, None if math.isnan(best) else min(max(best, low), max(low, high)), max(low, high))
