"""Humidities that dry out or do not: made of stated numbers, and in the simulated incubator."""

import math

import numpy as np

from config.words import Quantity
from daemon.climate.dry_out import Median
from sensors.simulation.incubator import IncubatorModel
from sensors.simulation.parameters import BoxParameters, IncubatorParameters, RoomParameters, ZoneParameters
from sensors.simulation.probes import DIGITAL, SimulatedProbe

MINUTE_MS = 60_000
HOUR_MS = 60 * MINUTE_MS
DAY_MS = 24 * HOUR_MS
NOW_MS = 1_780_002_000_000 // HOUR_MS * HOUR_MS
BOX = "north/upper/N1"


def slow_noise(count: int, memory_h: float, spread: float, draw: np.random.Generator) -> list[float]:
    """An Ornstein-Uhlenbeck process in its exact discrete form (Gillespie, Phys. Rev. E 54 (1996) 2084)."""
    kept = math.exp(-1 / memory_h)
    values = [float(draw.normal(0, spread))]
    for fresh in draw.normal(0, spread * math.sqrt(1 - kept * kept), count - 1):
        values.append(kept * values[-1] + float(fresh))
    return values


def medians(
    hours: int,
    *,
    level_pct: float = 85.0,
    slope_pct_day: float = 0.0,
    swing_pct: float = 0.0,
    warmest_h: float = 0.0,
    noise: list[float] | None = None,
) -> list[Median]:
    """Hourly medians up to now: the level that the line has now, a slope, a daily cycle and noise."""
    found = []
    for index in range(hours):
        ahead_h = index - hours + 0.5
        cycle = swing_pct * math.cos(2 * math.pi * (ahead_h - warmest_h) / 24)
        value = level_pct + slope_pct_day * ahead_h / 24 + cycle + (noise[index] if noise else 0.0)
        found.append((NOW_MS + (index - hours) * HOUR_MS, value))
    return found


def drying_box(seed: int, days: int, loss_a_day: float, *, noise: bool) -> list[tuple[int, float]]:
    """Humidity every five minutes in a simulated box whose medium loses water activity day by day; from 0 on."""
    parameters = IncubatorParameters(
        place="north",
        zones=(ZoneParameters(place="north/upper"),),
        boxes=(BoxParameters(place=BOX, zone="north/upper", temperature_factor=0.95),),
        room=RoomParameters(wander_k=0.4 if noise else 0.0),
    )
    model = IncubatorModel(parameters, seed, step_ms=5 * MINUTE_MS, start_ms=-DAY_MS)
    probe = SimulatedProbe("box", BOX, {"rh": Quantity.RELATIVE_HUMIDITY}, DIGITAL, seed)
    air = model._vapour.boxes[0]
    full = air.activity
    found = []
    for at_ms in range(0, days * DAY_MS, 5 * MINUTE_MS):
        air.activity = full - loss_a_day * at_ms / DAY_MS
        model.advance_to(at_ms)
        climate = model.climate(BOX)
        values = probe.read(climate, at_ms)
        assert values is not None
        found.append((at_ms, values["rh"] if noise else climate.relative_humidity_pct))
    return found
