"""`clutchwarden species list|show|fit`: what is known of a species, and a line through durations of one's own."""

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console
from rich.table import Table
from rich.text import Text

from config.check import PROFILES
from config.errors import StatedError
from config.plain import nearest
from config.species import SpeciesProfile, load_profiles
from daemon.commands.durations_file import COLUMNS, parse_durations, read_durations
from daemon.commands.site_folder import fail
from daemon.development.fits import Fit, fit_durations
from daemon.species_text import fit_as_dict, fit_lines, profile_lines, toml_block, usual_days

app = typer.Typer(help="Species profiles, and lines through durations.", no_args_is_help=True)

JsonOption = Annotated[bool, typer.Option("--json", help="For programs.")]
OwnOption = Annotated[
    Path | None,
    typer.Option(
        "--site",
        help="The site folder whose own profiles count too.",
        envvar="CLUTCHWARDEN_SITE",
        show_default="built-in profiles only",
    ),
]


FolderOption = Annotated[
    Path | None,
    typer.Option("--profiles", help="Folder of your own species profiles.", show_default="those of the site"),
]


@app.command("list")
def list_species(as_json: JsonOption = False, site: OwnOption = None, folder: FolderOption = None) -> None:
    """List the species profiles."""
    profiles = [profile for _, profile in sorted(known_profiles(site, folder).items())]
    if as_json:
        print(json.dumps([_summary(profile) for profile in profiles], indent=2, ensure_ascii=False))
        return
    table = Table("profile", "air °C", "days", "at °C", "line", box=None, pad_edge=False)
    table.columns[0].min_width = max(len(profile.id) for profile in profiles)
    for profile in profiles:
        air = f"{profile.temperature.low.value:g}-{profile.temperature.high.value:g}"
        cells = (f"{profile.id}\n  {_known_as(profile)}", air, *usual_days(profile))
        table.add_row(*(Text(cell) for cell in cells))
    Console().print(table)


@app.command()
def show(
    species: Annotated[str, typer.Argument(metavar="ID", help="A profile, for example elaphe-taeniura.")],
    as_json: JsonOption = False,
    site: OwnOption = None,
    folder: FolderOption = None,
) -> None:
    """Show a profile: cautions first, then every number with its source."""
    profiles = known_profiles(site, folder)
    if species not in profiles:
        raise fail(f"There is no species profile {species!r}. {nearest_species(species, profiles)}")
    profile = profiles[species]
    if as_json:
        print(json.dumps({"caution": profile.caution, **profile.model_dump()}, indent=2, ensure_ascii=False))
        return
    print("\n".join(profile_lines(profile)))


@app.command()
def fit(
    file: Annotated[Path | None, typer.Argument(metavar="FILE", help=f"CSV with the columns {COLUMNS}.")] = None,
    durations: Annotated[
        str | None, typer.Option(help="Instead of a file, °C and days: 24:85,27:61.6,30:41", metavar="C:DAYS,...")
    ] = None,
    upto: Annotated[float | None, typer.Option(help="Leave out temperatures above this, °C.", metavar="C")] = None,
    each_row: Annotated[
        bool, typer.Option("--each-row", help="Each row is a point, not the mean rate of each temperature.")
    ] = False,
    as_json: JsonOption = False,
) -> None:
    """Work out developmental zero and thermal constant from durations at constant temperatures."""
    if (file is None) == (durations is None):
        raise fail("Give durations either in a file or with --durations, one of the two.")
    try:
        rows = parse_durations(durations) if durations is not None else read_durations(file or Path())
        found = fit_durations(rows, upto_c=upto, one_per_temperature=not each_row)
    except StatedError as error:
        raise fail(f"{error.reason[0].upper()}{error.reason[1:]}. {error.hint}") from error
    left_out_c = sorted({row.temperature_c for row in rows if upto is not None and row.temperature_c > upto})
    sources = dict.fromkeys(row.source for row in rows if row.source and row.temperature_c not in left_out_c)
    block = toml_block(found, list(sources), left_out_c, each_row=each_row)
    if as_json:
        print(json.dumps({**fit_as_dict(found), "left_out_c": left_out_c, "toml": block}, indent=2, ensure_ascii=False))
        return
    print("\n".join(fit_lines(found, left_out_c)))
    Console().print(_back_calculated(found))
    print(f"For a profile:\n\n{block}" if block else "Nothing for a profile: a line like this one tells no date.")


def nearest_species(word: str, profiles: Mapping[str, SpeciesProfile]) -> str:
    """A hint by id, by scientific name or by the name that keepers use."""
    wanted = word.replace("-", " ").casefold()
    named = [
        profile.id
        for profile in profiles.values()
        if wanted in f"{profile.scientific_name}, {profile.common_name}".casefold()
    ]
    return f"Did you mean {' or '.join(named)}?" if named else nearest(word, profiles)


def known_profiles(site: Path | None, folder: Path | None) -> dict[str, SpeciesProfile]:
    """The built-in profiles and those of a site; a stated folder takes the place of that of the site.

    Raises typer.Exit where a folder is not there, ConfigError for a mistake in a profile.
    """
    if folder is not None:
        if not folder.is_dir():
            raise fail(f"--profiles: there is no folder {folder}.")
        return load_profiles(folder)
    if site is None:
        return load_profiles()
    whole = site.parent if site.name == "site.toml" else site
    if not whole.is_dir():
        raise fail(f"There is no folder {whole}. Give the site folder, the one with site.toml in it.")
    return load_profiles(whole / PROFILES)


def _known_as(profile: SpeciesProfile) -> str:
    """What must not fall off the edge of a narrow screen comes first."""
    remarks = ["caution" if profile.caution else "", "" if profile.pause == "none" else "pauses", profile.common_name]
    return "; ".join(remark for remark in remarks if remark)


def _summary(profile: SpeciesProfile) -> dict[str, object]:
    return {
        "id": profile.id,
        "scientific_name": profile.scientific_name,
        "common_name": profile.common_name,
        "group": profile.group,
        "population": profile.population,
        "temperature_low_c": profile.temperature.low.value,
        "temperature_high_c": profile.temperature.high.value,
        "flag": profile.development.flag if profile.development else None,
        "pooled": profile.development.pooled if profile.development else None,
        "pause": profile.pause,
        "caution": profile.caution,
    }


def _back_calculated(found: Fit) -> Table:
    table = Table()
    for heading in ("°C", "eggs", "observed d", "predicted d", "difference"):
        table.add_column(heading, justify="right")
    for point in found.points:
        table.add_row(
            f"{point.temperature_c:g}",
            "" if point.eggs is None else str(point.eggs),
            f"{point.observed_days:.1f}",
            f"{point.predicted_days:.1f}",
            f"{point.difference_pct:+.1f} %",
        )
    return table
