"""The parts of a species profile, checked on reading: figures with sources, development, stages, exposure, sex."""

from collections import defaultdict
from collections.abc import Sequence
from statistics import fmean, linear_regression
from typing import Annotated, Literal, Self

from pydantic import AfterValidator, Field, model_validator

from config.celsius import looks_like_fahrenheit
from config.errors import StatedError
from config.model import NOT_BLANK, Number, Share, Table, Text

_CELSIUS_HINT = "Temperatures in profiles are in °C."
_LEAST_TEMPERATURES = 2
_LEAST_CHANGE = 1e-9
"""Of the rate over the whole series, relative to its mean: less than this is the rounding of equal durations."""


class Sourced(Table):
    """A number and where it comes from."""

    value: Number
    source: Text


def _celsius(temperature_c: float) -> float:
    fahrenheit = looks_like_fahrenheit(temperature_c)
    if fahrenheit:
        raise StatedError(fahrenheit, _CELSIUS_HINT)
    return temperature_c


def _sourced_celsius(stated: Sourced) -> Sourced:
    _celsius(stated.value)
    return stated


def _percent(stated: Sourced) -> Sourced:
    if 0 < stated.value <= 1:
        reason = f"{stated.value:g} % looks like a ratio: it would be {stated.value * 100:g} %"
        raise StatedError(reason, "Relative humidity in profiles is in percent.")
    if not 0 <= stated.value <= 100:  # noqa: PLR2004 - percent
        raise StatedError(f"{stated.value:g} % is no relative humidity", "Give 0 to 100.")
    return stated


Celsius = Annotated[Number, AfterValidator(_celsius)]
SourcedCelsius = Annotated[Sourced, AfterValidator(_sourced_celsius)]
SourcedPercent = Annotated[Sourced, AfterValidator(_percent)]
Positive = Annotated[float, Field(strict=True, gt=0, allow_inf_nan=False)]


class TemperatureRange(Table):
    """Temperatures of the air around the eggs, degree Celsius.

    Between `low` and `high` incubation is safe. Beyond `lethal_high` embryos die, within minutes to hours. `lethal_low`
    is a temperature at which even a short cold spell kills, not one at which eggs kept there throughout fail. It is
    None where nothing published supports a figure, as in every built-in profile.
    """

    low: SourcedCelsius
    high: SourcedCelsius
    lethal_low: SourcedCelsius | None = None
    lethal_high: SourcedCelsius

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        stated = [one for one in (self.lethal_low, self.low, self.high, self.lethal_high) if one is not None]
        values = [one.value for one in stated]
        if values != sorted(set(values)):
            shown = ", ".join(f"{value:g}" for value in values)
            reason = f"lethal_low, low, high, lethal_high must rise in this order, and here are {shown}"
            raise StatedError(reason, "Correct the one that is out of order.")
        return self


class HumidityRange(Table):
    """Relative humidity of the air in the box, percent."""

    low: SourcedPercent
    high: SourcedPercent

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        _require_rising(self.low.value, self.high.value)
        return self


class DevelopmentFit(Table):
    """A straight line for the rate of development: 1/duration = (T - T0)/K.

    T0 (`developmental_zero_c`, degree Celsius) and K (`thermal_constant_ch`, degree Celsius times hour) belong together
    and come from one fit over `fit_low_c` to `fit_high_c`; T0 is an extrapolation, not a temperature at which embryos
    stop or die. Above `cap_c` no faster development is credited; `cap_source` says why, `source` is for all the rest.

    `flag`, what the line is worth: two-point (two temperatures, error unknown), weak (R2 below 0.9), good (R2 at least
    0.95 and temperatures over 4 K or more), fair (the rest). `pooled`: the durations are of several papers, and so
    perhaps of several populations.
    """

    developmental_zero_c: Celsius
    thermal_constant_ch: Positive
    fit_low_c: Celsius
    fit_high_c: Celsius
    cap_c: Celsius
    flag: Literal["good", "fair", "weak", "two-point"]
    pooled: bool = False
    source: Text
    cap_source: Text

    @model_validator(mode="after")
    def _possible(self) -> Self:
        low, high = self.fit_low_c, self.fit_high_c
        if low >= high:
            raise StatedError(f"fit_low_c ({low:g}) is not below fit_high_c ({high:g})", "Correct one of them.")
        if self.developmental_zero_c >= low:
            zero = f"developmental_zero_c ({self.developmental_zero_c:g})"
            reason = f"{zero} is not below the coldest temperature of the fit ({low:g})"
            raise StatedError(reason, "Take both numbers, T0 and K, and the range from the same fit.")
        if self.cap_c < high:
            reason = f"cap_c ({self.cap_c:g}) lies below the warmest temperature of the fit ({high:g})"
            raise StatedError(reason, "Raise the cap to the end of the fit, or take a fit that ends at the cap.")
        return self


class UsualDuration(Table):
    """How long incubation usually takes, days, at usual temperatures, degree Celsius."""

    days_low: Positive
    days_high: Positive
    temperature_low_c: Celsius
    temperature_high_c: Celsius
    source: Text

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if self.days_low > self.days_high or self.temperature_low_c > self.temperature_high_c:
            raise StatedError("a low figure is above its high one", "Exchange the two, or correct one.")
        return self


