"""Broker, clock and disk of the machine that watches. A look reads nothing but memory: microseconds."""

from collections.abc import Callable, Iterator
from zoneinfo import ZoneInfo

from config.site import Site
from config.words import AlarmKind
from daemon.standing import machine
from daemon.standing.found import Found
from daemon.standing.machine import MachineFacts
from daemon.standing_sources.source import Moment


class MachineSource:
    """Judges what `facts` says of the machine; `facts` must not wait for anything."""

    kinds = frozenset({AlarmKind.BROKER_LOST, AlarmKind.CLOCK_STEPPED, AlarmKind.DISK_LOW})
    every_ms = 5_000

    def __init__(self, site: Site, facts: Callable[[], MachineFacts]) -> None:
        self._zone = ZoneInfo(site.time_zone)
        self._facts = facts

    def found(self, moment: Moment) -> Iterator[Found]:
        """What is wrong with the machine at this moment."""
        facts = self._facts()
        clock_on = moment.is_on(AlarmKind.CLOCK_STEPPED, "clock")
        all_of = (
            machine.broker_lost(facts.broker, starting=facts.starting),
            machine.clock_stepped(facts.clock_sets, facts.up_ms, moment.now_ms, self._zone, on=clock_on),
            machine.disk_low(facts.disk, on=moment.is_on(AlarmKind.DISK_LOW, "disk")),
        )
        return (each for each in all_of if each is not None)
