"""`clutchwarden hatch`: when eggs will hatch, and how sure that is. Needs no daemon."""

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

import typer

from daemon.clock import SystemClock
from daemon.commands.hatch_eggs import GROUPS, Logger, OwnRecord, Said, answer_for, known_profile
from daemon.commands.hatch_site import answers_of
from daemon.commands.hatch_text import Answer, as_dict, as_text
from daemon.commands.moments import day_range_ms, moment_ms
from daemon.commands.site_folder import fail, read_site
from daemon.commands.species import FolderOption, OwnOption, known_profiles
from daemon.commands.table_options import UnitOption, zone_named


def hatch(
    site: Annotated[
        Path | None,
        typer.Argument(help="A site folder, for its clutches. Without one, say what the eggs are.", show_default=False),
    ] = None,
    label: Annotated[str | None, typer.Argument(help="One clutch of the site.", show_default="all")] = None,
    species: Annotated[str | None, typer.Option(help="Species profile, for example elaphe-taeniura.")] = None,
    laid: Annotated[
        str | None, typer.Option(help="Day they were laid, or the days between: 2026-05-01..2026-05-03.")
    ] = None,
    temperature: Annotated[
        float | None, typer.Option(help="What they are kept at, °C; with --file, before it begins and from now on.")
    ] = None,
    temperature_u: Annotated[
        float, typer.Option(help="Standard uncertainty of the thermometer, K; ± 0.5 from a data sheet is 0.3.")
    ] = 0.3,
    duration_days: Annotated[
        float | None, typer.Option(help="Your own record: days that such eggs took. With --at.")
    ] = None,
    at: Annotated[float | None, typer.Option(help="Your own record: what they were kept at, °C.")] = None,
    group: Annotated[
        str | None, typer.Option(help=f"For your own record without --species: {', '.join(GROUPS)}.")
    ] = None,
    file: Annotated[
        list[Path] | None, typer.Option(help="A logger's CSV of their temperature; may be given again.")
    ] = None,
    time_column: Annotated[
        list[str] | None, typer.Option(help="With --file, column of the time: heading, or number from 1.")
    ] = None,
    temperature_column: Annotated[
        str | None, typer.Option(help="With --file, column of the temperature: heading, or number from 1.")
    ] = None,
    unit: UnitOption = "C",
    time_zone: Annotated[
        str | None, typer.Option(help="Zone of the days, and of a logger's clock.", show_default="UTC")
    ] = None,
    now: Annotated[
        str | None,
        typer.Option(help="Reckon as of this moment.", show_default="now; with --file its last reading"),
    ] = None,
    own_site: OwnOption = None,
    profiles: FolderOption = None,
    as_json: Annotated[bool, typer.Option("--json", help="For programs.")] = False,
) -> None:
    """Say when eggs will hatch: earliest, likely, latest, and why; or why nobody can tell."""
    if (species, laid, file, duration_days, at, group, temperature) == (None,) * 7:
        site = site or own_site
    if site is not None:
        if species or laid or file or (duration_days, at, group, temperature) != (None,) * 4:
            raise fail("The clutches of a site are on record: leave out what they are, or leave out the site.")
        whole = read_site(site)
        now_ms = SystemClock().now_ms() if now is None else moment_ms(now, whole.zone, "--now")
        _say(answers_of(whole, label, now_ms), as_json=as_json)
        return
    zone = zone_named(time_zone or "UTC")
    if laid is None or zone is None:
        raise fail("Give --laid, the day or the days between: --laid 2026-05-01..2026-05-03.")
    profile = known_profile(species, OwnRecord(duration_days, at, group), known_profiles(own_site, profiles))
    stated_now_ms = None if now is None else moment_ms(now, zone, "--now")
    said = Said(day_range_ms(laid, zone, "--laid"), temperature, temperature_u, zone, stated_now_ms)
    logger = Logger(
        tuple(file or ()), tuple(time_column or ()), temperature_column, unit, zone_is_given=time_zone is not None
    )
    _say(answer_for(profile, said, logger, SystemClock().now_ms()), as_json=as_json)


def _say(found: Answer | Sequence[Answer], *, as_json: bool) -> None:
    """One answer is an object for programs, those of a site are a list."""
    if as_json:
        told = as_dict(found) if isinstance(found, Answer) else [as_dict(one) for one in found]
        print(json.dumps(told, indent=2, ensure_ascii=False))
        return
    print("\n\n".join(as_text(one) for one in ([found] if isinstance(found, Answer) else found)))
