"""`clutchwarden clutch move|swap|close|reopen|withdraw|edit`: where a clutch lies, how it ends, and what was wrong."""

from typing import Annotated, Any

import typer

from daemon.clutches.closing import Closing
from daemon.clutches.desk import Refusal
from daemon.clutches.egg_rules import stated_as
from daemon.clutches.eggs import Reason, Stated
from daemon.clutches.errors import RegisterError
from daemon.commands.clutch_parts import (
    AtOption,
    LabelArgument,
    WhyOption,
    at_ms,
    celsius,
    closed_too,
    done,
    kelvin,
    register_of,
)
from daemon.commands.clutch_text import FIELD_WORDS, counts_text, value_words
from daemon.commands.moments import day_range_ms, local_text, moment_ms
from daemon.commands.site_folder import HERE, SiteFolder, SiteOption, WhoOption, fail, login_name

_NOT_TOLD = "not told when it was closed"
_VENOMOUS = {"yes": True, "no": False, "species": None}


def move(
    label: LabelArgument,
    place: Annotated[str, typer.Argument(help="Where to: incubator/zone/box.")],
    at: AtOption = None,
    why: WhyOption = "",
    who: WhoOption = "",
    site: SiteOption = HERE,
) -> None:
    """Put a clutch somewhere else, now or from a time in the past."""
    with register_of(site) as (whole, desk):
        clutch = done(desk.find(label))
        from_ms = done(desk.move(clutch.clutch_id, place, who or login_name(), why, at_ms(at, whole)))
    print(f"{clutch.label} lies in {whole.places.name(place)} since {local_text(from_ms, whole.zone)}.")


def swap(
    label: LabelArgument,
    other: Annotated[str, typer.Argument(help="The label of the clutch that takes its place.")],
    at: AtOption = None,
    why: WhyOption = "",
    who: WhoOption = "",
    site: SiteOption = HERE,
) -> None:
    """Let two clutches change places in one step."""
    with register_of(site) as (whole, desk):
        pair = (done(desk.find(label)), done(desk.find(other)))
        numbers = (pair[0].clutch_id, pair[1].clutch_id)
        lie = done(desk.swap(*numbers, who or login_name(), why, at_ms(at, whole)))
    for clutch, stay in zip(pair, lie, strict=True):
        print(f"{clutch.label} lies in {whole.places.name(stay.place)} since {local_text(stay.from_ms, whole.zone)}.")


def close(
    label: LabelArgument,
    hatched: Annotated[int | None, typer.Option(help="How many eggs hatched, in all.", min=0)] = None,
    lost: Annotated[int | None, typer.Option(help="How many were lost, in all.", min=0)] = None,
    given_away: Annotated[int | None, typer.Option(help="How many were given away, in all.", min=0)] = None,
    rest: Annotated[
        str | None,
        typer.Option(help="What became of all others: hatched, given-away, removed:infertile, removed:other ..."),
    ] = None,
    at: AtOption = None,
    why: WhyOption = "",
    who: WhoOption = "",
    site: SiteOption = HERE,
) -> None:
    """End a clutch, with what became of every egg. It stays on record."""
    with register_of(site) as (whole, desk):
        clutch = done(desk.find(label))
        closed_ms = at_ms(at, whole)
        how = Closing(closed_ms, hatched, lost, given_away, _rest(rest, why), why)
        counts = done(desk.close(clutch.clutch_id, how, who or login_name()))
    print(f"{clutch.label} is closed since {local_text(closed_ms, whole.zone)}: {counts_text(counts)}.")


def reopen(
    label: LabelArgument,
    why: Annotated[str, typer.Option(help="Why it is opened again; kept with the change.")],
    who: WhoOption = "",
    site: SiteOption = HERE,
) -> None:
    """Take back a closing by mistake, or a withdrawal. The box and the label have to be free."""
    with register_of(site) as (whole, desk):
        before = closed_too(desk, label)
        after = done(desk.reopen(before.clutch_id, who or login_name(), why))
    state = "open again" if after.is_open else "on record again, and closed"
    stay = after.placements[-1]
    print(f"{after.label} is {state}. It lies in {stay.place} since {local_text(stay.from_ms, whole.zone)}.")
    if before.closed_at_ms is not None and after.is_open:
        print("What closing said of its eggs was taken back with it.")


