"""Species as JSON: what a profile states, with the source of every figure. Always °C, % RH and °C·h."""

from collections.abc import Iterable

from pydantic import BaseModel, ConfigDict

from config.species import SpeciesProfile
from dashboards.species_list import UsedBy


class SpeciesRowJson(BaseModel):
    """One profile of the list. `is_own`: it lies in the folder of the site."""

    model_config = ConfigDict(frozen=True)

    id: str
    scientific_name: str
    common_name: str
    group: str
    population: str | None
    temperature_low_c: float
    temperature_high_c: float
    pause: str
    caution: str | None
    is_own: bool


class SpeciesListJson(BaseModel):
    """Every profile that this service works with."""

    model_config = ConfigDict(frozen=True)

    species: list[SpeciesRowJson]


class UsedByJson(BaseModel):
    """A clutch that the profile is used for."""

    model_config = ConfigDict(frozen=True, from_attributes=True)

    clutch_id: int
    label: str


class SpeciesJson(BaseModel):
    """One profile, whole; the caution comes first."""

    model_config = ConfigDict(frozen=True)

    caution: str | None
    is_own: bool
    used_by: list[UsedByJson]
    profile: SpeciesProfile


def species_list_json(profiles: Iterable[SpeciesProfile], own: frozenset[str]) -> SpeciesListJson:
    """Give the profiles their JSON form, by id."""
    rows = [
        SpeciesRowJson(
            id=each.id,
            scientific_name=each.scientific_name,
            common_name=each.common_name,
            group=each.group,
            population=each.population,
            temperature_low_c=each.temperature.low.value,
            temperature_high_c=each.temperature.high.value,
            pause=each.pause,
            caution=each.caution,
            is_own=each.id in own,
        )
        for each in sorted(profiles, key=lambda each: each.id)
    ]
    return SpeciesListJson(species=rows)


def species_json(profile: SpeciesProfile, used_by: Iterable[UsedBy], *, is_own: bool) -> SpeciesJson:
    """Give one profile its JSON form."""
    used = [UsedByJson.model_validate(each) for each in used_by]
    return SpeciesJson(caution=profile.caution, is_own=is_own, used_by=used, profile=profile)
