"""The room around a simulated incubator."""

import math
from collections.abc import Iterator

from sensors.simulation.moist_air import equilibrium_density_kg_m3
from sensors.simulation.parameters import RoomParameters

_DAY_MS = 86_400_000


class Room:
    """A daily swing and a slow wander around a mean."""

    def __init__(self, parameters: RoomParameters, normals: Iterator[float]) -> None:
        self._parameters = parameters
        self._normals = normals
        self._wander_k = 0.0
        self._step_s = self._kept = self._fresh_k = 0.0
        share = parameters.relative_humidity_pct / 100.0
        self.vapour_kg_m3 = share * equilibrium_density_kg_m3(parameters.mean_c, parameters.mean_c)

    def advance(self, at_ms: int, dt_s: float) -> float:
        """Give the temperature over the step of `dt_s` that begins at `at_ms`, degree Celsius.

        The wander is an Ornstein-Uhlenbeck process in its exact discrete form (Gillespie, Phys. Rev. E 54 (1996)
        2084): its spread does not depend on the step.
        """
        parameters = self._parameters
        if parameters.wander_k:
            if dt_s != self._step_s:
                self._step_s = dt_s
                self._kept = math.exp(-dt_s / parameters.wander_memory_s)
                self._fresh_k = parameters.wander_k * math.sqrt(1.0 - self._kept * self._kept)
            self._wander_k = self._kept * self._wander_k + self._fresh_k * next(self._normals)
        phase = 2.0 * math.pi * (at_ms / _DAY_MS - parameters.warmest_hour_utc / 24.0)
        return parameters.mean_c + parameters.swing_k * math.cos(phase) + self._wander_k