def withdraw(
    label: LabelArgument,
    why: Annotated[str, typer.Option(help="Why; kept with the change.")] = "was entered by mistake",
    who: WhoOption = "",
    site: SiteOption = HERE,
) -> None:
    """Say that a clutch was entered by mistake: it stays on record and frees its box and label for all its time."""
    with register_of(site) as (_, desk):
        found = closed_too(desk, label)
        clutch = done(desk.withdraw(found.clutch_id, who or login_name(), why))
    print(f"{clutch.label} is withdrawn: {why}. Its box and its label are free for all the time it was entered for.")
    print(f"Back again, if that was a mistake: clutchwarden clutch reopen '{clutch.label}' --why ...")


def edit(
    label: LabelArgument,
    new_label: Annotated[str | None, typer.Option("--label", help="Another label.")] = None,
    species: Annotated[str | None, typer.Option(help="Species profile.")] = None,
    population: Annotated[str | None, typer.Option(help="Population.")] = None,
    dam: Annotated[str | None, typer.Option(help="The mother.")] = None,
    sire: Annotated[str | None, typer.Option(help="The father.")] = None,
    laid: Annotated[str | None, typer.Option(help="Day it was laid, or 2026-05-01..2026-05-03.")] = None,
    found: Annotated[str | None, typer.Option(help="When the eggs were found; '' for not known.")] = None,
    set_up: Annotated[str | None, typer.Option(help="When it came into the incubator.")] = None,
    eggs: Annotated[int | None, typer.Option(help="Number of eggs.")] = None,
    kept_at: Annotated[float | None, typer.Option(help="How warm the eggs lay before, in the site's unit.")] = None,
    kept_within: Annotated[float | None, typer.Option(help="How far that may be off, either way.")] = None,
    tags: Annotated[str | None, typer.Option(help="Words, with commas between; '' for none.")] = None,
    venomous: Annotated[str | None, typer.Option(help="yes, no, or species: as its profile says.")] = None,
    protected: Annotated[str | None, typer.Option(help="What the law asks for this species.")] = None,
    note: Annotated[str | None, typer.Option(help="The remark that was made when it was entered.")] = None,
    why: WhyOption = "",
    who: WhoOption = "",
    site: SiteOption = HERE,
) -> None:
    """Correct what was entered. The old value stays on record."""
    with register_of(site) as (whole, desk):
        texts = {"label": new_label, "species_id": species, "population": population, "dam": dam, "sire": sire}
        texts |= {"protected": protected, "note": note}
        stated: dict[str, Any] = {**texts, "egg_count": eggs}
        stated |= {"before_c": celsius(kept_at, whole), "before_u_k": kelvin(kept_within, whole)}
        changes = {field: value for field, value in stated.items() if value is not None}
        changes |= _dates(laid, found, set_up, whole)
        if tags is not None:
            changes["tags"] = tuple(tags.split(","))
        if venomous is not None:
            if venomous not in _VENOMOUS:
                raise fail("Not done: --venomous takes yes, no or species.")
            changes["venomous"] = _VENOMOUS[venomous]
        if not changes:
            raise fail("Nothing to change was given. clutchwarden clutch edit --help lists what can be.")
        clutch = closed_too(desk, label)
        changed = done(desk.edit(clutch.clutch_id, changes, who or login_name(), why))
    for field, (old, new) in changed.items():
        was, now = (value_words(value, field, whole.zone, whole.fahrenheit) for value in (old, new))
        print(f"{clutch.label}: {FIELD_WORDS.get(field, field)} was {was}, is {now}.")
    if not changed:
        print(f"{clutch.label} has all of that already.")


def _dates(laid: str | None, found: str | None, set_up: str | None, whole: SiteFolder) -> dict[str, int | None]:
    stated: dict[str, int | None] = {}
    if laid is not None:
        stated["laid_from_ms"], last_ms = day_range_ms(laid, whole.zone, "--laid")
        stated["laid_to_ms"] = min(last_ms, at_ms(None, whole))
    if found is not None:
        stated["found_ms"] = moment_ms(found, whole.zone, "--found") if found else None
    if set_up is not None:
        stated["set_up_ms"] = moment_ms(set_up, whole.zone, "--set-up")
    return stated


def _rest(text: str | None, why: str) -> Stated | None:
    if text is None:
        return None
    try:
        return stated_as(text, why or (_NOT_TOLD if text.strip().endswith(Reason.OTHER) else ""))
    except RegisterError as error:
        return done(Refusal(error.reason, error.hint))
