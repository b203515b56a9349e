"""A simulated probe: what it makes of the true climate at its place, and how it fails."""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

from config.words import Quantity
from sensors.simulation.chance import Seed, standard_normals
from sensors.simulation.events import Conditions
from sensors.simulation.incubator import LocalClimate


@dataclass(frozen=True, slots=True, kw_only=True)
class ProbeCharacter:
    """How far a probe is from ideal. Noise is one standard deviation; steps per unit are its resolution."""

    temperature_noise_k: float = 0.0
    temperature_steps_per_k: int = 100
    temperature_offset_k: float = 0.0
    humidity_noise_pct: float = 0.0
    humidity_steps_per_pct: int = 100
    humidity_offset_pct: float = 0.0
    lag_s: float = 0.0
    """time constant of the first-order lag of the probe's own body"""


ONE_WIRE = ProbeCharacter(temperature_noise_k=0.03, temperature_steps_per_k=16, lag_s=60.0)
"""A digital 1-wire thermometer at 12 bits: 1/16 K (data sheet of the DS18B20, table on resolution)."""
DIGITAL = ProbeCharacter(temperature_noise_k=0.015, humidity_noise_pct=0.15, lag_s=30.0)
"""A digital temperature and humidity element."""


SOUND = Conditions()


class FaultKind(StrEnum):
    """How a probe fails."""

    STUCK = "stuck"
    """gives its last values again and again"""
    POWER_UP = "power-up"
    """85.0: the 1-wire thermometer's register after power-up, before any conversion (data sheet)"""
    DISCONNECTED = "disconnected"
    """-127: what a common microcontroller library returns for a thermometer that does not answer"""
    SILENT = "silent"
    """gives nothing"""


FAULT_VALUES_C: Mapping[FaultKind, float] = {FaultKind.POWER_UP: 85.0, FaultKind.DISCONNECTED: -127.0}


@dataclass(frozen=True, slots=True)
class ProbeFault:
    """One failure, from a moment on, until another or for good. UTC milliseconds since the epoch."""

    kind: FaultKind
    from_ms: int
    until_ms: int | None = None


class SimulatedProbe:
    """One device at one place with one or more channels."""

    def __init__(
        self,
        probe_id: str,
        place: str,
        channels: Mapping[str, Quantity],
        character: ProbeCharacter,
        seed: Seed,
        *,
        interval_ms: int = 60_000,
        faults: Iterable[ProbeFault] = (),
    ) -> None:
        self.probe_id = probe_id
        self.place = place
        self.interval_ms = interval_ms
        self._channels = tuple(channels.items())
        self._normals = standard_normals(seed)
        self._plan = [_plan(name, each, character) for name, each in channels.items() if not each.is_contact]
        self.contacts = tuple((name, each) for name, each in channels.items() if each.is_contact)
        """Channels that say how mains or door are; nothing disturbs them but the faults of the whole probe."""
        self._lag_s = character.lag_s
        self._felt: list[float] = []
        self._felt_ms = 0
        self._faults = list(faults)
        self._last: dict[str, float] = {}

    def fail(self, fault: ProbeFault) -> None:
        """Let the probe fail."""
        self._faults.append(fault)

    def repair(self) -> None:
        """Forget every fault."""
        self._faults.clear()

    def read(self, climate: LocalClimate, at_ms: int, conditions: Conditions = SOUND) -> dict[str, float] | None:
        """Give the values by channel name, degree Celsius and percent; None where the probe gives nothing.

        `conditions` are what contacts say: 1 for mains present and for an open door.
        """
        sound = self._measure(climate, at_ms)
        for name, quantity in self.contacts:
            sound[name] = float(conditions.mains if quantity is Quantity.MAINS else conditions.door_open)
        if not self._faults:
            self._last = sound
            return sound
        return self._spoil(sound, at_ms)

    def _measure(self, climate: LocalClimate, at_ms: int) -> dict[str, float]:
        """Follow the truth with the lag y' = (x - y)/tau, exact for an x that stays for the step; add noise; round."""
        share = 1.0
        if self._lag_s > 0.0 and self._felt:
            share = -math.expm1((self._felt_ms - at_ms) / 1000.0 / self._lag_s)
        if not self._felt:
            self._felt = [climate[plan.field] for plan in self._plan]
        self._felt_ms = at_ms
        values: dict[str, float] = {}
        for index, (name, field, offset, noise, steps, lowest, highest) in enumerate(self._plan):
            felt = self._felt[index]
            felt += share * (climate[field] - felt)
            self._felt[index] = felt
            value = round((felt + offset + noise * next(self._normals)) * steps) / steps
            values[name] = min(max(value, lowest), highest)
        return values

    def _spoil(self, sound: dict[str, float], at_ms: int) -> dict[str, float] | None:
        kinds = {
            fault.kind
            for fault in self._faults
            if fault.from_ms <= at_ms and (fault.until_ms is None or at_ms < fault.until_ms)
        }
        if FaultKind.SILENT in kinds:
            return None
        for kind, fault_c in FAULT_VALUES_C.items():
            if kind in kinds:
                temperatures = [name for name, quantity in self._channels if quantity.is_temperature]
                return dict.fromkeys(temperatures, fault_c) or None
        if FaultKind.STUCK not in kinds or not self._last:
            self._last = sound
        return dict(self._last)


class _Plan(NamedTuple):
    """How one channel is read: where the truth is in a LocalClimate, and what the probe does to it."""

    name: str
    field: int
    offset: float
    noise: float
    steps_per_unit: int
    lowest: float
    highest: float


def _plan(name: str, quantity: Quantity, of: ProbeCharacter) -> _Plan:
    if not quantity.is_temperature:
        offset, noise = of.humidity_offset_pct, of.humidity_noise_pct
        return _Plan(name, 1, offset, noise, of.humidity_steps_per_pct, 0.0, 100.0)
    field = 0 if quantity is Quantity.AIR_TEMPERATURE else 2
    offset, noise = of.temperature_offset_k, of.temperature_noise_k
    return _Plan(name, field, offset, noise, of.temperature_steps_per_k, -math.inf, math.inf)
