"""`clutchwarden heat`: the degree-hours in a logger's CSV, with everything said that was found out. Needs no daemon."""

import json
import math
from itertools import chain, islice
from pathlib import Path
from typing import Annotated
from zoneinfo import ZoneInfo

import typer

from config.celsius import looks_like_fahrenheit
from config.words import Quantity
from daemon.commands.heat_report import Result, as_dict, as_text
from daemon.commands.progress import lines_with_progress
from daemon.commands.site_folder import fail
from daemon.commands.table_options import (
    LINES_LOOKED_AT,
    DecimalOption,
    DelimiterOption,
    FileArgument,
    TimeColumnOption,
    TimeFormatOption,
    UnitOption,
    wanted_table,
    zone_named,
)
from daemon.development.streamed_heat import heat_of
from daemon.tabular.cells import Column
from daemon.tabular.errors import TableError
from daemon.tabular.file import open_table
from daemon.tabular.layout import Wanted
from daemon.tabular.record import Told, found_manner, read

_MS_PER_MINUTE = 60_000


def heat(
    file: FileArgument,
    time_column: TimeColumnOption,
    temperature_column: Annotated[str, typer.Option(help="Column of the temperature: heading, or number from 1.")],
    zero: Annotated[float, typer.Option(help="Developmental zero, °C.")],
    cap: Annotated[
        float | None, typer.Option(help="Above this no more heat is credited, °C.", show_default="none")
    ] = None,
    delimiter: DelimiterOption = None,
    decimal: DecimalOption = None,
    time_format: TimeFormatOption = None,
    time_zone: Annotated[
        str | None,
        typer.Option(
            help="Zone of the logger's clock, for example Europe/Madrid, where it follows summer time.",
            show_default="a clock that is never changed",
        ),
    ] = None,
    unit: UnitOption = "C",
    longest_gap_min: Annotated[float, typer.Option(help="A longer gap is missing: no heat is made up for it.")] = 30,
    as_json: Annotated[bool, typer.Option("--json", help="For programs.")] = False,
) -> None:
    """Sum the heat in a record, in degree-hours. Either every row is understood, or none is used."""
    _require_thresholds(zero, cap)
    bridge_ms = _bridge_ms(longest_gap_min)
    zone = zone_named(time_zone)
    temperature = Column(temperature_column, Quantity.AIR_TEMPERATURE, unit)
    try:
        wanted = wanted_table(time_column, (temperature,), delimiter, decimal, time_format)
        result = _result(file, wanted, zone, zero, cap, bridge_ms)
    except TableError as error:
        raise fail(f"{file}: {error}\n  Nothing was added up.") from error
    print(json.dumps(as_dict(result), indent=2) if as_json else as_text(result))


def _result(
    file: Path, wanted: Wanted, zone: ZoneInfo | None, zero: float, cap: float | None, bridge_ms: int
) -> Result:
    told = Told.of(wanted.columns)
    with open_table(file) as table, lines_with_progress(table) as lines:
        head = list(islice(lines, LINES_LOOKED_AT))
        manner = found_manner(head, wanted, zone)
        readings = ((found.at_ms, found.value) for found in read(chain(head, lines), manner, told))
        found = heat_of(readings, zero, cap, bridge_ms)
    [met] = told.columns
    if met.readings < 2:  # noqa: PLR2004 - a stretch has two ends
        few = "no reading" if not met.readings else "a single reading"
        raise TableError(None, f"there is {few} in it", "Heat needs two or more. Is it the right column?")
    return Result(str(file), found, told, manner, wanted, table.text_is, zero, cap, bridge_ms)


def _require_thresholds(zero: float, cap: float | None) -> None:
    for option, value in (("--zero", zero), ("--cap", cap)):
        if value is None:
            continue
        if not math.isfinite(value):
            raise fail(f"{option}: {value} is not a temperature. Give a number in °C.")
        fahrenheit = looks_like_fahrenheit(value)
        if fahrenheit:
            raise fail(f"{option}: {fahrenheit}. Give °C here, whatever the unit of the table.")
    if cap is not None and cap <= zero:
        raise fail(f"--cap {cap:g} is not above --zero {zero:g}: no heat could be credited. Check both.")


def _bridge_ms(minutes: float) -> int:
    if not (math.isfinite(minutes) and minutes * _MS_PER_MINUTE >= 1):
        raise fail(f"--longest-gap-min {minutes:g}: give minutes above 0, longer than the logger's interval.")
    return round(minutes * _MS_PER_MINUTE)
