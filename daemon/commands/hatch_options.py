"""What `clutchwarden hatch` can be told, in one place: the command itself then fits a screen."""

from pathlib import Path
from typing import Annotated

import typer

from daemon.commands.hatch_eggs import GROUPS

SiteArgument = Annotated[
    Path | None,
    typer.Argument(help="A site folder, for its clutches. Without one, say what the eggs are.", show_default=False),
]
LabelArgument = Annotated[str | None, typer.Argument(help="One clutch of the site.", show_default="all")]
SpeciesOption = Annotated[str | None, typer.Option(help="Species profile, for example elaphe-taeniura.")]
LaidOption = Annotated[
    str | None, typer.Option(help="Day they were laid, or the days between: 2026-05-01..2026-05-03.")
]
TemperatureOption = Annotated[
    float | None, typer.Option(help="What they are kept at, °C; with --file, before it begins and from now on.")
]
TemperatureUOption = Annotated[
    float, typer.Option(help="Standard uncertainty of the thermometer, K; ± 0.5 from a data sheet is 0.3.")
]
DurationOption = Annotated[float | None, typer.Option(help="Your own record: days that such eggs took. With --at.")]
AtOption = Annotated[float | None, typer.Option(help="Your own record: what they were kept at, °C.")]
GroupOption = Annotated[str | None, typer.Option(help=f"For your own record without --species: {', '.join(GROUPS)}.")]
FileOption = Annotated[list[Path] | None, typer.Option(help="A logger's CSV of their temperature; may be given again.")]
TimeColumnOption = Annotated[
    list[str] | None, typer.Option(help="With --file, column of the time: heading, or number from 1.")
]
TemperatureColumnOption = Annotated[
    str | None, typer.Option(help="With --file, column of the temperature: heading, or number from 1.")
]
ZoneOption = Annotated[str | None, typer.Option(help="Zone of the days, and of a logger's clock.", show_default="UTC")]
NowOption = Annotated[
    str | None, typer.Option(help="Reckon as of this moment.", show_default="now; with --file its last reading")
]
JsonOption = Annotated[bool, typer.Option("--json", help="For programs.")]
