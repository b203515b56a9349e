"""Profiles with the figures that a check needs and nothing else."""

from config.species import HumidityRange, Sourced, SpeciesProfile, TemperatureRange
from daemon.alarms.limits import Occupant

SOURCE = "made up for a check"


def sourced(value: float) -> Sourced:
    return Sourced(value=value, source=SOURCE)


def occupant(
    label: str,
    low: float,
    high: float,
    lethal_high: float,
    *,
    species: str = "",
    lethal_low: float | None = None,
    humidity: tuple[float, float] | None = None,
) -> Occupant:
    name = species or label.lower()
    profile = SpeciesProfile(
        id=name,
        scientific_name=f"Exemplum {name}",
        common_name=name,
        group="snake",
        temperature=TemperatureRange(
            low=sourced(low),
            high=sourced(high),
            lethal_low=None if lethal_low is None else sourced(lethal_low),
            lethal_high=sourced(lethal_high),
        ),
        humidity=None if humidity is None else HumidityRange(low=sourced(humidity[0]), high=sourced(humidity[1])),
    )
    return Occupant(label, profile)
