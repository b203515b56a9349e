"""What may be said of a box by command."""

from typing import Annotated

import typer

from daemon.rounds.values import Lid, Medium, Where

_EGGS = "By mark or number, such as 5 or 5,B; 3x for three of them without saying which."

BoxArgument = Annotated[str, typer.Argument(help="The box, such as N1 or north/top/N1; or the label of its clutch.")]
MediumOption = Annotated[Medium | None, typer.Option("--medium", help="The medium as the hand feels it.")]
LidOption = Annotated[Lid | None, typer.Option("--lid", help="The inside of the lid.")]
WipedOption = Annotated[bool, typer.Option("--wiped", help="The lid was wiped.")]
WaterOption = Annotated[float | None, typer.Option("--water-ml", help="Water that was added, ml.")]
WhereOption = Annotated[Where | None, typer.Option("--where", help="Where on the medium; never on eggs.")]
LookedOption = Annotated[bool, typer.Option("--eggs", help="The eggs were looked at.")]
RemoveOption = Annotated[
    list[str] | None, typer.Option("--remove", help=f"Lost eggs and why: 2:mould, stuck ones too. {_EGGS}")
]
WatchOption = Annotated[list[str] | None, typer.Option("--watch", help=f"Eggs that are put on watch. {_EGGS}")]
SoundOption = Annotated[list[str] | None, typer.Option("--sound", help=f"Eggs that are sound again. {_EGGS}")]
PippedOption = Annotated[list[str] | None, typer.Option("--pipped", help=f"Eggs that have pipped. {_EGGS}")]
HatchedOption = Annotated[list[str] | None, typer.Option("--hatched", help=f"Eggs that have hatched. {_EGGS}")]
EggNoteOption = Annotated[
    str, typer.Option("--egg-note", help="What is to be said of these eggs; the reason other needs it.")
]
TreatedOption = Annotated[str, typer.Option("--treated", help="With what, such as 'powder on the spot'.")]
RemarkOption = Annotated[str, typer.Option("--note", help="A remark.")]
SkipOption = Annotated[str, typer.Option("--skip", help="Why the box was left out.")]
AllWellOption = Annotated[
    bool, typer.Option("--all-well", help="States: medium clumps, lid dry, eggs looked at, nothing found.")
]
ThroughLidOption = Annotated[bool, typer.Option("--through-lid", help="It was not opened.")]
TrainedOption = Annotated[bool, typer.Option("--trained-handler", help="Venomous: whoever did it is trained for it.")]
RoundOption = Annotated[
    int | None, typer.Option("--round", help="Of an ended round too.", show_default="the one that goes on there")
]
