"""Every hour of a published weather year: temperature and humidity in, dew point out.

The year is the TMY3 file of Greensboro (723170) that pvlib carries among its own test data. Temperature and dew point
are given to 0.1 °C and humidity to 1 %, so each hour allows an interval of dew points, found by moving the inputs
through their rounding. Two kinds of hours say nothing about a dew point over water and are left out by name:

- the three hours on either side of a month's edge. The months come from different years and are blended there, each
  column by itself, so the three values of one hour do not belong together;
- hours with a dew point below 0 °C in the months taken from 1994 and 1996. There dew point and humidity are over ice,
  as the humidity in the same row shows; in the months of all other years they are over liquid water.
"""

import csv
import importlib.util
from functools import cache
from pathlib import Path
from typing import NamedTuple

import psychrolib

from daemon.climate.psychrometrics import dew_point_c, saturation_vapour_pressure_pa

TEMPERATURE_ROUNDING_K = 0.05
HUMIDITY_ROUNDING_PCT = 0.5
BLENDED_HOURS = 3
ICE_YEARS = ("1994", "1996")
ALLOWANCE_K = 0.1
"""Beyond rounding: the stations' own formulas of the 1980s differ from ours by up to 0.6 % of humidity in the file."""
ALLOWANCE_BELOW_ZERO_K = 0.15
"""As above; over supercooled water those formulas are further apart."""


class Hour(NamedTuple):
    """One row."""

    month: str
    year: str
    temperature_c: float
    dew_point_c: float
    humidity_pct: float
    blended: bool


@cache
def hours() -> tuple[Hour, ...]:
    """Read the file; pvlib is only located, not imported."""
    spec = importlib.util.find_spec("pvlib")
    assert spec is not None
    assert spec.origin is not None
    lines = (Path(spec.origin).parent / "data" / "723170TYA.CSV").read_text(encoding="utf-8").splitlines()
    rows = list(csv.DictReader(lines[1:]))
    months = [row["Date (MM/DD/YYYY)"][:2] for row in rows]
    edges = [at for at in range(len(rows)) if months[at] != months[at - 1]]
    blended = {(edge + hour) % len(rows) for edge in edges for hour in range(-BLENDED_HOURS, BLENDED_HOURS)}
    return tuple(
        Hour(
            months[at],
            row["Date (MM/DD/YYYY)"][-4:],
            float(row["Dry-bulb (C)"]),
            float(row["Dew-point (C)"]),
            float(row["RHum (%)"]),
            at in blended,
        )
        for at, row in enumerate(rows)
    )


def over_ice(hour: Hour) -> bool:
    return hour.year in ICE_YEARS and hour.dew_point_c < 0


def distance_k(hour: Hour) -> float:
    """How far the printed dew point lies outside what rounding allows; 0 inside."""
    low = dew_point_c(hour.temperature_c - TEMPERATURE_ROUNDING_K, hour.humidity_pct - HUMIDITY_ROUNDING_PCT)
    high = dew_point_c(
        hour.temperature_c + TEMPERATURE_ROUNDING_K, min(100.0, hour.humidity_pct + HUMIDITY_ROUNDING_PCT)
    )
    printed_low = hour.dew_point_c - TEMPERATURE_ROUNDING_K
    printed_high = hour.dew_point_c + TEMPERATURE_ROUNDING_K
    return max(0.0, low - printed_high, printed_low - high)


def test_every_hour_that_is_over_water_gives_the_printed_dew_point() -> None:
    compared = [hour for hour in hours() if not hour.blended and not over_ice(hour)]
    distances = [(distance_k(hour), hour) for hour in compared]
    inside = sum(distance == 0 for distance, _ in distances)
    print(  # noqa: T201 - shown on failure and with -s
        f"{len(compared)} of {len(hours())} hours compared, {inside} within rounding alone, worst {max(distances)}"
    )
    assert len(hours()) == 8760
    assert len(compared) > 0.9 * 8760
    assert inside / len(compared) > 0.97
    for distance, hour in distances:
        assert distance <= (ALLOWANCE_BELOW_ZERO_K if hour.dew_point_c < 0 else ALLOWANCE_K), hour


def test_blended_hours_are_left_out_for_the_reason_given() -> None:
    # Observed temperatures were whole degrees Fahrenheit; a blended value is one only by chance.
    def whole_fahrenheit(hour: Hour) -> bool:
        return abs(round((round(hour.temperature_c * 1.8 + 32) - 32) / 1.8, 1) - hour.temperature_c) < 1e-9

    blended = [whole_fahrenheit(hour) for hour in hours() if hour.blended]
    observed = [whole_fahrenheit(hour) for hour in hours() if not hour.blended]
    assert len(blended) == 12 * 2 * BLENDED_HOURS
    assert sum(observed) / len(observed) > 0.99
    assert sum(blended) / len(blended) < 0.5


def test_hours_over_ice_are_left_out_for_the_reason_given() -> None:
    # PsychroLib takes the saturation curve of ice below 0 °C and that of water above: with it the printed humidity
    # follows from the printed temperatures; with water all the way it does not.
    psychrolib.SetUnitSystem(psychrolib.SI)
    left_out = [hour for hour in hours() if over_ice(hour) and not hour.blended and hour.dew_point_c < -3]
    assert len(left_out) > 300
    ice, water = [], []
    for hour in left_out:
        pressures = [float(psychrolib.GetSatVapPres(t)) for t in (hour.dew_point_c, hour.temperature_c)]
        ice.append(abs(100 * pressures[0] / pressures[1] - hour.humidity_pct))
        pressures = [saturation_vapour_pressure_pa(t) for t in (hour.dew_point_c, hour.temperature_c)]
        water.append(abs(100 * pressures[0] / pressures[1] - hour.humidity_pct))
    # Half a percent of rounding in the humidity and 0.05 K in both temperatures: about 1 % together.
    assert sum(error < 1.1 for error in ice) / len(ice) > 0.99
    assert sum(error < 1.1 for error in water) / len(water) < 0.3
