"""`clutchwarden clutch ...`: the register from the command line, also beside a running daemon.

Adding and looking are here; changes, eggs and files have modules of their own.
"""

import json
from dataclasses import asdict, replace
from typing import Annotated

import typer
from rich.console import Console
from rich.table import Table

from config.species import SpeciesProfile
from daemon.clutches.desk import RegisterDesk
from daemon.clutches.eggs import EggCounts
from daemon.clutches.values import Clutch, NewClutch, is_venomous
from daemon.commands import clutch_change, clutch_eggs, clutch_files
from daemon.commands import clutch_options as options
from daemon.commands.clutch_parts import LabelArgument, celsius, closed_too, done, kelvin, now_ms, register_of
from daemon.commands.clutch_text import counts_text, file_text
from daemon.commands.moments import day_range_ms, local_text, moment_ms
from daemon.commands.site_folder import HERE, SiteFolder, SiteOption, WhoOption, fail, login_name
from daemon.commands.species import nearest_species

app = typer.Typer(help="The register of clutches.", no_args_is_help=True)
LONG_BEFORE_MS = 2 * 86_400_000
_DATE_WIDTH = len("2026-05-01")


@app.command()
def add(
    label: LabelArgument,
    species: options.SpeciesOption,
    place: options.PlaceOption,
    laid: options.LaidOption,
    eggs: options.EggsOption,
    set_up: options.SetUpOption = None,
    found: options.FoundOption = None,
    kept_at: options.KeptAtOption = None,
    kept_within: options.KeptWithinOption = None,
    population: options.PopulationOption = None,
    dam: options.DamOption = "",
    sire: options.SireOption = "",
    first_mass_g: options.FirstMassOption = None,
    first_length_mm: options.FirstLengthOption = None,
    tags: options.TagsOption = "",
    venomous: options.VenomousOption = None,
    protected: options.ProtectedOption = "",
    note: options.NoteOption = "",
    who: WhoOption = "",
    site: SiteOption = HERE,
) -> None:
    """Write a clutch into the register."""
    with register_of(site) as (whole, desk):
        profile = _profile(species, whole)
        stated = NewClutch(label, species, population, 0, 0, eggs, note, place, 0, venomous=venomous)
        stated = replace(stated, dam=dam, sire=sire, tags=tuple(tags.split(",")), protected=protected)
        stated = replace(stated, first_mass_g=first_mass_g, first_length_mm=first_length_mm)
        stated = replace(stated, before_c=celsius(kept_at, whole), before_u_k=kelvin(kept_within, whole))
        if population is None:
            stated = replace(stated, population=profile.population)
        new, long_ago = _at_its_times(stated, laid, set_up, found, whole)
        done(desk.add(new, who or login_name()))
    _tell_added(new, whole, profile)
    if long_ago:
        print("It was laid days before. If it came into the incubator earlier, say when:")
        print(f"clutchwarden clutch edit '{label}' --set-up '2026-05-03 14:30'")


def _profile(species: str, whole: SiteFolder) -> SpeciesProfile:
    profile = whole.profiles.get(species)
    if profile is None:
        raise fail(f"There is no species profile {species!r}. {nearest_species(species, whole.profiles)}")
    return profile


def _at_its_times(
    new: NewClutch, laid: str, set_up: str | None, found: str | None, whole: SiteFolder
) -> tuple[NewClutch, bool]:
    """Give the clutch with its moments; True where it was laid days before a set-up that nobody stated."""
    laid_from_ms, laid_to_ms = day_range_ms(laid, whole.zone, "--laid")
    moment = now_ms()
    timed = replace(
        new,
        laid_from_ms=laid_from_ms,
        laid_to_ms=min(laid_to_ms, moment),
        from_ms=moment_ms(set_up, whole.zone, "--set-up") if set_up else moment,
        found_ms=moment_ms(found, whole.zone, "--found") if found else None,
    )
    return timed, not set_up and moment - laid_to_ms > LONG_BEFORE_MS


def _tell_added(new: NewClutch, whole: SiteFolder, profile: SpeciesProfile) -> None:
    eggs = f"{new.egg_count} egg{'s' * (new.egg_count != 1)} of {profile.scientific_name}"
    print(f"{new.label}: {eggs} in {whole.places.name(new.place)}.")
    print(f"Set up {local_text(new.from_ms, whole.zone)}.")
    print(f"Heat counts from laying; before the set-up {_before(new, whole)}.")
    if profile.caution:
        print(f"Caution: {profile.caution}")
    elif new.venomous:
        print("Venomous: trained handlers only.")


def _before(new: NewClutch, whole: SiteFolder) -> str:
    """How heat is counted between laying and set-up."""
    room_c = whole.places.room_temperature_c(new.place)
    kept_c = room_c if new.before_c is None else new.before_c
    if kept_c is None:
        return "it is unknown: say how warm the eggs lay with --kept-at"
    shown = f"{kept_c * 1.8 + 32:.1f} °F" if whole.fahrenheit else f"{kept_c:.1f} °C"
    return f"at {shown}{', as warm as the room' if new.before_c is None else ''}"


