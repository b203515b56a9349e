"""Eggs that are in no journal, as `clutchwarden hatch` is told of them: checked, and answered."""

import math
from dataclasses import dataclass
from pathlib import Path
from typing import get_args
from zoneinfo import ZoneInfo

from pydantic import ValidationError

from config.celsius import looks_like_fahrenheit
from config.species import SpeciesProfile, UsualDuration, load_profiles
from config.words import Quantity
from daemon.commands.hatch_heat import Known, measured, steady
from daemon.commands.hatch_text import Answer
from daemon.commands.import_reading import read_record
from daemon.commands.site_folder import fail
from daemon.commands.species import nearest_species
from daemon.commands.table_options import wanted_table
from daemon.development.basis import development_basis
from daemon.development.heat_interval import HeatRule
from daemon.development.heat_since_laying import interval_ch
from daemon.development.window import HeatSoFar, hatch_window
from daemon.tabular.cells import Column
from daemon.tabular.errors import TableError

GROUPS: tuple[str, ...] = get_args(SpeciesProfile.model_fields["group"].annotation)
_OWN = "your own record"
_BRIDGE_MS = 30 * 60_000
"""Two readings further apart have a gap between them, as in the daemon."""
_NO_HEAT = HeatSoFar(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)


@dataclass(frozen=True, slots=True)
class OwnRecord:
    """One duration of the keeper's own, days at °C."""

    days: float | None
    at_c: float | None
    group: str | None


@dataclass(frozen=True, slots=True)
class Said:
    """What the keeper says of the eggs. Times are UTC ms."""

    laid_ms: tuple[int, int]
    temperature_c: float | None
    temperature_u_k: float
    zone: ZoneInfo
    now_ms: int | None


@dataclass(frozen=True, slots=True)
class Logger:
    """Files of a logger that lay with the eggs."""

    files: tuple[Path, ...]
    time_columns: tuple[str, ...]
    temperature_column: str | None
    unit: str


def known_profile(species: str | None, own: OwnRecord, folder: Path | None) -> SpeciesProfile:
    """The profile of the eggs; a record of the keeper's own takes the place of what it says of durations.

    Raises typer.Exit where that cannot be, ConfigError for a mistake in a profile.
    """
    if folder is not None and not folder.is_dir():
        raise fail(f"--profiles: there is no folder {folder}.")
    profile = None
    if species is not None:
        found = load_profiles(*(() if folder is None else (folder,)))
        if species not in found:
            raise fail(f"There is no species profile {species!r}. {nearest_species(species, found)}")
        profile = found[species]
    if own.days is None and own.at_c is None:
        if profile is None:
            raise fail("Give --species, or your own record: --duration-days 60 --at 28 --group snake.")
        return profile
    usual = _usual(own)
    if profile is not None:
        return profile.model_copy(update={"development": None, "durations": (), "usual_duration": usual})
    if own.group not in GROUPS:
        raise fail(f"--group: say what they are, one of {', '.join(GROUPS)}.")
    # Of eggs without a profile nobody states limits, and none are asked for here.
    return SpeciesProfile.model_construct(
        id="own-record", scientific_name=_OWN, common_name=f"{own.group} eggs", group=own.group, usual_duration=usual
    )


def _usual(own: OwnRecord) -> UsualDuration:
    if own.days is None or own.at_c is None:
        raise fail("Your own record needs both: --duration-days 60 --at 28.")
    _require_celsius("--at", own.at_c)
    try:
        return UsualDuration(
            days_low=own.days, days_high=own.days, temperature_low_c=own.at_c, temperature_high_c=own.at_c, source=_OWN
        )
    except ValidationError:
        raise fail(f"--duration-days {own.days:g}: give days above 0, from laying to hatching.") from None


def answer_for(profile: SpeciesProfile, said: Said, logger: Logger, clock_ms: int) -> Answer:
    """When the eggs will hatch. Raises typer.Exit with a sentence for what cannot be."""
    if said.temperature_c is not None:
        _require_celsius("--temperature", said.temperature_c)
    if not (0 <= said.temperature_u_k < math.inf):
        raise fail(f"--temperature-u {said.temperature_u_k:g}: give K from 0 up, for example 0.3.")
    if said.temperature_c is None and not logger.files:
        raise fail("Give --temperature, what the eggs are kept at, or a logger's --file.")
    readings = _readings(logger, said.zone, clock_ms) if logger.files else []
    now_ms = said.now_ms
    if now_ms is None:
        now_ms = readings[-1][0] if readings else clock_ms
    if said.laid_ms[0] > now_ms:
        raise fail("--laid is after the moment that is reckoned from. Check the day, or give --now.")
    basis = development_basis(profile)
    known = None if basis is None else _known(said, readings, HeatRule(basis.zero_c, basis.cap_c), now_ms)
    heat = _NO_HEAT if known is None else known.heat
    return Answer(
        name=f"{profile.common_name} ({profile.scientific_name})",
        basis=basis,
        laid_ms=said.laid_ms,
        heat_ch=None if known is None else interval_ch(heat),
        share=heat.best_ch / basis.constant_ch if basis is not None and profile.pause == "none" else None,
        window=hatch_window(profile, basis, heat, None if known is None else known.future, now_ms),
        caution=profile.caution or "",
        zone=said.zone,
        now_ms=now_ms,
    )


def _known(said: Said, readings: list[tuple[int, float]], rule: HeatRule, now_ms: int) -> Known:
    if readings:
        until = [one for one in readings if one[0] <= now_ms]
        if not until or until[-1][0] < said.laid_ms[0]:
            raise fail("The record holds no reading between laying and the moment that is reckoned from.")
        return measured(said.laid_ms, until, said.temperature_c, said.temperature_u_k, rule, _BRIDGE_MS, now_ms)
    if said.temperature_c is None:
        raise fail("Give --temperature, what the eggs are kept at.")
    return steady(said.laid_ms, said.temperature_c, said.temperature_u_k, rule, now_ms)


def _readings(logger: Logger, zone: ZoneInfo, clock_ms: int) -> list[tuple[int, float]]:
    """All readings of all files in order of time; two files may overlap where they say the same."""
    if not logger.time_columns or logger.temperature_column is None:
        raise fail("With --file, give --time-column and --temperature-column: a heading, or a number from 1.")
    column = Column(logger.temperature_column, Quantity.AIR_TEMPERATURE, logger.unit)
    found: dict[int, float] = {}
    for file in logger.files:
        try:
            wanted = wanted_table(list(logger.time_columns), (column,), None, None, None)
            record = read_record(file, wanted, zone, clock_ms)
        except TableError as error:
            raise fail(f"{file}: {error}\n  Nothing was reckoned.") from error
        for at_ms, value in zip(record.times_ms[0], record.values[0], strict=True):
            if found.setdefault(at_ms, value) != value:
                raise fail(f"{file}: another file says {found[at_ms]:g} °C where this one says {value:g} °C. Give one.")
    return sorted(found.items())


def _require_celsius(option: str, value: float) -> None:
    if not math.isfinite(value):
        raise fail(f"{option}: {value} is not a temperature. Give a number in °C.")
    fahrenheit = looks_like_fahrenheit(value)
    if fahrenheit:
        raise fail(f"{option}: {fahrenheit}. Give °C.")
