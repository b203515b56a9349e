"""Species profiles: temperature and humidity ranges, development, each number with its source.

A number from a paper names the paper. A number that only the trade vouches for says `common practice, no source`.
"""

from pathlib import Path
from typing import Literal, NamedTuple, Self

from pydantic import Field, ValidationError, model_validator

from config.errors import Mistake, StatedError, refuse
from config.model import Identifier, Table, Text
from config.plain import translate
from config.profile_model import (
    CareNote,
    DevelopmentFit,
    ExposureLimit,
    HumidityRange,
    SexDetermination,
    Sourced,
    StageLimits,
    StageTemperature,
    StatedDuration,
    TemperatureRange,
    UsualDuration,
    require_line,
)
from config.tomlfile import read_toml

__all__ = [
    "BUILT_IN",
    "CareNote",
    "DevelopmentFit",
    "ExposureLimit",
    "HumidityRange",
    "ProfilesRead",
    "SexDetermination",
    "Sourced",
    "SpeciesProfile",
    "StageLimits",
    "StageTemperature",
    "StatedDuration",
    "TemperatureRange",
    "UsualDuration",
    "load_profiles",
    "read_profiles",
]

BUILT_IN = Path(__file__).parent / "profiles"


class SpeciesProfile(Table):
    """What is known of one species, or of one population of it.

    Development is stated as a line or as the durations to lay one through. Stages follow each other in the order in
    which they stand; each changes what it states from then on. `venomous`: trained handlers alone go near its eggs.
    """

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
    durations: tuple[StatedDuration, ...] = Field(default=(), validation_alias="duration")
    usual_duration: UsualDuration | None = None
    stages: tuple[StageLimits, ...] = Field(default=(), validation_alias="stage")
    exposure: tuple[ExposureLimit, ...] = ()
    sex: SexDetermination | None = None
    pause: Literal["none", "diapause", "arrest"] = "none"
    venomous: bool = False
    caution: Text | None = None
    care: tuple[CareNote, ...] = ()

    @model_validator(mode="after")
    def _one_way_to_state_development(self) -> Self:
        if self.durations and self.development is not None:
            reason = "development and durations are both stated, and each gives a line of its own"
            raise StatedError(reason, "Keep one: the pair T0 and K of a published line, or the durations themselves.")
        if self.durations:
            require_line(self.durations)
        return self

    @model_validator(mode="after")
    def _stages_in_order(self) -> Self:
        for word in ("from_share", "from_day"):
            begins = [begin for one in self.stages if (begin := getattr(one, word)) is not None]
            if begins != sorted(set(begins)):
                shown = ", ".join(f"{begin:g}" for begin in begins)
                raise StatedError(f"stages must follow each other, and {word} is {shown}", "Sort the stages.")
        known = self.development or self.durations or self.usual_duration
        if (not known or self.pause != "none") and any(one.from_share is not None for one in self.stages):
            why = "development pauses in this species" if self.pause != "none" else "nothing says how long it takes"
            reason = f"a stage begins at a share of development, and no share can be told: {why}"
            raise StatedError(reason, "Give from_day instead, the days since laying.")
        return self

    @model_validator(mode="after")
    def _inside_lethal_limits(self) -> Self:
        lethal_low = self.temperature.lethal_low
        cold, heat = None if lethal_low is None else lethal_low.value, self.temperature.lethal_high.value
        for number, stage in enumerate(self.stages, start=1):
            for one in () if stage.temperature is None else (stage.temperature.low, stage.temperature.high):
                if one.value >= heat or (cold is not None and one.value <= cold):
                    limit = f"lethal_high ({heat:g})" if one.value >= heat else f"lethal_low ({cold:g})"
                    raise StatedError(f"{one.value:g} °C of stage {number} reaches {limit}", "Correct one of them.")
        return self

    @model_validator(mode="after")
    def _exposure_outside_the_safe_range(self) -> Self:
        wanted: list[TemperatureRange | StageTemperature] = [self.temperature]
        wanted += [one.temperature for one in self.stages if one.temperature is not None]
        low, high = min(one.low.value for one in wanted), max(one.high.value for one in wanted)
        for one in self.exposure:
            if one.above_c is not None and one.above_c < high:
                reason = f"above_c ({one.above_c:g}) of an exposure limit lies below high ({high:g}), where all is well"
                raise StatedError(reason, "Correct one of the two.")
            if one.below_c is not None and one.below_c > low:
                reason = f"below_c ({one.below_c:g}) of an exposure limit lies above low ({low:g}), where all is well"
                raise StatedError(reason, "Correct one of the two.")
        return self


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
