"""`clutchwarden heat`: the degree-hours in a logger's CSV, with everything said that was found out. Needs no daemon."""

import json
import math
from itertools import chain, islice
from pathlib import Path
from typing import Annotated, Literal
from zoneinfo import ZoneInfo

import typer

from config.celsius import looks_like_fahrenheit
from daemon.commands.heat_report import Result, as_dict, as_text
from daemon.commands.progress import lines_with_progress
from daemon.commands.site_folder import fail
from daemon.development.streamed_heat import heat_of
from daemon.tabular.errors import TableError
from daemon.tabular.file import open_table
from daemon.tabular.layout import DECIMALS, Wanted
from daemon.tabular.record import Told, found_manner, read
from daemon.tabular.times import named_format

_LINES_LOOKED_AT = 20_000
_MS_PER_MINUTE = 60_000


def heat(
    file: Annotated[Path, typer.Argument(help="A record of any logger, as CSV.")],
    time_column: Annotated[
        list[str],
        typer.Option(help="Column of the time: heading, or number from 1. Twice where date and time are two."),
    ],
    temperature_column: Annotated[str, typer.Option(help="Column of the temperature: heading, or number from 1.")],
    zero: Annotated[float, typer.Option(help="Developmental zero, °C.")],
    cap: Annotated[
        float | None, typer.Option(help="Above this no more heat is credited, °C.", show_default="none")
    ] = None,
    delimiter: Annotated[
        str | None, typer.Option(help="Between the cells: , ; | or tab.", show_default="found out")
    ] = None,
    decimal: Annotated[str | None, typer.Option(help="Decimal sign: . or ,", show_default="found out")] = None,
    time_format: Annotated[
        str | None,
        typer.Option(
            help="year-first, day-first, month-first, unix, unix-ms, or a pattern such as '%d %b %Y %H:%M'.",
            show_default="found out",
        ),
    ] = None,
    time_zone: Annotated[
        str | None,
        typer.Option(
            help="Zone of the logger's clock, for example Europe/Madrid, where it follows summer time.",
            show_default="a clock that is never changed",
        ),
    ] = None,
    unit: Annotated[Literal["C", "F"], typer.Option(help="Unit of the temperature column.")] = "C",
    longest_gap_min: Annotated[float, typer.Option(help="A longer gap is missing: no heat is made up for it.")] = 30,
    as_json: Annotated[bool, typer.Option("--json", help="For programs.")] = False,
) -> None:
    """Sum the heat in a record, in degree-hours. Either every row is understood, or none is used."""
    _require_thresholds(zero, cap)
    bridge_ms = _bridge_ms(longest_gap_min)
    zone = _zone(time_zone)
    try:
        wanted = Wanted(
            tuple(time_column),
            temperature_column,
            _delimiter(delimiter),
            _decimal(decimal),
            None if time_format is None else named_format(time_format),
        )
        result = _result(file, wanted, unit, zone, zero, cap, bridge_ms)
    except TableError as error:
        raise fail(f"{file}: {error}\n  Nothing was added up.") from error
    print(json.dumps(as_dict(result), indent=2) if as_json else as_text(result))


def _result(
    file: Path, wanted: Wanted, unit: str, zone: ZoneInfo | None, zero: float, cap: float | None, bridge_ms: int
) -> Result:
    told = Told()
    with open_table(file) as table, lines_with_progress(table) as lines:
        head = list(islice(lines, _LINES_LOOKED_AT))
        manner = found_manner(head, wanted, unit, zone)
        found = heat_of(read(chain(head, lines), manner, told), zero, cap, bridge_ms)
    if told.readings < 2:  # noqa: PLR2004 - a stretch has two ends
        few = "no reading" if not told.readings else "a single reading"
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


def _zone(name: str | None) -> ZoneInfo | None:
    if name is None:
        return None
    try:
        return ZoneInfo(name)
    except (KeyError, ValueError, OSError):
        raise fail(
            f'--time-zone: there is no zone "{name}". Write it as Europe/Madrid, or Etc/GMT-1 for UTC+1.'
        ) from None


def _delimiter(given: str | None) -> str | None:
    if given in {"tab", "\\t"}:
        return "\t"
    if given is not None and (len(given) != 1 or given.isalnum() or given in '"\r\n'):
        raise fail(f'--delimiter "{given}": give one sign, such as , or ; or |, or the word tab.')
    return given


def _decimal(given: str | None) -> str | None:
    if given is not None and given not in DECIMALS:
        raise fail(f'--decimal "{given}": give . or ,')
    return given
