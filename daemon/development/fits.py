"""Developmental zero and thermal constant from durations at constant temperatures, with how sure both are.

The rate of development is taken as a straight line in temperature, 1/duration = (T - T0)/K. With the mean temperature
Tm, the mean rate rm and the slope b of the least squares line through N points,

    T0 = Tm - rm/b          K = 1/b

rm and b of such a line do not vary together, and their variances are s^2/N and s^2/Sxx, where Sxx is the sum of squares
of T - Tm and s^2 the sum of squares of the residuals over N - 2 (any textbook of regression). Propagated to first order
(JCGM 100:2008, the "GUM", 5.1.2 equation 10; F.1.2.3 for two results of the same inputs):

    u(T0)^2 = (1/b)^2 s^2/N + (rm/b^2)^2 s^2/Sxx
    u(K)^2  = (1/b^2)^2 s^2/Sxx
    u(T0, K) = -(rm/b^4) s^2/Sxx

This derivation is ours. The standard error of the zero comes out in the form that the literature ascribes to Campbell
et al. 1974, Journal of Applied Ecology 11:431-438 (from memory: the paper itself was not read for this). First order
is too narrow where a line is badly known: T0 is a ratio, and its true distribution leans towards the cold.

T0 is an extrapolation, as a rule 5 to 10 K below the coldest eggs, and no temperature at which an embryo stops or dies.
T0 and K vary together almost perfectly: they are used as the pair that they are, and never one without the other.
"""

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple

from config.errors import StatedError
from daemon.development.durations import Duration, require_possible

Flag = Literal["good", "fair", "weak", "two-point", "do not use"]

_HOURS_PER_DAY = 24
_LOWEST_ZERO_C, _HIGHEST_ZERO_C = 5.0, 24.0
_GOOD_R_SQUARED, _FAIR_R_SQUARED = 0.95, 0.9
_GOOD_SPAN_K = 4.0
_LEAST_POINTS = 2
_LEAST_CHANGE = 1e-9
"""Of the rate over the whole series, relative to its mean: less than this is the rounding of equal durations."""


@dataclass(frozen=True, slots=True)
class FitPoint:
    """One point of a line: what was observed (of mean rates, in days) and what the line gives back."""

    temperature_c: float
    eggs: int | None
    observed_days: float
    predicted_days: float

    @property
    def difference_pct(self) -> float:
        """Predicted minus observed duration, percent of the observed."""
        return 100 * (self.predicted_days / self.observed_days - 1)


@dataclass(frozen=True, slots=True)
class Fit:
    """A line through rates: T0 in °C and K in °C·h, with standard uncertainties (k = 1) and what it is worth.

    With two points there is no residual: the uncertainties, `residual_sd_pct` and `r_squared` are None, which means
    unknown, not small. `residual_sd_pct` is that of rates, percent of the mean rate; `mean_absolute_error_pct` that of
    durations computed back; `within_treatment_cv_pct` the scatter between eggs kept alike, where numbers of eggs and
    standard deviations were given. `pooled`: the durations are of several sources, so perhaps of several populations.
    """

    developmental_zero_c: float
    thermal_constant_ch: float
    developmental_zero_u_k: float | None
    thermal_constant_u_ch: float | None
    correlation: float
    residual_sd_pct: float | None
    r_squared: float | None
    mean_absolute_error_pct: float
    within_treatment_cv_pct: float | None
    flag: Flag
    pooled: bool
    points: tuple[FitPoint, ...]

    @property
    def covariance_ch_k(self) -> float | None:
        """Covariance of T0 and K, °C·h times K; None with two points."""
        if self.developmental_zero_u_k is None or self.thermal_constant_u_ch is None:
            return None
        return self.correlation * self.developmental_zero_u_k * self.thermal_constant_u_ch


class FittedDuration(NamedTuple):
    """A duration by a line, days, and its standard uncertainty (k = 1); None where the line has none."""

    days: float
    standard_uncertainty_days: float | None


class _Rate(NamedTuple):
    temperature_c: float
    rate_per_h: float
    eggs: int | None


class _Line(NamedTuple):
    mean_temperature_c: float
    mean_rate_per_h: float
    slope_per_ch: float
    squares_k2: float


