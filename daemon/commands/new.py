"""`clutchwarden new`: begin a site folder with two short files to change."""

import shutil
from pathlib import Path
from typing import Annotated

import typer

from config.site import STARTER
from daemon.commands.site_folder import fail


def new(folder: Annotated[Path, typer.Argument(help="The folder to begin; made where it does not exist.")]) -> None:
    """Begin a site folder. An existing file is never touched."""
    names = [path.name for path in sorted(STARTER.glob("*.toml"))]
    present = [name for name in names if (folder / name).exists()]
    if present:
        raise fail(f"{folder} already has {' and '.join(present)}; nothing was written. Name another folder.")
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name in names:
            shutil.copyfile(STARTER / name, folder / name)
    except OSError as error:
        raise fail(f"{folder} cannot be written: {(error.strerror or str(error)).lower()}.") from error
    print(f"Written: {', '.join(str(folder / name) for name in names)}.")
    print(f"Change them to what you have, then: clutchwarden check {folder}")
