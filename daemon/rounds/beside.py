"""Pure: what the probes say beside what hand and eye find. Where the two do not fit, one of them is to be checked.

The thresholds are common practice, no source: over a medium that falls apart the air is hardly ever as damp as over one
from which water comes.
"""

from collections.abc import Iterator

from daemon.rounds.sheet import BoxSheet
from daemon.rounds.values import BoxState, Lid, Medium

DAMP_PCT = 85.0
DRY_PCT = 65.0
MOSTLY_WET = 0.5
HARDLY_WET_H = 1.0
_LEAST_KNOWN_H = 12.0


def beside(sheet: BoxSheet, state: BoxState | None) -> tuple[str, ...]:
    """Give a sentence for each thing that probes in the box and people say differently."""
    return () if state is None else (*_medium(sheet, state), *_lid(sheet, state))


def _medium(sheet: BoxSheet, state: BoxState) -> Iterator[str]:
    humidity = sheet.humidity
    if humidity is None or not humidity.in_box or humidity.mean is None:
        return
    said = f"The probe in the box said {humidity.mean:.0f} % RH on average"
    if state.medium is Medium.DRY and humidity.mean >= DAMP_PCT:
        yield (
            f"{said}, and the medium feels dry: check the probe, or whether it lies on something wet. "
            "Until then trust the hand."
        )
    if state.medium is Medium.WET and humidity.mean <= DRY_PCT:
        yield (
            f"{said}, and the medium feels wet: check the probe, or whether it lies above the vents. "
            "Until then trust the hand."
        )


def _lid(sheet: BoxSheet, state: BoxState) -> Iterator[str]:
    water = sheet.water_on_lid
    if water is None or water.hours_known < _LEAST_KNOWN_H:
        return
    if state.lid is Lid.DRY and not state.wiped and water.stays_wet and water.hours >= MOSTLY_WET * water.hours_known:
        yield (
            f"By the probes there was water on the lid for about {water.hours:.0f} of {water.hours_known:.0f} h, and "
            "it is dry: the lid is warmer than is stated for it (temperature_factor), or the humidity reads too high."
        )
    if state.lid is Lid.DRIPPING and water.hours < HARDLY_WET_H:
        yield (
            "By the probes there was hardly any water on the lid, and it is dripping: the lid is colder than is stated "
            "for it (temperature_factor), or the humidity reads too low."
        )
