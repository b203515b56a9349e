"""Publishes a simulated site as real probes would: over MQTT, each at its interval, on a clock that may run fast."""

import queue
import threading
import time
from collections.abc import Callable, Mapping
from enum import StrEnum
from typing import Literal, Protocol, TypeVar

from config.model import Site
from config.words import Quantity
from sensors.publisher import ProbePublisher
from sensors.secured import Tls
from sensors.simulation.events import Event, EventKind
from sensors.simulation.incubator import IncubatorModel
from sensors.simulation.probes import FaultKind, ProbeFault
from sensors.simulation.run import due_times
from sensors.simulation.world import SimulatedSite

_Word = TypeVar("_Word", bound=StrEnum)

_FLUSH_SECONDS = 5.0
_LONGEST_WAIT_S = 0.5
"""So soon it is noticed that the clock has changed its pace."""
_SENML_UNITS: Mapping[Quantity, str] = {
    Quantity.AIR_TEMPERATURE: "Cel",
    Quantity.SURFACE_TEMPERATURE: "Cel",
    Quantity.RELATIVE_HUMIDITY: "%RH",
    Quantity.MAINS: "/",
    Quantity.DOOR: "/",
}


class Command(StrEnum):
    """What may be done to a simulated incubator while it runs."""

    HEATER_FAILS = "heater-fails"
    HEATER_STICKS_ON = "heater-sticks-on"
    HEATER_RESTORED = "heater-restored"
    MAINS_LOST = "mains-lost"
    MAINS_RESTORED = "mains-restored"
    DOOR_OPENED = "door-opened"
    DOOR_CLOSED = "door-closed"


_BEGINS: Mapping[Command, EventKind] = {
    Command.HEATER_FAILS: EventKind.HEATER_STUCK_OFF,
    Command.HEATER_STICKS_ON: EventKind.HEATER_STUCK_ON,
    Command.MAINS_LOST: EventKind.MAINS_LOST,
    Command.DOOR_OPENED: EventKind.DOOR_OPEN,
}
_ENDS: Mapping[Command, tuple[EventKind, ...]] = {
    Command.HEATER_FAILS: (EventKind.HEATER_STUCK_ON,),
    Command.HEATER_STICKS_ON: (EventKind.HEATER_STUCK_OFF,),
    Command.HEATER_RESTORED: (EventKind.HEATER_STUCK_ON, EventKind.HEATER_STUCK_OFF),
    Command.MAINS_RESTORED: (EventKind.MAINS_LOST,),
    Command.DOOR_CLOSED: (EventKind.DOOR_OPEN,),
}


class Outlet(Protocol):
    """Where one probe's readings go."""

    def start(self) -> None:
        """Begin."""

    def publish(self, measured_at_ms: int, values: Mapping[str, tuple[float, str]]) -> None:
        """Send the values of one moment, each with its SenML unit."""

    def flush(self, timeout_s: float) -> bool:
        """Wait until everything arrived."""

    def stop(self) -> None:
        """End."""