def fit_durations(
    durations: Sequence[Duration], *, upto_c: float | None = None, one_per_temperature: bool = True
) -> Fit:
    """Fit T0 and K by ordinary least squares of 1/duration on temperature.

    Parameters
    ----------
    durations
        Two distinct constant temperatures or more, in any order.
    upto_c
        Leave out what was warmer, °C: development stops speeding up at some warmth, and a line over it lies too flat.
    one_per_temperature
        The mean rate of each distinct temperature is one point. Otherwise each duration is, so that a temperature tried
        often weighs more.

    Returns
    -------
    Fit
        Formulas and sources in the head of this module. The flag, the first that holds: do not use (T0 below 5 °C or
        above 24 °C), two-point (two temperatures: whether a line holds is unknown), weak (R2 below 0.9), good (R2 at
        least 0.95 and temperatures over 4 K or more), fair. These bounds are a rule of this project.

    Raises
    ------
    StatedError
        A ValueError with `reason` and `hint`: fewer than two temperatures, a duration that is none, a temperature
        that looks like °F, durations that do not fall with warmth, a zero above the coldest temperature tried.
    """
    for each in durations:
        require_possible(each)
    taken = [each for each in durations if upto_c is None or each.temperature_c <= upto_c]
    temperatures = {each.temperature_c for each in taken}
    if len(temperatures) < _LEAST_POINTS:
        within = "" if upto_c is None else f" up to {upto_c:g} °C"
        reason = f"a line needs two temperatures, and here {_counted(len(temperatures))}{within}"
        raise StatedError(reason, "Add durations at another constant temperature.")
    rates = _rates(taken, one_per_temperature=one_per_temperature)
    line = _least_squares(rates)
    zero_c = line.mean_temperature_c - line.mean_rate_per_h / line.slope_per_ch
    if zero_c >= min(temperatures):
        reason = f"the line reaches zero at {zero_c:.1f} °C, not below {min(temperatures):g} °C, where eggs did hatch"
        raise StatedError(reason, "Check the durations at the ends; leave out what is off the line, the warmest first.")
    return _described(rates, line, taken)


def duration_days(fit: Fit, temperature_c: float) -> FittedDuration:
    """How long eggs take at a constant temperature by the line, days, and how well the line knows it.

    The uncertainty is that of the line alone, with the covariance of its pair: JCGM 100:2008, 5.2.2, equation 13. The
    scatter of clutches about it comes on top. Above the warmest point of a fit the line credits development that may
    not be there. Raises StatedError at or below the developmental zero.
    """
    days = line_days(fit.developmental_zero_c, fit.thermal_constant_ch, temperature_c)
    zero_u, constant_u, covariance = fit.developmental_zero_u_k, fit.thermal_constant_u_ch, fit.covariance_ch_k
    if zero_u is None or constant_u is None or covariance is None:
        return FittedDuration(days, None)
    by_zero = days / (temperature_c - fit.developmental_zero_c)
    by_constant = days / fit.thermal_constant_ch
    variance = (by_zero * zero_u) ** 2 + (by_constant * constant_u) ** 2 + 2 * by_zero * by_constant * covariance
    return FittedDuration(days, math.sqrt(max(0.0, variance)))


def line_days(developmental_zero_c: float, thermal_constant_ch: float, temperature_c: float) -> float:
    """Duration in days at a constant temperature: K/(T - T0), by 24 h. Raises StatedError at or below T0."""
    if not temperature_c > developmental_zero_c:
        reason = f"{temperature_c:g} °C is not above the developmental zero of {developmental_zero_c:.1f} °C"
        raise StatedError(reason, "The line knows no duration there; ask for a temperature that eggs were kept at.")
    return thermal_constant_ch / (temperature_c - developmental_zero_c) / _HOURS_PER_DAY


def _counted(temperatures: int) -> str:
    return "is one" if temperatures else "is none"


def _rates(durations: Sequence[Duration], *, one_per_temperature: bool) -> list[_Rate]:
    """Points of the line, the coldest first; sorted so that the order of the input cannot change a last digit."""
    if not one_per_temperature:
        each = ((one.temperature_c, 1 / (one.days * _HOURS_PER_DAY), one.eggs) for one in durations)
        return [_Rate(*point) for point in sorted(each, key=lambda point: point[:2])]
    alike: dict[float, list[Duration]] = defaultdict(list)
    for one in durations:
        alike[one.temperature_c].append(one)
    return [
        _Rate(
            temperature_c,
            math.fsum(1 / (one.days * _HOURS_PER_DAY) for one in alike[temperature_c]) / len(alike[temperature_c]),
            sum(one.eggs or 0 for one in alike[temperature_c]) or None,
        )
        for temperature_c in sorted(alike)
    ]


