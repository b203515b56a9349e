"""`clutchwarden probe`: the agent on a small board beside the incubator."""

import os
import sys
from pathlib import Path
from typing import Annotated

import typer


def probe(
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
    """Read the sensors of this board, keep what they say on disk, and send it."""
    asked = [flag for flag, given in (("--check", check), ("--list", attached), ("--json", as_json)) if given]
    asked += ["--sysfs", str(sysfs)]
    asked += [] if write is None else ["--write-config", str(write)]
    asked += [] if file is None else ["--", str(file)]
    # A fresh program in place of this one: the commands have loaded what a small board has no room for.
    sys.stdout.flush()
    os.execv(sys.executable, [sys.executable, "-P", "-m", "sensors.agent", *asked])  # noqa: S606
