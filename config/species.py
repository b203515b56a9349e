"""Species profiles: temperature and humidity ranges, development, each number with its source.

A number from a paper names the paper. A number that only the trade vouches for says `common practice, no source`.
"""

from pathlib import Path
from typing import Annotated, Literal, NamedTuple, Self

from pydantic import AfterValidator, Field, ValidationError, model_validator

from config.celsius import looks_like_fahrenheit
from config.errors import Mistake, StatedError, refuse
from config.model import Identifier, Number, Table, Text
from config.plain import translate
from config.tomlfile import read_toml

BUILT_IN = Path(__file__).parent / "profiles"
_CELSIUS_HINT = "Temperatures in profiles are in °C."


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
        if self.low.value >= self.high.value:
            reason = f"low ({self.low.value:g}) is not below high ({self.high.value:g})"
            raise StatedError(reason, "Exchange the two, or correct one.")
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


class SpeciesProfile(Table):
    """What is known of one species, or of one population of it."""

    id: Identifier
    scientific_name: Text
    common_name: Text
    group: Literal[
        "snake",
        "gecko",
        "agamid",
        "iguanian",
        "chameleon",
        "turtle",
        "tortoise",
        "crocodilian",
        "tuatara",
        "other lizard",
    ]
    population: Text | None = None
    temperature: TemperatureRange
    humidity: HumidityRange | None = None
    development: DevelopmentFit | None = None
    usual_duration: UsualDuration | None = None
    pause: Literal["none", "diapause", "arrest"] = "none"
    caution: Text | None = None


class ProfilesRead(NamedTuple):
    """The profiles that can be used, by id, and whatever was found on the way."""

    profiles: dict[str, SpeciesProfile]
    mistakes: tuple[Mistake, ...]


def read_profiles(*extra_folders: Path) -> ProfilesRead:
    """Read the built-in profiles and those of the keeper's folders; of two with one id the later folder wins.

    A folder that does not exist holds no profiles. Never raises for what a file holds.
    """
    profiles: dict[str, SpeciesProfile] = {}
    mistakes: list[Mistake] = []
    for folder in (BUILT_IN, *extra_folders):
        for path in sorted(folder.glob("*.toml")):
            profile, found = _read_profile(path)
            mistakes.extend(found)
            if profile is not None:
                profiles[profile.id] = profile
    return ProfilesRead(profiles, tuple(mistakes))


def load_profiles(*extra_folders: Path) -> dict[str, SpeciesProfile]:
    """Read the profiles by id. Raises ConfigError with every mistake of every file."""
    profiles, mistakes = read_profiles(*extra_folders)
    refuse(mistakes)
    return profiles


def _read_profile(path: Path) -> tuple[SpeciesProfile | None, tuple[Mistake, ...]]:
    shown = f"{path.parent.name}/{path.name}"
    document, unreadable = read_toml(path, shown)
    if document is None:
        return None, unreadable
    try:
        profile = SpeciesProfile.model_validate(document)
    except ValidationError as error:
        return None, translate(error.errors(include_url=False), shown, SpeciesProfile, document)
    if profile.id != path.stem:
        reason = f'the id "{profile.id}" is not the name of the file'
        hint = (
            f'Rename the file to {profile.id}.toml or the id to "{path.stem}", so that a profile is found by its name.'
        )
        return None, (Mistake(shown, "id", reason, hint),)
    return profile, ()
