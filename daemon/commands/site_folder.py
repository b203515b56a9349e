"""What most commands begin with: the site folder, read and checked."""

import getpass
import os
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated
from zoneinfo import ZoneInfo

import typer

from config.check import check_site
from config.errors import ConfigError
from config.places import Places
from config.secret_file import as_service
from config.settings import Settings
from config.site import Site
from config.species import SpeciesProfile
from daemon.commands.site_given import HERE, SiteOption
from daemon.storage.journal import Journal

EXIT_BAD_INPUT = 2
__all__ = ["EXIT_BAD_INPUT", "HERE", "SiteFolder", "SiteOption", "WhoOption", "fail", "login_name", "read_site"]

WhoOption = Annotated[
    str, typer.Option("--who", help="Who does this; kept with the change.", show_default="your login")
]


@dataclass(frozen=True, slots=True)
class SiteFolder:
    """A site folder without mistakes."""

    folder: Path
    site: Site
    settings: Settings
    profiles: dict[str, SpeciesProfile]
    places: Places

    @property
    def zone(self) -> ZoneInfo:
        """The time zone of the site."""
        return ZoneInfo(self.site.time_zone)

    @property
    def fahrenheit(self) -> bool:
        """True where the site shows and takes temperatures in degree Fahrenheit."""
        return self.site.temperature_unit == "F"

    @property
    def journal_path(self) -> Path:
        """Where the journal is; a relative path counts from the site folder."""
        return self.folder / self.settings.storage.journal

    def journal(self) -> Journal:
        """The journal, opened and brought up to date."""
        return Journal.open(self.journal_path)


def read_site(folder: Path, *, for_service: bool = False) -> SiteFolder:
    """Read and check a site folder. Raises ConfigError with every mistake in it.

    For the service itself a secret that it cannot see is a mistake too; commands go without those that they need not.
    """
    folder = folder.parent if folder.name == "site.toml" else folder
    checked = check_site(folder)
    found = as_service(checked.mistakes) if for_service else checked.mistakes
    mistakes = [mistake for mistake in found if mistake.severity == "mistake"]
    if mistakes or checked.site is None or checked.settings is None:
        raise ConfigError(tuple(mistakes))
    return SiteFolder(folder, checked.site, checked.settings, dict(checked.profiles), Places(checked.site))


def login_name() -> str:
    """The login of whoever types the command; a name, not a proof of it."""
    try:
        return os.environ.get("SUDO_USER") or getpass.getuser()
    except (KeyError, OSError):
        return "command line"


def fail(sentence: str, code: int = EXIT_BAD_INPUT) -> typer.Exit:
    """Say what is wrong on standard error, and give the exit to raise."""
    print(sentence, file=sys.stderr)
    return typer.Exit(code)