class StatedDuration(Table):
    """How long `eggs` eggs took on average from laying to hatching at one constant temperature, days, degree Celsius.

    `days_sd` is the standard deviation between those eggs. Both are None where not told.
    """

    temperature_c: Celsius
    days: Positive
    eggs: Annotated[int, Field(strict=True, ge=1)] | None = None
    days_sd: Annotated[float, Field(strict=True, ge=0, allow_inf_nan=False)] | None = None
    source: Text

    @model_validator(mode="after")
    def _scatter_of_several(self) -> Self:
        if self.days_sd is not None and (self.eggs is None or self.eggs == 1):
            reason = f"days_sd ({self.days_sd:g}) is the scatter between eggs, and eggs is not 2 or more"
            raise StatedError(reason, "Give the number of eggs beside it, or leave days_sd out.")
        return self


class StageTemperature(Table):
    """Temperatures of the air around the eggs from a stage on, degree Celsius; lethal limits stay as they are."""

    low: SourcedCelsius
    high: SourcedCelsius

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        _require_rising(self.low.value, self.high.value)
        return self


class StageLimits(Table):
    """What changes from a share of development on (0 to 1), or from a day after laying on; one of the two.

    A range that a stage does not state stays as it was before it.
    """

    from_share: Annotated[float, Field(strict=True, gt=0, lt=1)] | None = None
    from_day: Positive | None = None
    temperature: StageTemperature | None = None
    humidity: HumidityRange | None = None

    @model_validator(mode="after")
    def _one_beginning_and_a_change(self) -> Self:
        if (self.from_share is None) == (self.from_day is None):
            found = (
                "neither from_share nor from_day is" if self.from_day is None else "both from_share and from_day are"
            )
            raise StatedError(
                f"{found} given", "Give exactly one: from_share = 0.9 for the last tenth, or from_day = 14."
            )
        if self.temperature is None and self.humidity is None:
            raise StatedError("this stage changes nothing", "State its temperature or its humidity, or leave it out.")
        return self


class ExposureLimit(Table):
    """Minutes above (or below) a temperature, degree Celsius, that eggs stand within 24 or 48 h, added up."""

    above_c: Celsius | None = None
    below_c: Celsius | None = None
    minutes: Positive
    within_h: Literal[24, 48]
    source: Text

    @model_validator(mode="after")
    def _one_side_and_reachable(self) -> Self:
        if (self.above_c is None) == (self.below_c is None):
            found = "neither above_c nor below_c is" if self.above_c is None else "both above_c and below_c are"
            raise StatedError(f"{found} given", "Give exactly one; for heat and cold write two of these.")
        if self.minutes >= self.within_h * 60:
            reason = f"{self.minutes:g} minutes within {self.within_h} h can never be passed"
            raise StatedError(reason, f"Give less than {self.within_h * 60}, the minutes of {self.within_h} h.")
        return self


class SexDetermination(Table):
    """Sex by temperature: over which shares of development (0 to 1), and the pivotal temperature, degree Celsius.

    At `pivotal_c` as many males as females are expected; None where no figure is known. `note` says what is warm and
    what is cold. `source` is for the sensitive period and for the note.
    """

    sensitive_from_share: Share
    sensitive_to_share: Share
    pivotal_c: SourcedCelsius | None = None
    source: Text
    note: Text | None = None

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        low, high = self.sensitive_from_share, self.sensitive_to_share
        if low >= high:
            reason = f"sensitive_from_share ({low:g}) is not below sensitive_to_share ({high:g})"
            raise StatedError(reason, "Exchange the two, or correct one.")
        return self


class CareNote(Table):
    """What to mind in the care of these eggs, in one or two sentences, and where that comes from.

    `when`: in the first half of development, near its end, or always. `by_eye`: it asks for no hand in the box.
    """

    text: Annotated[str, Field(pattern=NOT_BLANK, max_length=300)]
    source: Text
    when: Literal["always", "early", "late"] = "always"
    by_eye: Annotated[bool, Field(strict=True)] = False


def require_line(durations: Sequence[StatedDuration]) -> None:
    """Refuse durations that no line with a developmental zero goes through. Raises StatedError.

    The line is that of mean rates, 1/duration, over temperature by least squares.
    """
    rates: dict[float, list[float]] = defaultdict(list)
    for one in durations:
        rates[one.temperature_c].append(1 / one.days)
    if len(rates) < _LEAST_TEMPERATURES:
        reason = "durations at one temperature make no line: T0 and K need two temperatures or more"
        raise StatedError(reason, "Add durations at another constant temperature, or state them as usual_duration.")
    slope, intercept = linear_regression(list(rates), [fmean(alike) for alike in rates.values()])
    coldest, warmest = min(rates), max(rates)
    if slope * (warmest - coldest) < _LEAST_CHANGE * fmean(1 / one.days for one in durations):
        reason = "the durations do not fall with warmth, so no line through them has a developmental zero"
        raise StatedError(reason, "Check whether figures are exchanged; leave out what is too hot for the eggs.")
    if -intercept / slope >= coldest:
        reason = f"the line reaches zero at {-intercept / slope:.1f} °C, not below {coldest:g} °C, where eggs did hatch"
        raise StatedError(reason, "Check the durations at the ends; leave out what is off the line, the warmest first.")


def _require_rising(low: float, high: float) -> None:
    if low >= high:
        raise StatedError(f"low ({low:g}) is not below high ({high:g})", "Exchange the two, or correct one.")