@app.command("list")
def list_clutches(
    everything: Annotated[
        bool, typer.Option("--all", help="Also the closed ones, and those that were withdrawn.")
    ] = False,
    tag: Annotated[str, typer.Option(help="Only those with this tag.")] = "",
    as_json: Annotated[bool, typer.Option("--json", help="For programs.")] = False,
    site: SiteOption = HERE,
) -> None:
    """List the clutches."""
    with register_of(site) as (whole, desk):
        every = [*desk.all(include_closed=everything), *(_withdrawn(desk) if everything else ())]
    found = sorted((each for each in every if not tag or tag in each[0].tags), key=lambda each: each[0].clutch_id)
    if as_json:
        print(json.dumps([_as_dict(clutch, counts, whole) for clutch, counts in found], indent=2))
        return
    if not found:
        print("No clutch on record. Add one with: clutchwarden clutch add")
        return
    table = Table("clutch", "species", "eggs", "laid", "lies in", "since", "closed", box=None, pad_edge=False)
    for dates in (3, 5):
        table.columns[dates].min_width = _DATE_WIDTH
    table.columns[4].no_wrap, table.columns[4].overflow = True, "fold"
    table.columns[4].min_width = max(len(clutch.placements[-1].place) for clutch, _ in found)
    for clutch, counts in found:
        table.add_row(*_cells(clutch, counts, whole))
    Console().print(table)


def _withdrawn(desk: RegisterDesk) -> list[tuple[Clutch, EggCounts]]:
    files = [desk.file(each.clutch_id) for each in desk.withdrawn()]
    return [(each.clutch, each.counts) for each in files if each is not None]


def _cells(clutch: Clutch, counts: EggCounts, whole: SiteFolder) -> tuple[str, ...]:
    profile = whole.profiles.get(clutch.species_id)
    ended = "" if clutch.closed_at_ms is None else local_text(clutch.closed_at_ms, whole.zone)
    if clutch.withdrawn_at_ms is not None:
        ended = f"withdrawn {local_text(clutch.withdrawn_at_ms, whole.zone)}"
    return (
        clutch.label,
        profile.scientific_name if profile else f"{clutch.species_id} (no profile)",
        counts_text(counts) if counts.sound < counts.total else str(counts.total),
        local_text(clutch.laid_from_ms, whole.zone)[:10],
        clutch.placements[-1].place,
        local_text(clutch.placements[-1].from_ms, whole.zone),
        ended,
    )


@app.command()
def show(
    label: LabelArgument,
    number: Annotated[int | None, typer.Option(help="The number of a clutch, where several had this label.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="For programs.")] = False,
    site: SiteOption = HERE,
) -> None:
    """Show everything on record of one clutch, open, closed or withdrawn."""
    with register_of(site) as (whole, desk):
        found = desk.file(closed_too(desk, label).clutch_id if number is None else number)
    if found is None or (number is not None and found.clutch.label.casefold() != label.strip().casefold()):
        raise fail(f"Clutch number {number} is not {label!r}. clutchwarden clutch list --all lists them.")
    if as_json:
        print(json.dumps({**asdict(found), "counts": asdict(found.counts)}, indent=2))
        return
    profile = whole.profiles.get(found.clutch.species_id)
    species = profile.scientific_name if profile else f"{found.clutch.species_id} (no profile)"
    venomous = is_venomous(found.clutch, profile is not None and profile.venomous)
    print(file_text(found, species, venomous, whole.zone, whole.fahrenheit))


def _as_dict(clutch: Clutch, counts: EggCounts, whole: SiteFolder) -> dict[str, object]:
    profile = whole.profiles.get(clutch.species_id)
    return {
        "number": clutch.clutch_id,
        "label": clutch.label,
        "species": clutch.species_id,
        "population": clutch.population,
        "dam": clutch.dam,
        "sire": clutch.sire,
        "egg_count": clutch.egg_count,
        "eggs": asdict(counts),
        "laid_from_ms": clutch.laid_from_ms,
        "laid_to_ms": clutch.laid_to_ms,
        "found_ms": clutch.found_ms,
        "before_c": clutch.before_c,
        "before_u_k": clutch.before_u_k,
        "closed_at_ms": clutch.closed_at_ms,
        "withdrawn_at_ms": clutch.withdrawn_at_ms,
        "tags": list(clutch.tags),
        "venomous": is_venomous(clutch, profile is not None and profile.venomous),
        "protected": clutch.protected,
        "placements": [{"place": stay.place, "from_ms": stay.from_ms} for stay in clutch.placements],
    }


for _command in (
    clutch_change.move,
    clutch_change.swap,
    clutch_change.close,
    clutch_change.edit,
    clutch_change.reopen,
    clutch_change.withdraw,
    clutch_eggs.measure,
    clutch_eggs.note,
):
    app.command()(_command)
app.command("import")(clutch_files.import_file)
app.command("export")(clutch_files.export_file)
app.add_typer(clutch_eggs.egg_app, name="egg")
