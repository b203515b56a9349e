"""Water on a lid, by what the pages say of the same moment. Pure.

Both use one verdict (`daemon.climate.condensation_risk.water_settles`): on where the surface is at the dew point or
below, which is a probability of water of one half, and off 0.2 K above it.
"""

from config.words import AlarmKind, Quantity
from daemon.alarms.figures import value_text
from daemon.climate.condensation_risk import water_settles
from daemon.overview import ClimateNow
from daemon.standing.found import Found

_KELVIN_TO_FAHRENHEIT = 9 / 5
_HUNDRED = 100


def water_on_lid(
    place: str, climate: ClimateNow | None, now_ms: int, *, wet_before: bool, is_on: bool, fahrenheit: bool
) -> Found | None:
    """Give the alarm of one place; None where its lid is dry, or nobody can say and it was not on.

    `climate` is that of its newest readings, None without them. `wet_before`: there was water when it was last asked.
    """
    if climate is None or climate.margin_k is None or now_ms - climate.measured_at_ms > climate.old_after_ms:
        reason = "no fresh readings of the air and its lid"
        return Found(AlarmKind.CONDENSATION, place, reason, place, known=False) if is_on else None
    if not water_settles(climate.margin_k, wet_before):
        return None
    return Found(AlarmKind.CONDENSATION, place, _reason(climate, climate.margin_k, fahrenheit), place)


def _reason(climate: ClimateNow, margin_k: float, fahrenheit: bool) -> str:
    """`lid at 27.0 °C, 0.3 °C below the dew point; 72 % likely wet`."""
    apart = abs(margin_k) * (_KELVIN_TO_FAHRENHEIT if fahrenheit else 1.0)
    side = "below" if margin_k <= 0 else "above"
    unit = "°F" if fahrenheit else "°C"
    lid = ""
    if climate.surface_temperature_c is not None:
        lid = f" at {value_text(climate.surface_temperature_c, Quantity.SURFACE_TEMPERATURE, fahrenheit)}"
    chance = climate.condensation_probability
    likely = "" if chance is None else f"; {chance * _HUNDRED:.0f} % likely wet"
    return f"lid{lid}, {apart:.1f} {unit} {side} the dew point{likely}"
