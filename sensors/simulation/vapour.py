"""Water vapour: evaporation, exchange with the room, condensation on the coldest surface.

For the air of the cabinet, and alike for the air of each box, with density w in kg/m3 and conductances in m3/s:

    V dw/dt = k_wet (a w_s(T_wet) - w) - X (w - w_outside) - k_cold (w - w_s(T_cold))

where w_s(T) is the density that this air has when it is in balance with water at T: equal vapour pressure. The last
term works while w is above that of the cold surface, or while water is on that surface to evaporate again. Fluxes are
mass transfer coefficient x area x difference of density (Incropera and DeWitt, Fundamentals of Heat and Mass Transfer,
chapter 6, convection mass transfer). Air is exchanged volume for volume, though warm air is a few percent thinner.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from sensors.simulation.moist_air import equilibrium_density_kg_m3
from sensors.simulation.parameters import BoxParameters, IncubatorParameters

LARGEST_FILM_KG = 0.02
"""What a surface holds before drops run back into the medium or the tray."""


@dataclass(slots=True)
class VapourLedger:
    """Where the water went since the start, kg. What runs back into the medium counts as not evaporated."""

    evaporated_kg: float = 0.0
    exchanged_kg: float = 0.0


class Surroundings(NamedTuple):
    """Temperatures and outside air during one step; `nodes_c` are the contents and then each box."""

    air_c: float
    coldest_air_c: float
    nodes_c: Sequence[float]
    room_c: float
    room_kg_m3: float


@dataclass(slots=True)
class AirVolume:
    """Air over a wet and under a cold surface."""

    volume_m3: float
    wet_m3_s: float
    activity: float
    cold_m3_s: float
    temperature_factor: float
    exchange_m3_s: float
    density_kg_m3: float
    film_kg: float = 0.0
    """water on the cold surface"""
    _condensing: bool = False
    _cold_kg_m3: float = 0.0
    _wet_kg_m3: float = 0.0

    def take_in(self, dt_s: float, inside_c: float, wet_kg_m3: float, room_c: float) -> tuple[float, float]:
        """Begin a step. Gives the air's weight in the balance (m3/s) and what comes in without exchange (kg/s)."""
        self._wet_kg_m3 = self.activity * wet_kg_m3
        cold_c = room_c + self.temperature_factor * (inside_c - room_c)
        self._cold_kg_m3 = equilibrium_density_kg_m3(cold_c, inside_c)
        self._condensing = self.film_kg > 0.0 or self.density_kg_m3 > self._cold_kg_m3
        held_m3_s = self.volume_m3 / dt_s
        weight = held_m3_s + self.wet_m3_s + self.exchange_m3_s
        inflow = held_m3_s * self.density_kg_m3 + self.wet_m3_s * self._wet_kg_m3
        if self._condensing:
            weight += self.cold_m3_s
            inflow += self.cold_m3_s * self._cold_kg_m3
        return weight, inflow

    def settle(self, dt_s: float, density_kg_m3: float, fog_kg_m3: float) -> float:
        """End a step with the new density; move water to or from the surface. Gives what evaporated, kg."""
        evaporated_kg = self.wet_m3_s * (self._wet_kg_m3 - density_kg_m3) * dt_s
        if self._condensing:
            self.film_kg += self.cold_m3_s * (density_kg_m3 - self._cold_kg_m3) * dt_s
            if self.film_kg < 0.0:
                # The surface ran dry within the step: it cannot give more than it had.
                density_kg_m3 += self.film_kg / self.volume_m3
                self.film_kg = 0.0
        if density_kg_m3 > fog_kg_m3:
            self.film_kg += (density_kg_m3 - fog_kg_m3) * self.volume_m3
            density_kg_m3 = fog_kg_m3
        if self.film_kg > LARGEST_FILM_KG:
            evaporated_kg -= self.film_kg - LARGEST_FILM_KG
            self.film_kg = LARGEST_FILM_KG
        self.density_kg_m3 = density_kg_m3
        return evaporated_kg


class VapourBalance:
    """Cabinet air, and the air of every box behind it.

    One step is the backward Euler rule, solved directly because every box exchanges with the cabinet only. Fluxes are
    those of the end of the step, so the water adds up to the last digit.
    """

    def __init__(self, parameters: IncubatorParameters, start_c: float) -> None:
        self.cabinet = AirVolume(
            volume_m3=parameters.volume_m3,
            wet_m3_s=parameters.tray_m3_s,
            activity=1.0,
            cold_m3_s=parameters.surface_m3_s,
            temperature_factor=parameters.temperature_factor,
            exchange_m3_s=parameters.exchange_m3_s(door_open=False),
            density_kg_m3=0.7 * equilibrium_density_kg_m3(start_c, start_c),
        )
        self.boxes = [_box_air(box, start_c) for box in parameters.boxes]
        self.ledger = VapourLedger()

    @property
    def stored_kg(self) -> float:
        """Vapour in all air, and water on all cold surfaces."""
        return sum(air.volume_m3 * air.density_kg_m3 + air.film_kg for air in (self.cabinet, *self.boxes))

    def advance(self, dt_s: float, now: Surroundings) -> None:
        """One step at given temperatures."""
        cabinet = self.cabinet
        tray_kg_m3 = equilibrium_density_kg_m3(now.nodes_c[0], now.air_c)
        saturated = [equilibrium_density_kg_m3(box_c, box_c) for box_c in now.nodes_c[1:]]
        weight, inflow = cabinet.take_in(dt_s, now.air_c, tray_kg_m3, now.room_c)
        inflow += cabinet.exchange_m3_s * now.room_kg_m3
        parts: list[tuple[float, float]] = []
        for index, box in enumerate(self.boxes):
            box_weight, box_inflow = box.take_in(dt_s, now.nodes_c[index + 1], saturated[index], now.room_c)
            own, shared = box_inflow / box_weight, box.exchange_m3_s / box_weight
            weight += box.exchange_m3_s * (1.0 - shared)
            inflow += box.exchange_m3_s * own
            parts.append((own, shared))
        density = inflow / weight
        evaporated_kg = cabinet.settle(dt_s, density, equilibrium_density_kg_m3(now.coldest_air_c, now.air_c))
        for index, (own, shared) in enumerate(parts):
            evaporated_kg += self.boxes[index].settle(dt_s, own + shared * density, saturated[index])
        self.ledger.evaporated_kg += evaporated_kg
        self.ledger.exchanged_kg += cabinet.exchange_m3_s * (density - now.room_kg_m3) * dt_s


def _box_air(box: BoxParameters, start_c: float) -> AirVolume:
    return AirVolume(
        volume_m3=box.volume_m3,
        wet_m3_s=box.medium_m3_s,
        activity=box.water_activity,
        cold_m3_s=box.lid_m3_s,
        temperature_factor=box.temperature_factor,
        exchange_m3_s=box.volume_m3 * box.exchange_per_h / 3600.0,
        density_kg_m3=0.9 * equilibrium_density_kg_m3(start_c, start_c),
    )
