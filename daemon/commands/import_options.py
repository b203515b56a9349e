"""What `clutchwarden import` can be told beside how a table is written: the command itself then fits a screen."""

from pathlib import Path
from typing import Annotated, Literal

import typer

SiteArgument = Annotated[
    Path,
    typer.Argument(help="The site folder; may be left out where --site names it, or it is this one."),
]
RecordArgument = Annotated[Path | None, typer.Argument(help="A record of any logger, as CSV.", show_default=False)]
TemperatureColumnOption = Annotated[
    str | None, typer.Option(help="Column of the temperature: heading, or number from 1.")
]
ToOption = Annotated[str | None, typer.Option(help="Where the temperature belongs, for example north-air/t.")]
HumidityColumnOption = Annotated[
    str | None, typer.Option(help="Column of the relative humidity: heading, or number from 1.")
]
HumidityToOption = Annotated[str | None, typer.Option(help="Where the humidity belongs, for example north-air/rh.")]
ZoneOption = Annotated[
    str | None,
    typer.Option(
        help="Zone of the logger's clock, for example Europe/Berlin; Etc/GMT-1 for one always at UTC+1.",
        show_default="the site's",
    ),
]
HumidityUnitOption = Annotated[
    Literal["percent", "fraction"], typer.Option(help="Unit of the humidity column; a fraction is 0 to 1.")
]
DryRunOption = Annotated[bool, typer.Option("--dry-run", help="Only show what would be stored.")]
YesOption = Annotated[bool, typer.Option("--yes", help="Do not ask.")]
JsonOption = Annotated[bool, typer.Option("--json", help="For programs; needs --yes or --dry-run.")]
