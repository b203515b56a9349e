"""Sheets made by hand, for rules that need no journal."""

from dataclasses import replace

from config.words import Quantity
from daemon.clutches.eggs import EggCounts
from daemon.development.window import NoWindow
from daemon.rounds.sheet import BoxSheet, ClutchSheet, Measured, WaterOnLid
from daemon.rounds.state import state_of
from daemon.rounds.values import BoxState, Clock, Entry, Finding
from tests.rounds.bench import DAY_MS, N1, START_MS, entry


def clutch(**changes: object) -> ClutchSheet:
    """A ratsnake's clutch of eight sound eggs, day 20, of which no date is known."""
    made = ClutchSheet(
        clutch_id=1,
        label="Juniper",
        species_id="elaphe-taeniura",
        species_name="beauty ratsnake",
        group="snake",
        counts=EggCounts(8, 8),
        watched=(),
        left_in_place=(),
        marked=(),
        day=20,
        degree_hours_ch=None,
        share=None,
        window=NoWindow("not known"),
        venomous=False,
        protected="",
        caution="",
        note="",
    )
    return replace(made, **changes)  # type: ignore[arg-type]


def sheet(**changes: object) -> BoxSheet:
    """A box that was looked into two days ago, of which nothing is measured."""
    made = BoxSheet(
        key=N1,
        since_ms=START_MS - 2 * DAY_MS,
        since_why="somebody last looked into it",
        until_ms=START_MS,
        temperature=None,
        humidity=None,
        water_on_lid=None,
        dry_out="",
        dry_days=None,
        clutch=clutch(),
        last=None,
        last_looked_ms=START_MS - 2 * DAY_MS,
    )
    return replace(made, **changes)  # type: ignore[arg-type]


def humidity(
    mean: float, *, in_box: bool = True, below: float = 0.0, above: float = 0.0, ends_below: bool = False
) -> Measured:
    """Two days of humidity."""
    low, high = (80.0, 100.0) if in_box else (None, None)
    least, most = mean - 2, mean + 2
    quantity = Quantity.RELATIVE_HUMIDITY
    return Measured(quantity, mean, least, most, below, above, 48.0, 0.0, low, high, "box N1", in_box, ends_below)


def temperature(below: float = 0.0, above: float = 0.0) -> Measured:
    """Two days of air at 28 °C."""
    return Measured(
        Quantity.AIR_TEMPERATURE, 28.0, 27.0, 29.0, below, above, 48.0, 0.0, 24.0, 30.0, "upper shelf", in_box=False
    )


def water(hours: float, *, stays_wet: bool = False) -> WaterOnLid:
    """So many hours of water on the lid in two days."""
    return WaterOnLid(hours, 48.0, START_MS - 2 * DAY_MS, stays_wet)


def finding(number: int, one: Entry, at_ms: int = START_MS) -> Finding:
    """An entry on record."""
    return Finding(number, 1, one, 1, at_ms, at_ms, clock=Clock.FITS)


def found(**said: object) -> BoxState:
    """What one entry comes to."""
    return state_of(N1, [finding(1, entry(1, **said))])  # type: ignore[arg-type]
