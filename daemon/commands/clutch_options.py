"""What may be said of a clutch that is entered by command."""

from typing import Annotated

import typer

SpeciesOption = Annotated[str, typer.Option("--species", help="Species profile, for example elaphe-taeniura.")]
PlaceOption = Annotated[str, typer.Option("--place", help="Where it lies: incubator/zone/box.")]
LaidOption = Annotated[
    str, typer.Option("--laid", help="Day it was laid, or the days between: 2026-05-01..2026-05-03.")
]
EggsOption = Annotated[int, typer.Option("--eggs", help="Number of eggs.")]
SetUpOption = Annotated[str | None, typer.Option("--set-up", help="When it came into the incubator. Default: now.")]
FoundOption = Annotated[str | None, typer.Option("--found", help="When the eggs were found.")]
KeptAtOption = Annotated[
    float | None,
    typer.Option(
        "--kept-at", help="How warm the eggs lay from laying to then, in the site's unit. Default: the room's."
    ),
]
KeptWithinOption = Annotated[
    float | None,
    typer.Option("--kept-within", help="How far that may be off, either way; two cases in three lie within it."),
]
PopulationOption = Annotated[str | None, typer.Option("--population", help="Population. Default: that of the profile.")]
DamOption = Annotated[str, typer.Option("--dam", help="The mother.")]
SireOption = Annotated[str, typer.Option("--sire", help="The father.")]
FirstMassOption = Annotated[float | None, typer.Option("--first-mass-g", help="Mass of one egg at the set-up, in g.")]
FirstLengthOption = Annotated[
    float | None, typer.Option("--first-length-mm", help="Length of one egg at the set-up, in mm.")
]
TagsOption = Annotated[str, typer.Option("--tags", help="Words to find it by, with commas between.")]
VenomousOption = Annotated[
    bool | None, typer.Option("--venomous/--not-venomous", help="Default: as the species profile says.")
]
ProtectedOption = Annotated[str, typer.Option("--protected", help="What the law asks for this species at your place.")]
NoteOption = Annotated[str, typer.Option("--note", help="Anything else.")]
