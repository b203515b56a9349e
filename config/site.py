"""Reads `site.toml` of a site folder. The models come from `config/model.py` and may be imported from here."""

from pathlib import Path
from typing import Any, Literal, NamedTuple

from pydantic import Field, field_validator

from config.contacts import contact_mistakes
from config.errors import Mistake, StatedError, refuse
from config.model import (
    AlarmTuning,
    Box,
    Care,
    ChannelSpec,
    Contact,
    Incubator,
    MessageTimes,
    Person,
    Probe,
    Quiet,
    Site,
    Source,
    Table,
    Text,
    Zone,
)
from config.plain import Location
from config.rules import FILE, site_mistakes
from config.salvage import salvage
from config.tomlfile import parse_toml, read_toml
from config.unprintable import has_unprintable
from config.words import AlarmKind

__all__ = [
    "STARTER",
    "AlarmTuning",
    "Box",
    "Care",
    "ChannelSpec",
    "Contact",
    "Incubator",
    "MessageTimes",
    "Person",
    "Probe",
    "Quiet",
    "Site",
    "SiteRead",
    "Source",
    "Zone",
    "load_site",
    "read_site",
    "read_site_text",
]


class _Head(Table):
    name: Text
    time_zone: Text
    temperature_unit: Literal["C", "F"] = "C"

    @field_validator("name")
    @classmethod
    def _can_be_carried(cls, stated: str) -> str:
        # Line protocol cannot write a backslash at the end of a tag (InfluxDB, "Line protocol": special characters).
        if has_unprintable(stated) or stated.endswith("\\"):
            hint = "Write the name in one line, without a backslash at its end."
            raise StatedError("the name cannot be carried in messages and in a mirror as it stands", hint)
        return stated


class _SiteFile(Table):
    """The tables as they stand in the file."""

    site: _Head
    incubator: tuple[Incubator, ...] = ()
    probe: tuple[Probe, ...] = ()
    person: tuple[Person, ...] = ()
    quiet: Quiet | None = None
    alarm: dict[AlarmKind, AlarmTuning] = Field(default_factory=dict)
    care: Care = Care()
    messages: MessageTimes = MessageTimes()

    def as_site(self) -> Site:
        return Site(
            name=self.site.name,
            time_zone=self.site.time_zone,
            temperature_unit=self.site.temperature_unit,
            incubators=self.incubator,
            probes=self.probe,
            people=self.person,
            quiet=self.quiet,
            alarms=self.alarm,
            care=self.care,
            messages=self.messages,
        )


STARTER = Path(__file__).parent / "starter"
"""The files that a new site folder begins with."""

_STAND_IN: dict[Location, Any] = {("site",): {}, ("site", "name"): "?", ("site", "time_zone"): "UTC"}
"""Keeps the checks of all other tables going where the head of the file is not complete."""


class SiteRead(NamedTuple):
    """The site where it can be used, and whatever was found on the way."""

    site: Site | None
    mistakes: tuple[Mistake, ...]


def read_site(folder: Path) -> SiteRead:
    """Read and check the site file; every mistake and warning is in the answer. Never raises for what it holds."""
    return _checked(*read_toml(folder / FILE, FILE), folder)


def read_site_text(text: str, folder: Path) -> SiteRead:
    """Check a text as `read_site` checks the file; addresses in files of their own are looked for in the folder."""
    return _checked(*parse_toml(text, FILE), folder)


def _checked(document: dict[str, Any] | None, unreadable: tuple[Mistake, ...], folder: Path) -> SiteRead:
    if document is None:
        return SiteRead(None, unreadable)
    usable, findings = salvage(_SiteFile, document, FILE, _STAND_IN)
    if usable is None:
        return SiteRead(None, findings.mistakes)
    site = usable.as_site()
    mistakes = (*findings.mistakes, *site_mistakes(site, findings.lost), *contact_mistakes(site, folder))
    wrong = tuple(mistake for mistake in mistakes if mistake.severity == "mistake")
    # A warning may be but the consequence of a mistake, so warnings wait until no mistake is left.
    return SiteRead(None, wrong) if wrong else SiteRead(site, mistakes)


def load_site(folder: Path) -> Site:
    """Read `site.toml` of a folder. Raises ConfigError with every mistake; a warning alone stops nothing."""
    site, mistakes = read_site(folder)
    refuse(mistakes)
    if site is None:
        raise AssertionError("a site that cannot be used has a mistake to show for it")
    return site
