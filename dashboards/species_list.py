"""The list of species profiles, and the search in it. Pure."""

import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from config.species import SpeciesProfile
from daemon.overview import ClutchNow, Overview
from daemon.species_text import usual_days
from dashboards import figures
from dashboards.setup_paths import species_path

LONGEST_SEARCH = 100


@dataclass(frozen=True, slots=True)
class UsedBy:
    """A clutch that a profile is used for."""

    clutch_id: int
    label: str


@dataclass(frozen=True, slots=True)
class SpeciesRow:
    """One profile of the list."""

    species_id: str
    path: str
    scientific_name: str
    common_name: str
    about: str
    air: str
    days: str
    caution: str
    is_own: bool
    used_by: tuple[UsedBy, ...]


@dataclass(frozen=True, slots=True)
class SpeciesListView:
    """The whole page. `notice` says that a search found nothing."""

    site_name: str
    clock: str
    zone: str
    searched: str
    count: str
    notice: str
    rows: tuple[SpeciesRow, ...]


def species_list_view(
    profiles: Mapping[str, SpeciesProfile], own: frozenset[str], overview: Overview, searched: str
) -> SpeciesListView:
    """Give the profiles that a search names, those in use first, then the keeper's own, then by scientific name."""
    words = _plain(searched[:LONGEST_SEARCH]).split()
    found = [each for each in profiles.values() if all(word in _plain(_all_names(each)) for word in words)]
    rows = [_row(each, overview, is_own=each.id in own) for each in found]
    rows.sort(key=lambda row: (not row.used_by, not row.is_own, row.scientific_name))
    everything = len(profiles)
    return SpeciesListView(
        site_name=overview.site_name,
        clock=figures.moment_text(figures.local(overview.now_ms, ZoneInfo(overview.time_zone))),
        zone=overview.time_zone,
        searched=searched[:LONGEST_SEARCH],
        count=f"{len(rows)} of {everything}" if words else str(everything),
        notice="" if rows else "No profile has such a name. Search for less, or write a profile of your own.",
        rows=tuple(rows),
    )


def used_by(species_id: str, overview: Overview) -> tuple[UsedBy, ...]:
    """Give the clutches that are on the first page and of this species."""
    clutches: list[ClutchNow] = [each for incubator in overview.incubators for each in incubator.clutches]
    return tuple(UsedBy(each.clutch_id, each.label) for each in clutches if each.species_id == species_id)


def air_text(profile: SpeciesProfile, fahrenheit: bool) -> str:
    """The temperatures at which all is well, such as `26.0 to 30.0 °C`."""
    stated = profile.temperature
    low, high = (figures.temperature(each.value, fahrenheit) for each in (stated.low, stated.high))
    return f"{low.number} to {high}"


def _row(profile: SpeciesProfile, overview: Overview, *, is_own: bool) -> SpeciesRow:
    about = [profile.group, *([profile.population] if profile.population else [])]
    if profile.pause != "none":
        about.append(f"development pauses ({profile.pause})")
    usual = usual_days(profile)
    days = ""
    if usual.days:
        days = f"{usual.days} days at {usual.temperatures_c} °C"
    return SpeciesRow(
        species_id=profile.id,
        path=species_path(profile.id),
        scientific_name=profile.scientific_name,
        common_name=profile.common_name,
        about="; ".join(about),
        air=air_text(profile, overview.fahrenheit),
        days=days,
        caution=profile.caution or "",
        is_own=is_own,
        used_by=used_by(profile.id, overview),
    )


def _all_names(profile: SpeciesProfile) -> str:
    parts = (profile.id, profile.scientific_name, profile.common_name, profile.group, profile.population or "")
    return " ".join(parts)


def _plain(text: str) -> str:
    """Small letters without accents, so that nobody has to type them."""
    apart = unicodedata.normalize("NFKD", text.replace("-", " "))
    return "".join(each for each in apart if not unicodedata.combining(each)).casefold()
