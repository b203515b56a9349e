"""Pure: how cold and how hot a place can get when it is left to its room, and when a heater runs.

Without heat a place follows its room by Newton's law (`daemon.climate.cooling`). What stands in a cabinet is slower
than its air, so the air takes a part of the way at once, and the air in a closed box begins late:

    T(t) = room + (T0 - room) [(1 - share) exp(-l/time constant) + share exp(-l/AT_ONCE_H)],   l = max(t - lag, 0)

A heater can only add to that. What it can add at most is not known, unless this place was seen while its heater ran: a
heater that goes on at full power warms a place ever more slowly, so the fastest rise over a window bounds a longer one
in proportion.
"""

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Self

from daemon.climate.cooling import COVERAGE_FACTOR, RoomAir, TimeConstant

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

SHARES = (0.0, 1 / 6, 1 / 3)
"""Of the way to the room, the share that the air takes at once: least, best estimate, most. Project choice, the same as
of a swing of the room in `daemon.climate.cooling_curves`."""
NO_LAGS_H = (0.0, 0.0, 0.0)
AT_ONCE_H = 0.15
"""And how fast that is, as a best estimate; for the bounds it takes no time at all. Project choice."""
BOX_LAGS_H = (0.0, 1.0, 2.5)
"""So much later than the cabinet a closed box may begin to cool: least, best estimate, most. Project choice."""
SHARE_BEHIND_A_HEATER = 0.5
"""Air that a heater had warmed falls further at once, since it stood above all that was in the cabinet. Project
choice."""
SHORTEST_CONSTANT = 0.25
"""A time constant is not taken shorter than this part of its estimate, however unsure it is."""
LONGEST_AGO = 20.0
"""So many time constants before a reading it says nothing any more: all heat of that time is gone."""
RISE_MARGIN = 1.25
"""A heater may warm a place this much faster than it was ever seen to: the cabinet may have been fuller then. Project
choice."""


@dataclass(frozen=True, slots=True)
class FastestRise:
    """The fastest rises that were measured in a place while its heater ran: (window in hours, kelvin), at least one.

    The shortest window comes first.
    """

    windows: tuple[tuple[float, float], ...]

    @property
    def rate_k_h(self) -> float:
        """The rate of a long rise, K/h."""
        return min(kelvin / hours for hours, kelvin in self.windows)

    def again_k(self, hours: "Array", share: float, later_k_h: float) -> "Array":
        """What it warms in so many hours where it warms by this share of what it was seen to, and later at a rate."""
        import numpy as np

        first_h, first_k = self.windows[0]
        warmed: Array = share * first_k * np.minimum(hours / first_h, 1.0) + later_k_h * np.maximum(
            hours - first_h, 0.0
        )
        return warmed

    def most_k(self, hours: "Array") -> "Array":
        """The most that a place can have warmed in so many hours, K."""
        import numpy as np

        each = [kelvin * np.maximum(1.0, hours / window_h) for window_h, kelvin in self.windows]
        most: Array = RISE_MARGIN * np.minimum.reduce(each)
        return most


