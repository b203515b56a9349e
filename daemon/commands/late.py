"""Commands that are loaded when they are asked for: `--help` of the whole needs none of what they work with."""

from collections.abc import Callable
from importlib import import_module
from typing import Any, NamedTuple, cast

import typer
from typer.core import TyperCommand, TyperGroup
from typer.main import get_command, get_group

from daemon.commands import site_given


class Late(NamedTuple):
    """Where a command is: its module in `daemon.commands`, the function or the group there, and its line of help."""

    module: str
    attribute: str
    told: str


LATE = {
    "new": Late("new", "new", "Begin a site folder. An existing file is never touched."),
    "check": Late(
        "check",
        "check",
        "Read everything the keeper stated and say what is wrong with it: file, key, reason and what to do.",
    ),
    "run": Late("run", "run", "Watch the incubators of a site."),
    "demo": Late("demo", "demo", "Show the whole way from a probe to a phone, on an invented site and a fast clock."),
    "simulate": Late(
        "simulate",
        "simulate",
        "Publish readings for every probe of the site, as real probes would.",
    ),
    "dew-point": Late(
        "dew_point", "dew_point", "Say at what temperature water settles from this air, and how sure that is."
    ),
    "heat": Late(
        "heat", "heat", "Sum the heat in a record, in degree-hours. Either every row is understood, or none is used."
    ),
    "hatch": Late(
        "hatch", "hatch", "Say when eggs will hatch: earliest, likely, latest, and why; or why nobody can tell."
    ),
    "watch": Late(
        "watch", "watch", "Watch the daemon from a second machine, and tell people when it is silent or not well."
    ),
    "probe": Late("probe", "app", "Read the sensors of this board, keep what they say on disk, and send it."),
    "placement": Late(
        "placement",
        "placement",
        "Say where a clutch would be least out of range, given what each place measured.",
    ),
    "import": Late(
        "import_",
        "import_record",
        "Bring a logger's record into the journal.",
    ),
    "verify": Late("verify", "verify", "Say whether the journal is as it was written, and if not, since which day."),
    "review": Late("review", "app", "What happened in an outage, and what it did to places and clutches."),
    "report": Late("report", "app", "Reports to hand on: the record of a clutch, a month, a season."),
    "clutch": Late("clutch", "app", "The register of clutches."),
    "alarms": Late("alarms", "app", "Alarms: what is on, and what people do about it."),
    "round": Late("rounds", "app", "Rounds through the boxes of an incubator."),
    "contacts": Late("contacts", "app", "Who is told, and whether a message gets there."),
    "duty": Late("duty", "app", "Who is on duty when, who is away, and who has accepted."),
    "calibrate": Late(
        "calibrate", "app", "Correct probes against a reference thermometer or saturated salts, from a date on."
    ),
    "calendar": Late("calendar", "app", "Addresses for calendar programs: hatching, rounds, calibrations, duty."),
    "species": Late("species", "app", "Species profiles, and lines through durations."),
    "backup": Late("backup", "app", "Copies of the whole record, made and checked while the service runs."),
    "restore": Late("restore", "restore", "Restore a backup into a new folder, and prove what came out."),
    "rebuild": Late(
        "rebuild",
        "rebuild_",
        "Work out roll-ups and heat anew from the readings, and say what differs from what is stored.",
    ),
    "mirror": Late("mirror", "app", "The copy of the journal in an InfluxDB: state, filling, comparing, restoring."),
    "access": Late("access_more", "app", "Who may sign in to the pages, and as what."),
}


class LateGroup(TyperGroup):
    """A group that knows names and lines of help, and loads the one that is called."""

    def __init__(self, **given: Any) -> None:
        super().__init__(**given)
        self.commands = {name: TyperCommand(name, help=late.told) for name, late in LATE.items()}

    def resolve_command(self, ctx: Any, args: list[str]) -> tuple[str | None, Any, list[str]]:
        """Give the whole command in place of its line."""
        name, command, rest = super().resolve_command(ctx, args)
        return name, command if name is None else loaded(name), rest


def loaded(name: str) -> Any:
    """Load a command with all of its options."""
    late = LATE[name]
    found = getattr(import_module(f"daemon.commands.{late.module}"), late.attribute)
    if isinstance(found, typer.Typer):
        site_given.everywhere(found)
        group = get_group(found)
        group.name = name
        return group
    alone = typer.Typer(add_completion=False)
    alone.command(name, cls=site_given.SiteCommand)(cast("Callable[..., Any]", found))
    return get_command(alone)