class Feed:
    """Reads the probes of a simulated site when they are due and hands the readings over, in the order of time.

    `now_ms` is the clock, UTC milliseconds since the epoch; `rate` its seconds in one real second, and gives them anew
    each time where the clock may change its pace. Commands may come from any thread; they take effect at the moment of
    the clock at which they were given.
    """

    def __init__(
        self,
        site: Site,
        world: SimulatedSite,
        outlet: Callable[[str], Outlet],
        now_ms: Callable[[], int],
        rate: float | Callable[[], float],
    ) -> None:
        stated = rate if callable(rate) else lambda: rate
        if stated() <= 0:
            raise ValueError(f"the rate is {stated():g}; it has to be above 0, and 1 is real time")
        self._world = world
        self._now_ms = now_ms
        self._rate = stated
        self._outlets = [outlet(probe.id) for probe in site.probes]
        self._units = [
            {channel.name: _SENML_UNITS[channel.quantity] for channel in probe.channels} for probe in site.probes
        ]
        self._orders: queue.SimpleQueue[Callable[[], None]] = queue.SimpleQueue()

    def command(self, incubator_id: str, kind: Command | str) -> None:
        """Let something happen to an incubator now. Raises ValueError for one that is not there, or no such command."""
        model = self._world.models.get(incubator_id)
        if model is None:
            raise ValueError(f"there is no incubator {incubator_id!r}; there are {', '.join(self._world.models)}")
        command, at_ms = _known(Command, kind), self._now_ms()
        self._orders.put(lambda: _apply(model, command, at_ms))

    def fail_probe(self, probe_id: str, kind: FaultKind | str | None) -> None:
        """Let a probe fail from now on, or with None be sound again. Raises ValueError as `command` does."""
        probe = next((probe for probe in self._world.probes if probe.probe_id == probe_id), None)
        if probe is None:
            known = ", ".join(probe.probe_id for probe in self._world.probes)
            raise ValueError(f"there is no probe {probe_id!r}; there are {known}")
        if kind is None:
            self._orders.put(probe.repair)
            return
        fault = ProbeFault(_known(FaultKind, kind), self._now_ms())
        self._orders.put(lambda: probe.fail(fault))

    def run(self, stop: threading.Event, duration_s: float | None = None) -> None:
        """Feed until `stop` is set, or for `duration_s` seconds of the clock. Late readings follow at once, in order.

        Begins where the world stands: at its start, or where a history read from it has ended.
        """
        start_ms = self._world.at_ms
        for outlet in self._outlets:
            outlet.start()
        try:
            for due_ms, index in due_times([probe.interval_ms for probe in self._world.probes], start_ms):
                if duration_s is not None and due_ms >= start_ms + duration_s * 1000:
                    return
                if not self._wait_until(due_ms, stop):
                    return
                self._obey()
                values = self._world.read(index, due_ms)
                if values is not None:
                    units = self._units[index]
                    self._outlets[index].publish(due_ms, {name: (value, units[name]) for name, value in values.items()})
        finally:
            deadline = time.monotonic() + _FLUSH_SECONDS
            for outlet in self._outlets:
                outlet.flush(max(0.0, deadline - time.monotonic()))
                outlet.stop()

    def _wait_until(self, due_ms: int, stop: threading.Event) -> bool:
        while (early_ms := due_ms - self._now_ms()) > 0:
            if stop.wait(min(early_ms / 1000 / self._rate(), _LONGEST_WAIT_S)):
                return False
        return not stop.is_set()

    def _obey(self) -> None:
        while not self._orders.empty():
            self._orders.get()()


def run_feed(
    site: Site,
    host: str,
    port: int,
    *,
    seed: int,
    rate: float,
    now_ms: Callable[[], int],
    stop: threading.Event,
    duration_s: float | None = None,
    set_points_c: Mapping[str, float] | None = None,
    username: str | None = None,
    password: str | None = None,
    protocol: Literal["5", "3.1.1"] = "5",
    tls: Tls | None = None,
) -> None:
    """Simulate a site and publish it to a real broker until told to stop.

    Every probe of the site is published as SenML on its own topic, those with foreign sources too: the site accepts
    SenML from each of its probes.
    """

    def outlet(probe_id: str) -> Outlet:
        return ProbePublisher(probe_id, host, port, username=username, password=password, protocol=protocol, tls=tls)

    world = SimulatedSite(site, now_ms(), seed=seed, set_points_c=set_points_c)
    Feed(site, world, outlet, now_ms, rate).run(stop, duration_s)


def _known(words: type[_Word], word: str) -> _Word:
    try:
        return words(word)
    except ValueError:
        raise ValueError(f"{word!r} is none of {', '.join(words)}") from None


def _apply(model: IncubatorModel, command: Command, at_ms: int) -> None:
    for ended in _ENDS.get(command, ()):
        model.end(ended, at_ms)
    if command in _BEGINS:
        model.add(Event(at_ms, _BEGINS[command]))