@dataclass(frozen=True, slots=True)
class Passive:
    """A place without heat: its room and time constant, each as lowest, best and highest credible value (about 95 %).

    Degree Celsius and hours. `constants_h` is None where no time constant is known. `shares` and `lags_h`: see the
    head of this module.
    """

    rooms_c: tuple[float, float, float]
    constants_h: tuple[float, float, float] | None
    shares: tuple[float, float, float] = SHARES
    lags_h: tuple[float, float, float] = NO_LAGS_H

    @classmethod
    def of(cls, rooms_c: tuple[RoomAir, RoomAir, RoomAir], constant: TimeConstant | None, *, in_box: bool) -> Self:
        """From the coldest, mean and warmest that the room was, with what each leaves open, and the time constant."""
        coldest, mean, warmest = rooms_c
        rooms = (
            coldest.temperature_c - COVERAGE_FACTOR * coldest.u_k,
            mean.temperature_c,
            warmest.temperature_c + COVERAGE_FACTOR * warmest.u_k,
        )
        constants = None
        if constant is not None:
            reach_h = COVERAGE_FACTOR * constant.u_hours
            shortest_h = max(constant.hours - reach_h, SHORTEST_CONSTANT * constant.hours)
            constants = (shortest_h, constant.hours, constant.hours + reach_h)
        return cls(rooms, constants, SHARES, BOX_LAGS_H if in_box else NO_LAGS_H)

    def coldest(self, hours: "Array", start_c: float) -> "Array":
        """No colder than this so long after a temperature, whatever the heater did."""
        import numpy as np

        if self.constants_h is None:
            return np.full(len(hours), min(start_c, self.rooms_c[0]))
        return self._middle(hours, start_c) - self._reach_k(hours, start_c, -1)

    def warmest(self, hours: "Array", start_c: float) -> "Array":
        """No warmer than this so long after a temperature, where the heat is off."""
        import numpy as np

        if self.constants_h is None or math.isinf(start_c):
            return np.full(len(hours), max(start_c, self.rooms_c[2]))
        return self._middle(hours, start_c) + self._reach_k(hours, start_c, 1)

    def likely(self, hours: "Array", start_c: float) -> "Array":
        """The best estimate where the heat is off; not a number without a time constant."""
        import numpy as np

        if self.constants_h is None:
            return np.full(len(hours), np.nan)
        room_c, constant_h, share = self.rooms_c[1], self.constants_h[1], self.shares[1]
        slow = newton(hours, start_c, room_c, constant_h, share, self.lags_h[1])
        return slow + share * (start_c - room_c) * np.exp(-np.maximum(hours - self.lags_h[1], 0.0) / AT_ONCE_H)

    def hottest_before(self, hours: "Array", end_c: float) -> "Array":
        """No hotter than this so long before a temperature: what was hotter could not have cooled down to it."""
        import numpy as np

        above_k = end_c - self.rooms_c[0]
        if self.constants_h is None or above_k <= 0:
            return np.full(len(hours), np.inf)
        passed = hours / self.constants_h[0]
        once_k = above_k * np.exp(passed.clip(None, LONGEST_AGO)) / (1 - SHARE_BEHIND_A_HEATER)
        return np.where(passed > LONGEST_AGO, np.inf, self.rooms_c[0] + once_k)

    def coldest_before(self, hours: "Array", end_c: float) -> "Array":
        """No colder than this so long before a temperature, where the heat was off all the time up to it."""
        import numpy as np

        above_k = end_c - self.rooms_c[2]
        if self.constants_h is None or above_k <= 0:
            return np.full(len(hours), -np.inf)
        passed = (hours - self.lags_h[2]).clip(0.0) / self.constants_h[2]
        grown_k: Array = above_k * np.exp(passed.clip(None, LONGEST_AGO))
        return self.rooms_c[2] + grown_k

    def _middle(self, hours: "Array", start_c: float) -> "Array":
        """Newton's law with everything at its best estimate, the share of the air gone at once."""
        constant_h = math.nan if self.constants_h is None else self.constants_h[1]
        return newton(hours, start_c, self.rooms_c[1], constant_h, self.shares[1], self.lags_h[1])

    def _reach_k(self, hours: "Array", start_c: float, side: int) -> "Array":
        """How far to a side (-1 colder, 1 warmer) it may lie, K.

        Room, time constant, share and lag are each taken to the end that leads to that side, and what they change is
        added up as independent errors are (JCGM 100:2008, 5.1.2; carried out by differences, as of 5.1.3 note 2).
        """
        import numpy as np

        if self.constants_h is None:
            return np.full(len(hours), np.inf)
        inputs = self.rooms_c, self.constants_h, self.shares, self.lags_h
        others = []
        for number, values in enumerate(inputs):
            for end in (values[0], values[2]):
                room_c, constant_h, share, lag_h = (end if at == number else each[1] for at, each in enumerate(inputs))
                others.append(newton(hours, start_c, room_c, constant_h, share, lag_h))
        # The two ends of one input lie on different sides, so no input counts twice.
        middle = self._middle(hours, start_c)
        squares: Array = sum((((other - middle) * side).clip(0.0) ** 2 for other in others), np.zeros(len(hours)))
        return np.sqrt(squares)


def newton(
    hours: "Array", start_c: float, room_c: float, constant_h: float, share: float = 0.0, lag_h: float = 0.0
) -> "Array":
    """Newton's law, degree Celsius, of what is left after the share that goes at once."""
    import numpy as np

    course: Array = room_c + (start_c - room_c) * (1 - share) * np.exp(-np.maximum(hours - lag_h, 0.0) / constant_h)
    return course
