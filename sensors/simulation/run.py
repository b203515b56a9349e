"""Readings in the order of time, for a history at once and for a live feed alike."""

import heapq
from collections.abc import Iterator, Sequence

from sensors.simulation.incubator import IncubatorModel
from sensors.simulation.probes import SimulatedProbe

Measured = tuple[int, str, dict[str, float]]
"""When (UTC milliseconds since the epoch), which probe, its values by channel name."""


def due_times(intervals_ms: Sequence[int], start_ms: int) -> Iterator[tuple[int, int]]:
    """For ever: when the next probe is due, and which by its index. Each keeps to its own grid from the start on."""
    waiting = [(start_ms, index) for index in range(len(intervals_ms))]
    while waiting:
        due_ms, index = waiting[0]
        yield due_ms, index
        heapq.heapreplace(waiting, (due_ms + intervals_ms[index], index))


def simulate(model: IncubatorModel, probes: Sequence[SimulatedProbe], start_ms: int, end_ms: int) -> Iterator[Measured]:
    """Read the probes of one incubator from `start_ms` until just before `end_ms`. A silent probe is left out."""
    for due_ms, index in due_times([probe.interval_ms for probe in probes], start_ms):
        if due_ms >= end_ms:
            return
        probe = probes[index]
        model.advance_to(due_ms)
        values = probe.read(model.climate(probe.place), due_ms, model.conditions)
        if values is not None:
            yield due_ms, probe.probe_id, values
