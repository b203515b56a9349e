"""`clutchwarden dew-point`: the water in one air, how sure that is, and the margin of a surface. Needs no daemon."""

import json
import math
from dataclasses import dataclass
from typing import Annotated

import typer

from config.celsius import looks_like_fahrenheit
from daemon.climate.condensation import Condensation, condensation
from daemon.climate.condensation_risk import least_temperature_factor, temperature_factor
from daemon.climate.psychrometrics import (
    absolute_humidity_g_m3,
    dew_point_c,
    vapour_pressure_deficit_pa,
    vapour_pressure_pa,
)
from daemon.climate.uncertainty import (
    Air,
    Estimate,
    Lid,
    margin_at_probe,
    margin_by_factor,
    of_air,
    probability_of_water,
    standard_uncertainty_of_limits,
)
from daemon.commands.site_folder import fail

_COVERAGE = 2
"""The factor k behind a ± that people read: about 95 % where the spread is near normal (JCGM 100:2008, 6.3.3)."""

_LEAST_TOLD = 0.01


@dataclass(frozen=True, slots=True)
class _Accuracies:
    """What a data sheet states as ±, each."""

    temperature_k: float
    humidity_pct: float
    surface_k: float
    outside_k: float
    factor: float


@dataclass(frozen=True, slots=True)
class _Answer:
    dew_point: Estimate
    vapour: Estimate
    deficit: Estimate
    absolute: Estimate
    surface: Condensation
    margin: Estimate | None
    factor: Estimate | None
    least_factor: Estimate | None


def dew_point(
    temperature: Annotated[float, typer.Option(help="Air temperature, °C, best measured at the humidity element.")],
    humidity: Annotated[float, typer.Option(help="Relative humidity, percent: 85, not 0.85.")],
    temperature_accuracy: Annotated[float, typer.Option(help="± of the temperature, K, from the data sheet.")] = 0.2,
    humidity_accuracy: Annotated[float, typer.Option(help="± of the humidity, % RH, from the data sheet.")] = 2.0,
    surface: Annotated[float | None, typer.Option(help="Temperature of the lid or wall, °C, where measured.")] = None,
    surface_accuracy: Annotated[
        float | None, typer.Option(help="± of the surface, K.", show_default="as of the temperature")
    ] = None,
    outside: Annotated[
        float | None, typer.Option(help="Air around the box, °C; with --factor, or with --surface to work it out.")
    ] = None,
    outside_accuracy: Annotated[float, typer.Option(help="± of the air around, K.")] = 1.0,
    factor: Annotated[
        float | None, typer.Option(help="Temperature factor of the lid, 0 to 1 (ISO 13788); with --outside.")
    ] = None,
    factor_accuracy: Annotated[float, typer.Option(help="± of the factor.")] = 0.05,
    as_json: Annotated[bool, typer.Option("--json", help="For programs.")] = False,
) -> None:
    """Say at what temperature water settles from this air, and how sure that is.

    The ± that are not given are common practice for good probes, without a source; they are shown with the answer.
    """
    _require_one_surface(surface, outside, factor)
    _require_celsius({"--temperature": temperature, "--surface": surface, "--outside": outside})
    surface_k = temperature_accuracy if surface_accuracy is None else surface_accuracy
    accuracies = _Accuracies(temperature_accuracy, humidity_accuracy, surface_k, outside_accuracy, factor_accuracy)
    try:
        answer = _answered(temperature, humidity, surface, outside, factor, accuracies)
    except ValueError as error:
        raise fail(f"{error} Nothing was calculated.") from error
    taken = f"{temperature:g} °C ± {temperature_accuracy:g} K, {humidity:g} % RH ± {humidity_accuracy:g} %"
    if surface is not None:
        taken += f", surface {surface:g} °C ± {surface_k:g} K"
    if outside is not None:
        taken += f", outside {outside:g} °C ± {outside_accuracy:g} K"
    if factor is not None:
        taken += f", factor {factor:g} ± {factor_accuracy:g}"
    print(json.dumps(_as_dict(answer) | {"taken_as": taken}, indent=2) if as_json else _as_text(answer, taken))


def _require_one_surface(surface: float | None, outside: float | None, factor: float | None) -> None:
    if surface is not None and factor is not None:
        raise fail("Give --surface where the lid is measured, or --outside with --factor where it is not; not both.")
    if surface is None and (outside is None) != (factor is None):
        missing = "--outside" if outside is None else "--factor"
        raise fail(f"{missing} is missing: a surface is estimated from --outside and --factor together.")


