"""`clutchwarden probe`: the agent on a small board beside the incubator, and the accounts of probes at the broker."""

import os
import sys
from pathlib import Path
from typing import Annotated, Any

import typer
from typer.core import TyperGroup

from daemon.commands.probe_enroll import dismiss, enroll

_HELP = (
    "Read the sensors of this board, keep what they say on disk, and send it. "
    "Without a word before it, FILE.toml and the options of `agent` are for the agent: clutchwarden probe --list, "
    "clutchwarden probe FILE.toml. Where the broker is, `enroll` and `dismiss` say which probes may send."
)


class ProbeGroup(TyperGroup):
    """A group in which what is no command goes to the agent, as it did before there were others."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Put in the word that was left out; a site before the word goes behind it."""
        # As it is typed: --site X, or --site=X.
        of_site = 2 if args[:1] == ["--site"] else int(args[:1] != [] and args[0].startswith("--site="))
        if of_site and args[of_site : of_site + 1] and args[of_site] in self.commands:
            args = [args[of_site], *args[:of_site], *args[of_site + 1 :]]
        if not args or (args[0] not in self.commands and args[0] != "--help"):
            args = ["agent", *args]
        return super().parse_args(ctx, args)


app = typer.Typer(cls=ProbeGroup, help=_HELP)


@app.command()
def agent(
    file: Annotated[Path | None, typer.Argument(metavar="FILE.toml", help="The agent's file.")] = None,
    check: Annotated[bool, typer.Option("--check", help="Say what is wrong in the file, and end.")] = False,
    attached: Annotated[bool, typer.Option("--list", help="Say what is attached, and end.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="With --list: as JSON.")] = False,
    write: Annotated[
        Path | None,
        typer.Option("--write-config", metavar="FILE", help="Write a file with what is attached, and end."),
    ] = None,
    sysfs: Annotated[Path, typer.Option(help="Where the kernel's files are.")] = Path("/sys"),
) -> None:
    """Read the sensors of this board, keep what they say on disk, and send it. The word `agent` may be left out."""
    asked = [flag for flag, given in (("--check", check), ("--list", attached), ("--json", as_json)) if given]
    asked += ["--sysfs", str(sysfs)]
    asked += [] if write is None else ["--write-config", str(write)]
    asked += [] if file is None else ["--", str(file)]
    # A fresh program in place of this one: the commands have loaded what a small board has no room for.
    sys.stdout.flush()
    os.execv(sys.executable, [sys.executable, "-P", "-m", "sensors.agent", *asked])  # noqa: S606


app.command()(enroll)
app.command()(dismiss)
