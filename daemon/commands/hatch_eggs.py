"""Eggs that are in no journal, as `clutchwarden hatch` is told of them: checked, and answered."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import get_args
from zoneinfo import ZoneInfo

from pydantic import ValidationError

from config.celsius import looks_like_fahrenheit
from config.species import Sourced, SpeciesProfile, TemperatureRange, UsualDuration
from config.words import Quantity
from daemon.commands.hatch_heat import Known, measured, steady
from daemon.commands.hatch_text import Answer
from daemon.commands.import_reading import Record, read_record
from daemon.commands.site_folder import fail
from daemon.commands.species import nearest_species
from daemon.commands.table_options import wanted_table
from daemon.development.basis import development_basis
from daemon.development.heat_interval import HeatRule
from daemon.development.heat_since_laying import interval_ch
from daemon.development.window import HeatSoFar, hatch_window
from daemon.tabular.cells import Column
from daemon.tabular.errors import TableError
from daemon.tabular.interpretation import left_out, read_as

GROUPS: tuple[str, ...] = get_args(SpeciesProfile.model_fields["group"].annotation)
_OWN = "your own record"
_FEWEST_DAYS, _MOST_DAYS = 10, 400
"""No egg of a reptile that develops without a rest is known to take less or more. Common practice, no source."""
_PAUSING = {"chameleon"}
"""Groups with many species whose development rests in the egg, some of them by the weather."""
_NO_LIMITS = TemperatureRange.model_construct(
    low=Sourced.model_construct(value=-math.inf, source=_OWN),
    high=Sourced.model_construct(value=math.inf, source=_OWN),
    lethal_high=Sourced.model_construct(value=math.inf, source=_OWN),
)
"""Of eggs without a profile nobody states limits."""
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
    zone_is_given: bool


def known_profile(species: str | None, own: OwnRecord, profiles: Mapping[str, SpeciesProfile]) -> SpeciesProfile:
    """The profile of the eggs; a record of the keeper's own takes the place of what it says of durations.

    Raises typer.Exit where that cannot be.
    """
    profile = None
    if species is not None:
        if species not in profiles:
            raise fail(f"There is no species profile {species!r}. {nearest_species(species, profiles)}")
        profile = profiles[species]
    if own.days is None and own.at_c is None:
        if profile is None:
            raise fail("Give --species, or your own record: --duration-days 60 --at 28 --group snake.")
        return profile
    usual = _usual(own)
    if profile is not None:
        return profile.model_copy(update={"development": None, "durations": (), "usual_duration": usual})
    if own.group not in GROUPS:
        raise fail(f"--group: say what they are, one of {', '.join(GROUPS)}.")
    return SpeciesProfile.model_construct(
        id="own-record",
        scientific_name=_OWN,
        common_name=f"{own.group} eggs",
        group=own.group,
        temperature=_NO_LIMITS,
        usual_duration=usual,
        caution=_may_rest(own.group),
    )


def _may_rest(group: str | None) -> str | None:
    if group not in _PAUSING:
        return None
    return (
        f"Development of many {group}s rests in the egg, and heat does not tell for how long. This date holds only "
        "for a species that does not do so; its profile says (--species)."
    )


def _usual(own: OwnRecord) -> UsualDuration:
    if own.days is None or own.at_c is None:
        raise fail("Your own record needs both: --duration-days 60 --at 28.")
    _require_celsius("--at", own.at_c)
    if not _FEWEST_DAYS <= own.days <= _MOST_DAYS:
        raise fail(
            f"--duration-days {own.days:g}: give days from laying to hatching, {_FEWEST_DAYS} to {_MOST_DAYS}. Eggs "
            "that take longer rest in between, and heat tells no date."
        )
    try:
        return UsualDuration(
            days_low=own.days, days_high=own.days, temperature_low_c=own.at_c, temperature_high_c=own.at_c, source=_OWN
        )
    except ValidationError:
        raise fail(f"--at {own.at_c:g}: eggs do not develop at this. Give what they were kept at, °C.") from None


def answer_for(profile: SpeciesProfile, said: Said, logger: Logger, clock_ms: int) -> Answer:
    """When the eggs will hatch. Raises typer.Exit with a sentence for what cannot be."""
    if said.temperature_c is not None:
        _require_celsius("--temperature", said.temperature_c)
    if not (0 <= said.temperature_u_k < math.inf):
        raise fail(f"--temperature-u {said.temperature_u_k:g}: give K from 0 up, for example 0.3.")
    if said.temperature_c is None and not logger.files:
        raise fail("Give --temperature, what the eggs are kept at, or a logger's --file.")
    records = _records(logger, said.zone, clock_ms)
    readings = _readings(records)
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
        read_from=tuple(_told(record, zone_is_given=logger.zone_is_given) for record in records),
        assumed="" if known is None or not readings else _assumed(said, readings[0][0], known),
    )


def _told(record: Record, *, zone_is_given: bool) -> tuple[str, dict[str, str]]:
    """How a file was read."""
    manner, told, [met] = record.manner, record.told, record.told.columns
    return str(record.file), {
        **read_as(manner, record.wanted, told, record.text_is, "given" if zone_is_given else "no --time-zone given"),
        "temperature": f"column {manner.layout.name(manner.layout.columns[0])}: {manner.columns[0].unit_words}",
        "readings": f"{met.readings}, {met.lowest:.1f} to {met.highest:.1f} °C",
        "left out": left_out(told),
    }


def _assumed(said: Said, first_ms: int, known: Known) -> str:
    """What the eggs are taken to have been kept at before the files, and to be kept at from now on."""
    after = f"{known.future.temperature_c:.1f} °C from now on"
    if said.temperature_c is None:
        after += ", the mean of the last three days on file"
    if first_ms <= sum(said.laid_ms) // 2:
        return f"{after}; the files begin at laying or before."
    before = "anything that eggs stand" if said.temperature_c is None else f"{said.temperature_c:.1f} °C"
    return f"{before} from laying to the first reading; {after}."


def _known(said: Said, readings: list[tuple[int, float]], rule: HeatRule, now_ms: int) -> Known:
    if readings:
        until = [one for one in readings if one[0] <= now_ms]
        if not until or until[-1][0] < said.laid_ms[0]:
            raise fail("The record holds no reading between laying and the moment that is reckoned from.")
        return measured(said.laid_ms, until, said.temperature_c, said.temperature_u_k, rule, _BRIDGE_MS, now_ms)
    if said.temperature_c is None:
        raise fail("Give --temperature, what the eggs are kept at.")
    return steady(said.laid_ms, said.temperature_c, said.temperature_u_k, rule, now_ms)


def _records(logger: Logger, zone: ZoneInfo, clock_ms: int) -> list[Record]:
    if not logger.files:
        return []
    if not logger.time_columns or logger.temperature_column is None:
        raise fail("With --file, give --time-column and --temperature-column: a heading, or a number from 1.")
    column = Column(logger.temperature_column, Quantity.AIR_TEMPERATURE, logger.unit)
    found = []
    for file in logger.files:
        try:
            wanted = wanted_table(list(logger.time_columns), (column,), None, None, None)
            found.append(read_record(file, wanted, zone, clock_ms))
        except TableError as error:
            raise fail(f"{file}: {error}\n  Nothing was reckoned.") from error
    return found


def _readings(records: Sequence[Record]) -> list[tuple[int, float]]:
    """All readings of all files in order of time; two files may overlap where they say the same."""
    found: dict[int, float] = {}
    for record in records:
        for at_ms, value in zip(record.times_ms[0], record.values[0], strict=True):
            if found.setdefault(at_ms, value) != value:
                raise fail(
                    f"{record.file}: another file says {found[at_ms]:g} °C where this one says {value:g} °C. Give one."
                )
    return sorted(found.items())


def _require_celsius(option: str, value: float) -> None:
    if not math.isfinite(value):
        raise fail(f"{option}: {value} is not a temperature. Give a number in °C.")
    fahrenheit = looks_like_fahrenheit(value)
    if fahrenheit:
        raise fail(f"{option}: {fahrenheit}. Give °C.")
