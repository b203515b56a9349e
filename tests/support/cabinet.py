"""A simulated cabinet whose time constant is known, and the readings of a probe in it and of one in its room."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from config.words import Quantity
from sensors.simulation.events import Event, EventKind
from sensors.simulation.incubator import IncubatorModel
from sensors.simulation.parameters import (
    BoxParameters,
    IncubatorParameters,
    RoomParameters,
    Thermostat,
    ThermostatKind,
    ZoneParameters,
)
from sensors.simulation.probes import ONE_WIRE, SimulatedProbe

HOUR_MS = 3_600_000


@dataclass(frozen=True)
class Night:
    """What was read while a cabinet was watched: UTC milliseconds and degree Celsius, and its true time constant."""

    times_ms: list[int]
    air_c: list[float]
    room_c: list[float]
    time_constant_h: float


def cabinet(
    seed: int, *, swing_k: float = 0.0, wander_k: float = 0.0, kind: ThermostatKind = ThermostatKind.PROPORTIONAL
) -> IncubatorParameters:
    """A cabinet with a shelf and four boxes; walls, contents and room are drawn."""
    chance = np.random.default_rng(seed)
    return IncubatorParameters(
        place="north",
        wall_loss_w_k=float(chance.uniform(1.2, 2.5)),
        contents_capacity_j_k=float(chance.uniform(25e3, 60e3)),
        contents_conductance_w_k=float(chance.uniform(5, 12)),
        thermostat=Thermostat(set_point_c=float(chance.uniform(28, 31)), kind=kind),
        room=RoomParameters(mean_c=float(chance.uniform(17, 23)), swing_k=swing_k, wander_k=wander_k),
        zones=(ZoneParameters(place="north/upper", stratification=0.05),),
        boxes=tuple(BoxParameters(place=f"north/upper/N{number}", zone="north/upper") for number in range(4)),
    )


def slowest_time_constant_h(of: IncubatorParameters) -> float:
    """Of the linear heat balance without heater: the slowest of its eigenvalues, which is what a long cooling follows.

    Written down from the equations in the head of `sensors.simulation.heat` and not taken from its code.
    """
    slopes = {zone.place: zone.stratification for zone in of.zones}
    nodes = [(of.contents_capacity_j_k, of.contents_conductance_w_k, 0.0)]
    nodes += [(box.capacity_j_k, box.conductance_w_k, slopes.get(box.zone, 0.0)) for box in of.boxes]
    rates = np.zeros((len(nodes) + 1, len(nodes) + 1))
    rates[0, 0] = -of.loss_w_k(door_open=False)
    for at, (capacity, conductance, slope) in enumerate(nodes, start=1):
        rates[0, 0] -= conductance * (1 + slope)
        rates[0, at] = conductance
        rates[at, 0] = conductance * (1 + slope) / capacity
        rates[at, at] = -conductance / capacity
    rates[0] /= of.air_capacity_j_k
    return float(-1 / np.linalg.eigvals(rates).real.max() / 3600)


def outages(hours: float, days: int, seed: int, kind: EventKind = EventKind.MAINS_LOST) -> list[Event]:
    """One a day, somewhere between noon and the evening, UTC."""
    chance = np.random.default_rng(seed)
    starts = [(day * 24 + 12 + int(chance.integers(0, 8))) * HOUR_MS for day in range(days)]
    return [Event(start, kind, start + round(hours * HOUR_MS)) for start in starts]


def watched(of: IncubatorParameters, seed: int, events: Iterable[Event], hours: float, every_s: float = 60.0) -> Night:
    """Read a 1-wire thermometer on the shelf, and the room beside it, for so many hours from time 0 on."""
    model = IncubatorModel(of, seed, events=events, start_ms=0)
    channels = {"t": Quantity.AIR_TEMPERATURE}
    inside = SimulatedProbe("shelf", "north/upper", channels, ONE_WIRE, seed)
    outside = SimulatedProbe("room", "room", channels, ONE_WIRE, seed + 1)
    times = list(range(0, round(hours * HOUR_MS), round(every_s * 1000)))
    air: list[float] = []
    room: list[float] = []
    for at_ms in times:
        model.advance_to(at_ms)
        for probe, series in ((inside, air), (outside, room)):
            values = probe.read(model.climate(probe.place), at_ms)
            assert values is not None
            series.append(values["t"])
    return Night(times, air, room, slowest_time_constant_h(of))


def straight_line(from_c: float, to_c: float, count: int) -> Sequence[float]:
    """Evenly spaced temperatures, both ends included."""
    return [from_c + (to_c - from_c) * at / (count - 1) for at in range(count)]
