"""Heat: Newton's law of cooling between the room, the cabinet air and everything that hangs on it.

    C_a dT_a/dt = P - U (T_a - T_room) - sum G_i (Z_i - T_i)
    C_i dT_i/dt = G_i (Z_i - T_i),   Z_i = T_a + s_i (T_a - T_room)

Node i is the contents of the cabinet or a box, Z_i the air around it, s_i its shelf's stratification. (Newton's law and
lumped capacities as in Incropera and DeWitt, Fundamentals of Heat and Mass Transfer, chapter 5.) The heat that
evaporation takes is left out: a gram an hour is 0.7 W.
"""

from dataclasses import dataclass

from sensors.simulation.parameters import IncubatorParameters

_LARGEST_CACHE = 64


@dataclass(slots=True)
class HeatLedger:
    """Where the heat went since the start, joule."""

    heater_j: float = 0.0
    lost_j: float = 0.0


@dataclass(frozen=True, slots=True)
class _Step:
    """What depends only on the length of the step and on the loss."""

    dt_s: float
    loss_w_k: float
    air_w_k: float
    room_w_k: float
    whole_w_k: float
    couplings_w_k: tuple[float, ...]
    shares: tuple[float, ...]


class HeatBalance:
    """The temperatures of air, contents and boxes.

    One step is the trapezoidal rule (Crank and Nicolson 1947), solved directly because every node touches the air
    only: second order, stable at any step, and its heat adds up to the last digit.
    """

    def __init__(self, parameters: IncubatorParameters, start_c: float) -> None:
        slopes = {zone.place: zone.stratification for zone in parameters.zones}
        self._air_capacity_j_k = parameters.air_capacity_j_k
        self.stratification = (0.0, *(slopes.get(box.zone, 0.0) for box in parameters.boxes))
        self._capacity_j_k = (parameters.contents_capacity_j_k, *(box.capacity_j_k for box in parameters.boxes))
        self._conductance_w_k = (
            parameters.contents_conductance_w_k,
            *(box.conductance_w_k for box in parameters.boxes),
        )
        self.air_c = start_c
        self.nodes_c = [start_c] * len(self._capacity_j_k)
        self.ledger = HeatLedger()
        self._steps: dict[tuple[float, float], _Step] = {}
        self._begun = (self._prepare(1.0, 0.0), 0.0, 0.0)

    @property
    def stored_j(self) -> float:
        """Heat in all masses, above 0 degree Celsius."""
        nodes_j = sum(capacity * node for capacity, node in zip(self._capacity_j_k, self.nodes_c, strict=True))
        return self._air_capacity_j_k * self.air_c + nodes_j

    def begin(self, dt_s: float, loss_w_k: float, room_c: float) -> tuple[float, float]:
        """Begin a step with a constant room.

        Gives (q, w): with heater power P, the air at the middle of the step is at (q + P)/w degree Celsius.
        """
        step = self._steps.get((dt_s, loss_w_k)) or self._prepare(dt_s, loss_w_k)
        inflow_w = step.air_w_k * self.air_c + step.room_w_k * room_c
        for coupling_w_k, node_c in zip(step.couplings_w_k, self.nodes_c, strict=True):
            inflow_w += coupling_w_k * node_c
        self._begun = step, inflow_w, room_c
        return inflow_w, step.whole_w_k

    def finish(self, heater_w: float) -> None:
        """End the step with a constant heater."""
        step, inflow_w, room_c = self._begun
        middle_c = (inflow_w + heater_w) / step.whole_w_k
        above_c = middle_c - room_c
        nodes_c = self.nodes_c
        for index, share in enumerate(step.shares):
            around_c = middle_c + self.stratification[index] * above_c
            nodes_c[index] += share * (around_c - nodes_c[index])
        self.air_c = 2.0 * middle_c - self.air_c
        self.ledger.heater_j += heater_w * step.dt_s
        self.ledger.lost_j += step.loss_w_k * above_c * step.dt_s

    def _prepare(self, dt_s: float, loss_w_k: float) -> _Step:
        half_shares = [
            conductance / (2.0 * capacity / dt_s + conductance)
            for capacity, conductance in zip(self._capacity_j_k, self._conductance_w_k, strict=True)
        ]
        couplings = tuple(g * (1.0 - b) for g, b in zip(self._conductance_w_k, half_shares, strict=True))
        leaning_w_k = sum(g * s for g, s in zip(couplings, self.stratification, strict=True))
        air_w_k = 2.0 * self._air_capacity_j_k / dt_s
        step = _Step(
            dt_s=dt_s,
            loss_w_k=loss_w_k,
            air_w_k=air_w_k,
            room_w_k=loss_w_k + leaning_w_k,
            whole_w_k=air_w_k + loss_w_k + sum(couplings) + leaning_w_k,
            couplings_w_k=couplings,
            shares=tuple(2.0 * b for b in half_shares),
        )
        if len(self._steps) >= _LARGEST_CACHE:
            self._steps.clear()
        self._steps[dt_s, loss_w_k] = step
        return step