def _require_celsius(stated: dict[str, float | None]) -> None:
    for option, value in stated.items():
        if value is not None and not math.isfinite(value):
            raise fail(f"{option}: {value} is not a temperature. Give a number in °C.")
        fahrenheit = None if value is None else looks_like_fahrenheit(value)
        if fahrenheit:
            raise fail(f"{option}: {fahrenheit}. Give °C.")


def _answered(
    temperature: float,
    humidity: float,
    surface: float | None,
    outside: float | None,
    factor: float | None,
    accuracies: _Accuracies,
) -> _Answer:
    limits = standard_uncertainty_of_limits
    air = Air(temperature, humidity, limits(accuracies.temperature_k), limits(accuracies.humidity_pct))
    margin = measured = least = None
    if surface is not None:
        on_lid = Estimate(surface, limits(accuracies.surface_k))
        margin = margin_at_probe(air, on_lid.value, on_lid.standard_uncertainty)
        if outside is not None:
            room = Estimate(outside, limits(accuracies.outside_k))
            measured = temperature_factor(Estimate(air.temperature_c, air.temperature_u_k), room, on_lid)
            least = least_temperature_factor(air, room)
    elif outside is not None and factor is not None:
        lid = Lid(outside, factor, limits(accuracies.outside_k), limits(accuracies.factor))
        margin = margin_by_factor(air, lid)
    return _Answer(
        of_air(dew_point_c, air),
        of_air(vapour_pressure_pa, air),
        of_air(vapour_pressure_deficit_pa, air),
        of_air(absolute_humidity_g_m3, air),
        condensation(temperature, humidity, surface, outside, factor),
        margin,
        measured,
        least,
    )


def _as_dict(answer: _Answer) -> dict[str, object]:
    found: dict[str, object] = {
        "dew_point_c": answer.dew_point.value,
        "dew_point_u_k": answer.dew_point.standard_uncertainty,
        "vapour_pressure_pa": answer.vapour.value,
        "vapour_pressure_u_pa": answer.vapour.standard_uncertainty,
        "vpd_pa": answer.deficit.value,
        "vpd_u_pa": answer.deficit.standard_uncertainty,
        "absolute_humidity_g_m3": answer.absolute.value,
        "absolute_humidity_u_g_m3": answer.absolute.standard_uncertainty,
    }
    if answer.margin is not None:
        found |= {
            "surface_temperature_c": answer.surface.surface_temperature_c,
            "margin_k": answer.margin.value,
            "margin_u_k": answer.margin.standard_uncertainty,
            "probability_of_water": probability_of_water(answer.margin),
            "surface_humidity_pct": answer.surface.surface_humidity_pct,
            "reason": answer.surface.reason,
        }
    for key, factor in (("temperature_factor", answer.factor), ("least_temperature_factor", answer.least_factor)):
        if factor is not None:
            found |= {key: factor.value, f"{key}_u": factor.standard_uncertainty}
    return found


def _as_text(answer: _Answer, taken: str) -> str:
    lines = [
        f"dew point          {_with_spread(answer.dew_point, '.1f')} °C",
        f"vapour pressure    {_with_spread(answer.vapour, '.0f')} Pa",
        f"deficit (VPD)      {_with_spread(answer.deficit, '.0f')} Pa",
        f"absolute humidity  {_with_spread(answer.absolute, '.1f')} g/m³",
    ]
    if answer.margin is not None:
        chance = f"chance of water {_chance(probability_of_water(answer.margin))}"
        lines.append(f"margin of surface  {_with_spread(answer.margin, '.1f')} K; {chance}")
        lines.append(answer.surface.reason)
    if answer.surface.surface_humidity_pct is not None:
        lines.append(f"At the surface     {answer.surface.surface_humidity_pct:.0f} % RH; from 80 % on mould can grow")
    if answer.factor is not None:
        lines.append(f"temperature factor {_with_spread(answer.factor, '.2f')} of this lid, for site.toml (ISO 13788)")
    if answer.least_factor is not None:
        lines.append(f"least factor       {_with_spread(answer.least_factor, '.2f')}; below it water settles")
    if answer.dew_point.value < 0:
        lines.append(
            "The dew point is over liquid water, as a humidity probe reports it; frost begins a little higher."
        )
    lines.append(f"Taken as: {taken}. Each ± above is k = {_COVERAGE}, about 95 %.")
    return "\n".join(lines)


def _chance(probability: float) -> str:
    """In percent, without a 0 or a 100 that the figures do not carry."""
    if probability < _LEAST_TOLD:
        return "under 1 %"
    return "over 99 %" if probability > 1 - _LEAST_TOLD else f"{100 * probability:.0f} %"


def _with_spread(estimate: Estimate, form: str) -> str:
    return f"{estimate.value:{form}} ± {_COVERAGE * estimate.standard_uncertainty:{form}}"