def _least_squares(rates: Sequence[_Rate]) -> _Line:
    mean_c = math.fsum(one.temperature_c for one in rates) / len(rates)
    mean_rate = math.fsum(one.rate_per_h for one in rates) / len(rates)
    squares = math.fsum((one.temperature_c - mean_c) ** 2 for one in rates)
    products = math.fsum((one.temperature_c - mean_c) * (one.rate_per_h - mean_rate) for one in rates)
    slope = products / squares
    if slope * (rates[-1].temperature_c - rates[0].temperature_c) < _LEAST_CHANGE * mean_rate:
        reason = "durations do not fall with warmth, so no line through them has a developmental zero"
        raise StatedError(
            reason, "Check whether columns or rows are exchanged; leave out what is too hot for the eggs."
        )
    return _Line(mean_c, mean_rate, slope, squares)


def _described(rates: Sequence[_Rate], line: _Line, durations: Sequence[Duration]) -> Fit:
    mean_c, mean_rate, slope, squares = line
    zero_c, constant_ch = mean_c - mean_rate / slope, 1 / slope
    points = tuple(
        FitPoint(
            one.temperature_c,
            one.eggs,
            1 / (one.rate_per_h * _HOURS_PER_DAY),
            line_days(zero_c, constant_ch, one.temperature_c),
        )
        for one in rates
    )
    # Of a residual variance of one, so that the correlation is known also where the residual is not.
    zero_variance = (1 / slope) ** 2 / len(rates) + (mean_rate / slope**2) ** 2 / squares
    constant_variance = (1 / slope**2) ** 2 / squares
    covariance = -(mean_rate / slope**4) / squares
    residual = _residual_sd(rates, line)
    r_squared = _r_squared(rates, line)
    return Fit(
        developmental_zero_c=zero_c,
        thermal_constant_ch=constant_ch,
        developmental_zero_u_k=None if residual is None else residual * math.sqrt(zero_variance),
        thermal_constant_u_ch=None if residual is None else residual * math.sqrt(constant_variance),
        correlation=covariance / math.sqrt(zero_variance * constant_variance),
        residual_sd_pct=None if residual is None else 100 * residual / mean_rate,
        r_squared=r_squared,
        mean_absolute_error_pct=math.fsum(abs(one.difference_pct) for one in points) / len(points),
        within_treatment_cv_pct=_within_treatment_cv_pct(durations),
        flag=_flag(zero_c, r_squared, [one.temperature_c for one in rates]),
        pooled=len({one.source for one in durations if one.source}) > 1,
        points=points,
    )


def _squared_residuals(rates: Sequence[_Rate], line: _Line) -> float:
    mean_c, mean_rate, slope, _ = line
    return math.fsum((one.rate_per_h - mean_rate - slope * (one.temperature_c - mean_c)) ** 2 for one in rates)


def _residual_sd(rates: Sequence[_Rate], line: _Line) -> float | None:
    freedom = len(rates) - _LEAST_POINTS
    return math.sqrt(_squared_residuals(rates, line) / freedom) if freedom else None


def _r_squared(rates: Sequence[_Rate], line: _Line) -> float | None:
    if len(rates) == _LEAST_POINTS:
        return None
    total = math.fsum((one.rate_per_h - line.mean_rate_per_h) ** 2 for one in rates)
    return 1 - _squared_residuals(rates, line) / total


def _within_treatment_cv_pct(durations: Sequence[Duration]) -> float | None:
    """Pool relative standard deviations, each weighed by its degrees of freedom."""
    told = [
        (one.eggs - 1, one.days_sd / one.days) for one in durations if one.days_sd is not None and one.eggs is not None
    ]
    if not told:
        return None
    freedom = sum(degrees for degrees, _ in told)
    return 100 * math.sqrt(math.fsum(degrees * cv**2 for degrees, cv in told) / freedom)


def _flag(zero_c: float, r_squared: float | None, temperatures_c: Sequence[float]) -> Flag:
    if not _LOWEST_ZERO_C <= zero_c <= _HIGHEST_ZERO_C:
        return "do not use"
    if r_squared is None or len(set(temperatures_c)) == _LEAST_POINTS:
        return "two-point"
    if r_squared < _FAIR_R_SQUARED:
        return "weak"
    wide = temperatures_c[-1] - temperatures_c[0] >= _GOOD_SPAN_K
    return "good" if wide and r_squared >= _GOOD_R_SQUARED else "fair"
