"""One simulated incubator: thermostat, heat, vapour and events, stepped from one moment to the next."""

from collections.abc import Iterable
from typing import NamedTuple

from config.model import ROOM
from sensors.simulation.chance import Seed, standard_normals
from sensors.simulation.events import Conditions, Event, EventKind, Schedule
from sensors.simulation.heat import HeatBalance, HeatLedger
from sensors.simulation.moist_air import equilibrium_density_kg_m3
from sensors.simulation.parameters import IncubatorParameters, ThermostatKind
from sensors.simulation.room import Room
from sensors.simulation.vapour import Surroundings, VapourBalance, VapourLedger


class LocalClimate(NamedTuple):
    """What an ideal probe would read at one place."""

    air_temperature_c: float
    relative_humidity_pct: float
    surface_temperature_c: float
    """of the coldest surface there: a box's lid, the cabinet's coldest wall"""


class TrueState(NamedTuple):
    """What the simulated world is like at one moment, without any probe."""

    at_ms: int
    room_c: float
    air_c: float
    contents_c: float
    heater_w: float
    stored_heat_j: float
    stored_water_kg: float


class IncubatorModel:
    """A cabinet with its zones and boxes. Same parameters, seed, events and calls: same trace.

    Times are UTC milliseconds since the epoch; the model starts at `start_ms` with everything at the set point. An
    on-off thermostat switches at the steps: give it a `step_ms` of 10 s or so.
    """

    def __init__(
        self,
        parameters: IncubatorParameters,
        seed: Seed,
        *,
        start_ms: int = 0,
        events: Iterable[Event] = (),
        step_ms: int = 30_000,
    ) -> None:
        self._parameters = parameters
        self._step_ms = step_ms
        self._schedule = Schedule(events)
        self._conditions = Conditions()
        self._next_change_ms: int | None = start_ms
        self._room = Room(parameters.room, standard_normals(seed))
        start_c = parameters.thermostat.set_point_c
        self._heat = HeatBalance(parameters, start_c)
        self._vapour = VapourBalance(parameters, start_c)
        self._slopes = {parameters.place: 0.0, **{zone.place: zone.stratification for zone in parameters.zones}}
        self._lowest_slope = min(self._slopes.values())
        self._boxes = {box.place: index for index, box in enumerate(parameters.boxes)}
        self._at_ms = start_ms
        self._room_c = parameters.room.mean_c
        self._heater_w = 0.0
        self._loss_w_k = parameters.loss_w_k(door_open=False)

    @property
    def at_ms(self) -> int:
        """The moment the model stands at."""
        return self._at_ms

    @property
    def true_state(self) -> TrueState:
        """The whole cabinet at this moment."""
        heat = self._heat
        return TrueState(
            at_ms=self._at_ms,
            room_c=self._room_c,
            air_c=heat.air_c,
            contents_c=heat.nodes_c[0],
            heater_w=self._heater_w,
            stored_heat_j=heat.stored_j,
            stored_water_kg=self._vapour.stored_kg,
        )

    @property
    def heat_ledger(self) -> HeatLedger:
        """Heat put in and lost since the start."""
        return self._heat.ledger

    @property
    def vapour_ledger(self) -> VapourLedger:
        """Water evaporated and carried off since the start."""
        return self._vapour.ledger

    @property
    def conditions(self) -> Conditions:
        """What holds at this moment: mains, door, faults of the heater."""
        return self._schedule.conditions(self._at_ms)

    def climate(self, place: str) -> LocalClimate:
        """Air, humidity and coldest surface at the incubator, one of its zones or boxes, or in the room around it.

        Raises KeyError for a place that is not in this incubator.
        """
        if place == ROOM:
            here_c = self._room_c
            share = self._room.vapour_kg_m3 / equilibrium_density_kg_m3(here_c, here_c)
            return LocalClimate(here_c, min(100.0, 100.0 * share), here_c)
        if place in self._boxes:
            index = self._boxes[place]
            mean_c = inside_c = self._heat.nodes_c[index + 1]
            air = self._vapour.boxes[index]
        else:
            mean_c = self._heat.air_c
            inside_c = mean_c + self._slopes[place] * (mean_c - self._room_c)
            air = self._vapour.cabinet
        surface_c = self._room_c + air.temperature_factor * (inside_c - self._room_c)
        # The vapour pressure is the same on all shelves, so a warmer shelf is drier.
        humidity_pct = 100.0 * air.density_kg_m3 / equilibrium_density_kg_m3(inside_c, mean_c)
        return LocalClimate(inside_c, humidity_pct, surface_c)

    def add(self, event: Event) -> None:
        """Let something happen, now or later."""
        self._schedule.add(event)
        self._next_change_ms = self._at_ms

    def end(self, kind: EventKind, at_ms: int) -> None:
        """End whatever of this kind goes on at that moment."""
        self._schedule.end(kind, at_ms)
        self._next_change_ms = self._at_ms

    def advance_to(self, end_ms: int) -> None:
        """Let time pass. A moment that has passed already leaves the model as it is."""
        while self._at_ms < end_ms:
            if self._next_change_ms is not None and self._at_ms >= self._next_change_ms:
                self._note_events()
            until_ms = min(end_ms, self._at_ms + self._step_ms)
            if self._next_change_ms is not None:
                until_ms = min(until_ms, self._next_change_ms)
            self._advance(until_ms)

    def _note_events(self) -> None:
        self._conditions = self._schedule.conditions(self._at_ms)
        self._next_change_ms = self._schedule.next_change_ms(self._at_ms)
        self._loss_w_k = self._parameters.loss_w_k(self._conditions.door_open)
        self._vapour.cabinet.exchange_m3_s = self._parameters.exchange_m3_s(self._conditions.door_open)

    def _advance(self, until_ms: int) -> None:
        dt_s = (until_ms - self._at_ms) / 1000.0
        conditions = self._conditions
        heat = self._heat
        room_c = self._room.advance(self._at_ms, dt_s) + conditions.room_change_k
        self._room_c = room_c
        self._heater_w = self._drive(*heat.begin(dt_s, self._loss_w_k, room_c))
        heat.finish(self._heater_w)
        coldest_c = heat.air_c + self._lowest_slope * (heat.air_c - room_c)
        surroundings = Surroundings(heat.air_c, coldest_c, heat.nodes_c, room_c, self._room.vapour_kg_m3)
        self._vapour.advance(dt_s, surroundings)
        self._at_ms = until_ms

    def _drive(self, inflow_w: float, whole_w_k: float) -> float:
        """Heater power for the step, watt; the arguments are those that the heat balance gives.

        On-off looks at the air before the step. Proportional control looks at the middle of the same step, which keeps
        a narrow band steady at any step.
        """
        full_w = self._parameters.heater_w
        conditions = self._conditions
        if not conditions.mains or conditions.stuck_off:
            return 0.0
        if conditions.stuck_on:
            return full_w
        thermostat = self._parameters.thermostat
        if thermostat.kind is ThermostatKind.ON_OFF:
            below_k = thermostat.set_point_c - self._heat.air_c
            running = self._heater_w > 0.0
            return full_w if below_k >= thermostat.band_k / 2 or (running and below_k > -thermostat.band_k / 2) else 0.0
        gain_w_k = full_w / thermostat.band_k
        zero_w = full_w / 2 + gain_w_k * thermostat.set_point_c
        middle_c = (inflow_w + zero_w) / (whole_w_k + gain_w_k)
        return min(full_w, max(0.0, zero_w - gain_w_k * middle_c))
