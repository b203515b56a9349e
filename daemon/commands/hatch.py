"""`clutchwarden hatch`: when eggs will hatch, and how sure that is. Needs no daemon."""

import json
from collections.abc import Sequence
from pathlib import Path

from daemon.clock import SystemClock
from daemon.commands.hatch_eggs import Logger, OwnRecord, Said, answer_for, known_profile
from daemon.commands.hatch_options import (
    AtOption,
    DurationOption,
    FileOption,
    GroupOption,
    JsonOption,
    LabelArgument,
    LaidOption,
    NowOption,
    SiteArgument,
    SpeciesOption,
    TemperatureColumnOption,
    TemperatureOption,
    TemperatureUOption,
    TimeColumnOption,
    ZoneOption,
)
from daemon.commands.hatch_site import answers_of
from daemon.commands.hatch_text import Answer, as_dict, as_text
from daemon.commands.moments import day_range_ms, moment_ms
from daemon.commands.site_folder import fail, read_site
from daemon.commands.species import FolderOption, OwnOption, known_profiles
from daemon.commands.table_options import UnitOption, zone_named


def hatch(
    site: SiteArgument = None,
    label: LabelArgument = None,
    species: SpeciesOption = None,
    laid: LaidOption = None,
    temperature: TemperatureOption = None,
    temperature_u: TemperatureUOption = 0.3,
    duration_days: DurationOption = None,
    at: AtOption = None,
    group: GroupOption = None,
    file: FileOption = None,
    time_column: TimeColumnOption = None,
    temperature_column: TemperatureColumnOption = None,
    unit: UnitOption = "C",
    time_zone: ZoneOption = None,
    now: NowOption = None,
    own_site: OwnOption = None,
    profiles: FolderOption = None,
    as_json: JsonOption = False,
) -> None:
    """Say when eggs will hatch: earliest, likely, latest, and why; or why nobody can tell."""
    if (species, laid, file, duration_days, at, group, temperature) == (None,) * 7:
        site = site or own_site
    if site is not None:
        if species or laid or file or (duration_days, at, group, temperature) != (None,) * 4:
            raise fail("The clutches of a site are on record: leave out what they are, or leave out the site.")
        _say(_of_site(site, label, now), as_json=as_json)
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


def _of_site(site: Path, label: str | None, now: str | None) -> Sequence[Answer]:
    whole = read_site(site)
    now_ms = SystemClock().now_ms() if now is None else moment_ms(now, whole.zone, "--now")
    return answers_of(whole, label, now_ms)


def _say(found: Answer | Sequence[Answer], *, as_json: bool) -> None:
    """One answer is an object for programs, those of a site are a list."""
    if as_json:
        told = as_dict(found) if isinstance(found, Answer) else [as_dict(one) for one in found]
        print(json.dumps(told, indent=2, ensure_ascii=False))
        return
    print("\n\n".join(as_text(one) for one in ([found] if isinstance(found, Answer) else found)))
