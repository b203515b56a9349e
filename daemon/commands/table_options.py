"""The options of every command that reads a logger's CSV, and what they may be."""

from pathlib import Path
from typing import Annotated, Literal
from zoneinfo import ZoneInfo

import typer

from daemon.commands.site_folder import fail
from daemon.tabular.cells import Column
from daemon.tabular.layout import DECIMALS, Wanted
from daemon.tabular.times import named_format

LINES_LOOKED_AT = 20_000
"""From so many first lines it is found out how a table is written."""

FileArgument = Annotated[Path, typer.Argument(help="A record of any logger, as CSV.")]
TimeColumnOption = Annotated[
    list[str], typer.Option(help="Column of the time: heading, or number from 1. Twice where date and time are two.")
]
DelimiterOption = Annotated[str | None, typer.Option(help="Between the cells: , ; | or tab.", show_default="found out")]
DecimalOption = Annotated[str | None, typer.Option(help="Decimal sign: . or ,", show_default="found out")]
TimeFormatOption = Annotated[
    str | None,
    typer.Option(
        help="year-first, day-first, month-first, unix, unix-ms, or a pattern such as '%d %b %Y %H:%M'.",
        show_default="found out",
    ),
]
UnitOption = Annotated[Literal["C", "F"], typer.Option(help="Unit of the temperature column.")]


def wanted_table(
    time_columns: list[str],
    columns: tuple[Column, ...],
    delimiter: str | None,
    decimal: str | None,
    time_format: str | None,
) -> Wanted:
    """What the options ask of a table. Raises typer.Exit for a sign that cannot be, TableError for a time format."""
    if delimiter in {"tab", "\\t"}:
        delimiter = "\t"
    elif delimiter is not None and (len(delimiter) != 1 or delimiter.isalnum() or delimiter in '"\r\n'):
        raise fail(f'--delimiter "{delimiter}": give one sign, such as , or ; or |, or the word tab.')
    if decimal is not None and decimal not in DECIMALS:
        raise fail(f'--decimal "{decimal}": give . or ,')
    stated = None if time_format is None else named_format(time_format)
    return Wanted(tuple(time_columns), columns, delimiter, decimal, stated)


def zone_named(name: str | None) -> ZoneInfo | None:
    """The zone of that name. Raises typer.Exit where there is none."""
    if name is None:
        return None
    try:
        return ZoneInfo(name)
    except (KeyError, ValueError, OSError):
        raise fail(
            f'--time-zone: there is no zone "{name}". Write it as Europe/Madrid, or Etc/GMT-1 for UTC+1.'
        ) from None
