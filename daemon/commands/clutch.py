"""`clutchwarden clutch add|list|move|close`: the register from the command line, also beside a running daemon."""

import json
import time
from typing import Annotated

import typer
from rich.console import Console
from rich.table import Table

from config.plain import nearest
from daemon.clutches import register
from daemon.clutches.register import Clutch, NewClutch
from daemon.commands.moments import day_range_ms, local_text, moment_ms
from daemon.commands.site_folder import HERE, SiteFolder, SiteOption, WhoOption, fail, login_name, read_site
from daemon.commands.species import nearest_species

app = typer.Typer(help="The register of clutches.", no_args_is_help=True)
LONG_BEFORE_MS = 2 * 86_400_000

LabelArgument = Annotated[str, typer.Argument(help="The clutch's label, as on its box.")]
AtOption = Annotated[str | None, typer.Option("--at", help="When: 2026-05-03 or '2026-05-03 14:30'. Default: now.")]
WhyOption = Annotated[str, typer.Option("--why", help="Why; kept with the change.")]


def _now_ms() -> int:
    return time.time_ns() // 1_000_000


@app.command()
def add(
    label: LabelArgument,
    species: Annotated[str, typer.Option(help="Species profile, for example elaphe-taeniura.")],
    place: Annotated[str, typer.Option(help="Where it lies: incubator/zone/box.")],
    laid: Annotated[str, typer.Option(help="Day it was laid, or the days between: 2026-05-01..2026-05-03.")],
    eggs: Annotated[int, typer.Option(help="Number of eggs.")],
    set_up: Annotated[str | None, typer.Option(help="When it came into the incubator. Default: now.")] = None,
    kept_at: Annotated[
        float | None,
        typer.Option(help="How warm the eggs lay from laying to then, in the site's unit. Default: the room's."),
    ] = None,
    kept_within: Annotated[
        float | None, typer.Option(help="How far that may be off, either way; two cases in three lie within it.")
    ] = None,
    note: Annotated[str, typer.Option(help="Anything else.")] = "",
    who: WhoOption = "",
    site: SiteOption = HERE,
) -> None:
    """Write a clutch into the register."""
    whole = read_site(site)
    _require_place(whole, place)
    if species not in whole.profiles:
        raise fail(f"There is no species profile {species!r}. {nearest_species(species, whole.profiles)}")
    laid_from_ms, laid_to_ms = day_range_ms(laid, whole.zone, "--laid")
    now_ms = _now_ms()
    new = NewClutch(
        label=label,
        species_id=species,
        population=whole.profiles[species].population,
        laid_from_ms=laid_from_ms,
        laid_to_ms=min(laid_to_ms, now_ms),
        egg_count=eggs,
        note=note,
        place=place,
        from_ms=moment_ms(set_up, whole.zone, "--set-up") if set_up else now_ms,
        before_c=None if kept_at is None else _celsius(kept_at, whole),
        before_u_k=None if kept_within is None else kept_within / (1.8 if whole.fahrenheit else 1.0),
    )
    with whole.journal() as journal:
        journal.write(lambda conn: register.add_clutch(conn, new, who or login_name(), now_ms))
    profile = whole.profiles[species]
    print(f"{label}: {eggs} egg{'s' * (eggs != 1)} of {profile.scientific_name} in {whole.places.name(place)}.")
    print(f"Set up {local_text(new.from_ms, whole.zone)}.")
    print(f"Heat counts from laying; before the set-up {_before(new, whole)}.")
    if not set_up and now_ms - laid_to_ms > LONG_BEFORE_MS:
        print("It was laid days before. If it came into the incubator earlier, close it at this moment and add it")
        print("again with --set-up '2026-05-03 14:30'.")
    if profile.caution:
        print(f"Caution: {profile.caution}")


def _celsius(stated: float, whole: SiteFolder) -> float:
    return (stated - 32) / 1.8 if whole.fahrenheit else stated


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
    everything: Annotated[bool, typer.Option("--all", help="Also the closed ones.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="For programs.")] = False,
    site: SiteOption = HERE,
) -> None:
    """List the clutches."""
    whole = read_site(site)
    with whole.journal() as journal, journal.read() as conn:
        found = register.clutches(conn, include_closed=everything)
    if as_json:
        print(json.dumps([_as_dict(clutch) for clutch in found], indent=2))
        return
    if not found:
        print("No clutch on record. Add one with: clutchwarden clutch add")
        return
    table = Table("clutch", "species", "eggs", "laid", "lies in", "since", "closed")
    table.columns[4].no_wrap, table.columns[4].overflow = True, "fold"
    table.columns[4].min_width = max(len(clutch.placements[-1].place) for clutch in found)
    for clutch in found:
        profile = whole.profiles.get(clutch.species_id)
        table.add_row(
            clutch.label,
            profile.scientific_name if profile else f"{clutch.species_id} (no profile)",
            str(clutch.egg_count),
            local_text(clutch.laid_from_ms, whole.zone)[:10],
            clutch.placements[-1].place,
            local_text(clutch.placements[-1].from_ms, whole.zone),
            "" if clutch.closed_at_ms is None else local_text(clutch.closed_at_ms, whole.zone),
        )
    Console().print(table)


@app.command()
def move(
    label: LabelArgument,
    place: Annotated[str, typer.Argument(help="Where to: incubator/zone/box.")],
    at: AtOption = None,
    why: WhyOption = "",
    who: WhoOption = "",
    site: SiteOption = HERE,
) -> None:
    """Put a clutch somewhere else, now or from a time in the past."""
    whole = read_site(site)
    _require_place(whole, place)
    now_ms = _now_ms()
    from_ms = moment_ms(at, whole.zone, "--at") if at else now_ms
    with whole.journal() as journal:
        clutch = journal.write(lambda conn: register.open_clutch(conn, label))
        journal.write(
            lambda conn: register.move_clutch(conn, clutch.clutch_id, place, from_ms, who or login_name(), why, now_ms)
        )
    print(f"{clutch.label} lies in {whole.places.name(place)} since {local_text(from_ms, whole.zone)}.")


@app.command()
def close(
    label: LabelArgument,
    at: AtOption = None,
    why: WhyOption = "",
    who: WhoOption = "",
    site: SiteOption = HERE,
) -> None:
    """End a clutch: hatched, lost or given away. It stays on record."""
    whole = read_site(site)
    now_ms = _now_ms()
    at_ms = moment_ms(at, whole.zone, "--at") if at else now_ms
    with whole.journal() as journal:
        clutch = journal.write(lambda conn: register.open_clutch(conn, label))
        journal.write(
            lambda conn: register.close_clutch(conn, clutch.clutch_id, at_ms, who or login_name(), why, now_ms)
        )
    print(f"{clutch.label} is closed since {local_text(at_ms, whole.zone)}.")


def _require_place(whole: SiteFolder, place: str) -> None:
    if not whole.places.exists(place):
        raise fail(f"There is no place {place!r} in site.toml. {nearest(place, whole.places.all)}")


def _as_dict(clutch: Clutch) -> dict[str, object]:
    return {
        "label": clutch.label,
        "species": clutch.species_id,
        "egg_count": clutch.egg_count,
        "laid_from_ms": clutch.laid_from_ms,
        "laid_to_ms": clutch.laid_to_ms,
        "before_c": clutch.before_c,
        "before_u_k": clutch.before_u_k,
        "closed_at_ms": clutch.closed_at_ms,
        "placements": [{"place": stay.place, "from_ms": stay.from_ms} for stay in clutch.placements],
    }
