"""Profiles and clutches for the tests of the hatch window."""

from collections import defaultdict
from collections.abc import Iterable

from config.species import SpeciesProfile
from daemon.development.basis import development_basis
from daemon.development.window import Future, HatchWindow, HeatSoFar, NoWindow, hatch_window
from tests.support.tables import read_table

DAY_MS = 86_400_000
JUST_LAID = HeatSoFar(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
HALF_OF_ALL = 0.6745
"""Half of all values of a normal distribution lie within so many standard deviations."""


def a_profile(
    durations: Iterable[tuple[float, float, str]] = (),
    usual: tuple[float, float, float, float] | None = None,
    group: str = "snake",
) -> SpeciesProfile:
    """A profile with durations (°C, days, paper), or with one usual duration (days from and to, °C from and to)."""
    document: dict[str, object] = {
        "id": "tested",
        "scientific_name": "Tested species",
        "common_name": "tested eggs",
        "group": group,
        "temperature": {
            "low": {"value": 15.0, "source": "invented"},
            "high": {"value": 34.0, "source": "invented"},
            "lethal_high": {"value": 40.0, "source": "invented"},
        },
    }
    stated = [{"temperature_c": at_c, "days": days, "source": paper} for at_c, days, paper in durations]
    if stated:
        document["duration"] = stated
    if usual is not None:
        keys = ("days_low", "days_high", "temperature_low_c", "temperature_high_c")
        document["usual_duration"] = {**dict(zip(keys, usual, strict=True)), "source": "invented"}
    return SpeciesProfile.model_validate(document)


def kept_from_laying(profile: SpeciesProfile, temperature_c: float) -> HatchWindow | NoWindow:
    """The window of eggs just laid, at the epoch, that will be kept at one exactly known temperature."""
    return hatch_window(profile, development_basis(profile), JUST_LAID, Future(temperature_c, 0.0, 0.0), 0)


def deviation(window: HatchWindow, days: float) -> float:
    """How far the true duration lies from the likely one, in standard deviations of the window."""
    return (days - window.likely_ms / DAY_MS) / window.sd_days


def published() -> dict[str, list[tuple[float, float, str]]]:
    """Durations (°C, days, paper) that the lines of the built-in profiles come from."""
    found: dict[str, list[tuple[float, float, str]]] = defaultdict(list)
    for row in read_table("published-durations.csv"):
        found[row["profile"]].append((float(row["temperature_c"]), float(row["incubation_days_mean"]), row["paper"]))
    return found
