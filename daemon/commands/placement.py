"""`clutchwarden placement`: where a clutch would be least out of range, by what each place really measured."""

import json
import time
from dataclasses import asdict
from typing import Annotated, Any

import typer

from daemon.clutches.desk import Refusal, RegisterDesk
from daemon.commands.site_folder import HERE, SiteFolder, SiteOption, fail, read_site
from daemon.commands.species import nearest_species
from daemon.placement.advice import Advice, Option, development_a_day
from daemon.placement_desk import MOST_DAYS, USUAL_DAYS, PlacementDesk
from daemon.placement_text import (
    MOVE_CARE,
    NOT_ALL,
    TRAINED_ONLY,
    answer_text,
    days_text,
    lethal_text,
    measured_text,
    needs_text,
    neighbours_text,
    outside_text,
    peaks_text,
    sides_text,
    speed_text,
    unknown_text,
)


def placement(
    clutch: Annotated[str, typer.Argument(help="The clutch's label, as on its box.", show_default=False)] = "",
    species: Annotated[str, typer.Option(help="For a clutch that is not entered yet: its species profile.")] = "",
    days: Annotated[int, typer.Option(help="How many days to look back.", min=1, max=MOST_DAYS)] = USUAL_DAYS,
    as_json: Annotated[bool, typer.Option("--json", help="For programs.")] = False,
    site: SiteOption = HERE,
) -> None:
    """Say where a clutch would be least out of range, given what each place measured. Nothing is moved."""
    if bool(clutch) == bool(species):
        raise fail("Name one clutch, or give --species for one that is not entered yet.")
    whole = read_site(site)
    advice = _of_clutch(whole, clutch, days) if clutch else _of_species(whole, species, days)
    if as_json:
        print(json.dumps(_as_dict(advice), indent=2, ensure_ascii=False))
        return

    def celsius(value_c: float) -> str:
        return f"{value_c * 1.8 + 32:.1f} °F" if whole.fahrenheit else f"{value_c:.1f} °C"

    needs = advice.needs
    if advice.venomous:
        print(TRAINED_ONLY)
    elif advice.caution:
        print(f"Caution: {advice.caution}")
    print(answer_text(advice))
    print(f"{advice.label or needs.species_name}: {needs_text(needs, celsius)}. The last {days_text(advice.days)}.")
    if needs.why_no_speed:
        print(needs.why_no_speed)
    for option in advice.options:
        print()
        for line in _lines(advice, option, celsius):
            print(line)
    print()
    print(NOT_ALL)
    if not advice.venomous:
        print(MOVE_CARE)


def _of_clutch(whole: SiteFolder, label: str, days: int) -> Advice:
    with whole.journal() as journal:
        found = RegisterDesk(journal, whole.site, whole.profiles, _now_ms).find(label)
        if isinstance(found, Refusal):
            raise fail(f"Not done: {found}")
        advice = _desk(whole, journal).of_clutch(found.clutch_id, days)
    if advice is None:
        raise fail(f"There is no profile {found.species_id!r}, so nobody knows what {label} needs.")
    return advice


def _of_species(whole: SiteFolder, species: str, days: int) -> Advice:
    with whole.journal() as journal:
        advice = _desk(whole, journal).of_species(species, days)
    if advice is None:
        raise fail(f"There is no species profile {species!r}. {nearest_species(species, whole.profiles)}")
    return advice


def _desk(whole: SiteFolder, journal: Any) -> PlacementDesk:
    return PlacementDesk(journal, whole.site, whole.profiles, whole.settings.heat.longest_bridge_s, _now_ms)


def _now_ms() -> int:
    return time.time_ns() // 1_000_000


def _lines(advice: Advice, option: Option, celsius: Any) -> list[str]:
    stay, needs = option.stay, advice.needs
    here = " (it lies here)" if option.is_here else ""
    if stay is None:
        told = [f"{option.name}{here}", option.unknown]
    else:
        sides = sides_text(stay)
        told = [
            f"{option.name}{here}: outside {outside_text(option)}{f', {sides}' if sides else ''}",
            lethal_text(stay),
            peaks_text(stay, needs, celsius),
            measured_text(stay, celsius),
            speed_text(needs, stay),
            unknown_text(stay),
        ]
    free = ", ".join(path for path, _ in option.free)
    told += [neighbours_text(option, celsius), *option.conflicts, f"Free: {free}." if free else "No free box."]
    return [told[0], *(f"  {each}" for each in told[1:] if each)]


def _as_dict(advice: Advice) -> dict[str, object]:
    needs = advice.needs
    return {
        "clutch": advice.label or None,
        "species": needs.species_id,
        "days": advice.days,
        "limits": {
            "low_c": needs.limits.low_c,
            "high_c": needs.limits.high_c,
            "lethal_low_c": needs.limits.lethal_low_c,
            "lethal_high_c": needs.limits.lethal_high_c,
        },
        "places": [
            {
                "place": option.place,
                "here": option.is_here,
                "stay": None if option.stay is None else asdict(option.stay),
                "development_a_day": development_a_day(needs, option.stay),
                "unknown": option.unknown or None,
                "probe": option.measured_by or None,
                "free": [path for path, _ in option.free],
                "neighbours": list(option.neighbours),
                "conflicts": list(option.conflicts),
            }
            for option in advice.options
        ],
    }
