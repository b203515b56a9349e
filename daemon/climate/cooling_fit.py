"""The time constant of one cooling curve, by least squares, with how sure it is.

The curve is that of Newton's law (see `daemon.climate.cooling`), T(t) = Ta + A exp(-t/tau).

With the room known, (A, tau) are fitted. The start value is the straight line through ln|T - Ta|, weighted by
(T - Ta)^2, because an error of a reading is larger in the logarithm the closer the reading is to the room; then
Gauss-Newton steps, halved until the residuals become smaller. The covariance of the parameters is s^2 (J'J)^-1 with
s^2 = RSS/(n - p), and an interval is that of Student's t for n - p degrees of freedom (any textbook of regression, such
as Seber and Wild, Nonlinear Regression, 1989, from memory).

With the room unknown, (Ta, A, tau) are fitted. Over less than a time constant the two curves "nearer room, smaller tau"
and "farther room, larger tau" are the same curve, so that fit calls itself worthless there.

All of this is the scatter of the readings only. What the room, a swing of it, or the fast part of the air do to the
result is not in it and comes on top.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from statistics import NormalDist
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

FEWEST_POINTS = 5
ENOUGH_TIME_CONSTANTS = 0.9
"""A room is not told apart from a time constant before about one has passed; no source for where exactly."""
_MOST_STEPS = 60
_MOST_HALVINGS = 30
_SETTLED = 1e-12
"""Of the residual sum of squares, relative: no step makes it smaller."""


class NoFitError(ValueError):
    """The readings are not a cooling towards the room; the text says why."""


@dataclass(frozen=True, slots=True)
class CoolingFit:
    """A curve with a known room: difference to it at time 0 (K), time constant (h), and what the scatter leaves open.

    `covariance` is that of (amplitude, time constant) in K^2, K h and h^2; `freedom` the degrees of freedom.
    """

    amplitude_k: float
    time_constant_h: float
    residual_sd_k: float
    freedom: int
    covariance: tuple[tuple[float, float], tuple[float, float]]

    @property
    def u_hours(self) -> float:
        """Standard uncertainty of the time constant from the scatter alone, hours."""
        return math.sqrt(self.covariance[1][1])

    def interval_h(self, probability: float = 0.95) -> tuple[float, float]:
        """Give the interval of the time constant, hours, that holds it with this probability."""
        half_h = student_quantile((1 + probability) / 2, self.freedom) * self.u_hours
        return self.time_constant_h - half_h, self.time_constant_h + half_h


@dataclass(frozen=True, slots=True)
class FreeRoomFit:
    """A curve that also tells the room that it goes to: degree Celsius, hours, their standard uncertainties.

    `worthless` says why the figures must not be used; empty where they may.
    """

    room_c: float
    room_u_k: float
    time_constant_h: float
    u_hours: float
    correlation: float
    residual_sd_k: float
    freedom: int
    worthless: str


def fit_known_room(times_h: "Array", temperatures_c: "Array", room_c: float) -> CoolingFit:
    """Fit a cooling (or warming) towards a known room.

    Parameters
    ----------
    times_h, temperatures_c
        Hours, rising; degree Celsius, as many. The fast part of the air is left out by the caller.
    room_c
        Temperature of the room, degree Celsius.

    Raises
    ------
    NoFitError
        For fewer than five points, and for readings that do not go towards the room.
    ValueError
        Where lengths differ, times do not rise, or a value is not a finite number.

    Notes
    -----
    Method and source in the head of this module.
    """
    import numpy as np

    times, above = _checked(times_h, temperatures_c, FEWEST_POINTS)
    above = above - room_c

    def model(at: "Array") -> tuple["Array", "Array"]:
        decay = np.exp(-times / at[1])
        return at[0] * decay, np.column_stack([decay, at[0] * decay * times / at[1] ** 2])

    found, sum_of_squares, covariance = _least_squares(model, above, np.array(log_line(times, above)))
    freedom = times.size - 2
    s2 = sum_of_squares / freedom
    (c00, c01), (_, c11) = (covariance * s2).tolist()
    return CoolingFit(float(found[0]), float(found[1]), math.sqrt(s2), freedom, ((c00, c01), (c01, c11)))


def fit_free_room(times_h: "Array", temperatures_c: "Array", guessed_room_c: float) -> FreeRoomFit:
    """Fit a cooling together with the room that it goes to.

    `guessed_room_c` is where the search begins. The rest as for `fit_known_room`.
    """
    import numpy as np

    times, temperatures = _checked(times_h, temperatures_c, FEWEST_POINTS)
    amplitude_k, time_constant_h = log_line(times, temperatures - guessed_room_c)

    def model(at: "Array") -> tuple["Array", "Array"]:
        decay = np.exp(-times / at[2])
        return at[0] + at[1] * decay, np.column_stack([np.ones_like(times), decay, at[1] * decay * times / at[2] ** 2])

    begin = np.array([guessed_room_c, amplitude_k, time_constant_h])
    found, sum_of_squares, covariance = _least_squares(model, temperatures, begin)
    freedom = times.size - 3
    s2 = sum_of_squares / freedom
    covariance = covariance * s2
    room_u_k, u_hours = math.sqrt(covariance[0, 0]), math.sqrt(covariance[2, 2])
    scale = room_u_k * u_hours
    correlation = float(covariance[0, 2]) / scale if scale else 0.0
    passed = float(times[-1] - times[0]) / float(found[2])
    worthless = ""
    if passed < ENOUGH_TIME_CONSTANTS:
        worthless = f"only {passed:.2f} of a time constant has passed; it takes about one to tell the room from it"
    return FreeRoomFit(
        float(found[0]), room_u_k, float(found[2]), u_hours, correlation, math.sqrt(s2), freedom, worthless
    )


def log_line(times: "Array", above_k: "Array") -> tuple[float, float]:
    """Amplitude and time constant by the weighted straight line through the logarithm; the start of the search.

    Raises NoFitError where the difference to the room does not shrink.
    """
    import numpy as np

    side = 1.0 if above_k[0] >= 0 else -1.0
    usable = side * above_k > 0
    if np.count_nonzero(usable) < FEWEST_POINTS:
        raise NoFitError("it is at the temperature of the room already")
    # polyfit weighs residuals, so the weight is the root of (T - Ta)^2.
    size = side * above_k[usable]
    slope, height = np.polyfit(times[usable], np.log(size), 1, w=size)
    if not slope < 0:
        raise NoFitError("it does not come nearer to the room")
    return side * math.exp(height), -1 / float(slope)


def student_quantile(probability: float, freedom: int) -> float:
    """Quantile of Student's t, by its expansion around the normal one.

    Abramowitz and Stegun, Handbook of Mathematical Functions (1964), 26.7.5, from memory. For probabilities up to 0.975
    it is within 0.2 % from three degrees of freedom on, and within 2 % at two.
    """
    z, n = NormalDist().inv_cdf(probability), freedom
    first = (z**3 + z) / 4
    second = (5 * z**5 + 16 * z**3 + 3 * z) / 96
    third = (3 * z**7 + 19 * z**5 + 17 * z**3 - 15 * z) / 384
    fourth = (79 * z**9 + 776 * z**7 + 1482 * z**5 - 1920 * z**3 - 945 * z) / 92160
    return z + first / n + second / n**2 + third / n**3 + fourth / n**4


def _least_squares(
    model: Callable[["Array"], tuple["Array", "Array"]], measured: "Array", begin: "Array"
) -> tuple["Array", float, "Array"]:
    """Gauss-Newton: parameters, residual sum of squares, and (J'J)^-1 there. The last parameter stays above 0."""
    import numpy as np

    at = begin
    values, jacobian = model(at)
    best = float(np.sum((measured - values) ** 2))
    for _ in range(_MOST_STEPS):
        step, *_ = np.linalg.lstsq(jacobian, measured - values, rcond=None)
        before = best
        for halving in range(_MOST_HALVINGS):
            tried = at + step / 2**halving
            if tried[-1] > 0:
                values_there, jacobian_there = model(tried)
                squares = float(np.sum((measured - values_there) ** 2))
                if squares <= best:
                    at, values, jacobian, best = tried, values_there, jacobian_there, squares
                    break
        if before - best <= _SETTLED * before:
            break
    inverse: Array = np.linalg.pinv(jacobian.T @ jacobian, hermitian=True).astype(np.float64)
    return at, best, inverse


def _checked(times_h: "Array", temperatures_c: "Array", fewest: int) -> tuple["Array", "Array"]:
    """Give both as arrays, times from 0 on. Raises as `fit_known_room` says."""
    import numpy as np

    times, temperatures = np.asarray(times_h, dtype=np.float64), np.asarray(temperatures_c, dtype=np.float64)
    if times.shape != temperatures.shape or times.ndim != 1:
        raise ValueError(f"{times.size} times and {temperatures.size} temperatures do not belong together.")
    if not (np.isfinite(times).all() and np.isfinite(temperatures).all()) or (np.diff(times) <= 0).any():
        raise ValueError("A cooling curve needs rising times and finite temperatures.")
    if times.size < fewest:
        raise NoFitError(f"{times.size} readings are too few; it takes {fewest}")
    return times - times[0], temperatures
